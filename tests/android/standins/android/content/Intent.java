package android.content;

import android.os.Bundle;
import android.os.Parcelable;
import android.view.KeyEvent;

public class Intent {
    public static final String EXTRA_KEY_EVENT = "android.intent.extra.KEY_EVENT";
    public KeyEvent pretendKey;
    private String action;
    private final Bundle extras = new Bundle();

    public Intent() {}
    public Intent(String action) { this.action = action; }
    public Intent(Context context, Class<?> type) {}

    public String getAction() { return action; }
    public Intent setAction(String action) { this.action = action; return this; }
    public Bundle getExtras() { return extras; }
    public Intent putExtra(String key, String value) { extras.putString(key, value); return this; }

    @SuppressWarnings("unchecked")
    public <T extends Parcelable> T getParcelableExtra(String name) { return (T) pretendKey; }
}
