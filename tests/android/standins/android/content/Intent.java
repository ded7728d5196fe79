package android.content;

import android.net.Uri;
import android.os.Bundle;
import android.os.Parcelable;
import android.view.KeyEvent;

public class Intent {
    public static final String EXTRA_KEY_EVENT = "android.intent.extra.KEY_EVENT";
    public KeyEvent pretendKey;
    private String action;
    private final Bundle extras = new Bundle();

    public static final String ACTION_SEND = "android.intent.action.SEND";
    public static final String EXTRA_STREAM = "android.intent.extra.STREAM";
    public static final int FLAG_GRANT_READ_URI_PERMISSION = 1;
    public static final int FLAG_ACTIVITY_NEW_TASK = 268435456;
    public int pretendFlags;
    public String pretendType;
    public Uri pretendStream;
    public Intent pretendInner;

    public Intent() {}
    public Intent setType(String type) { pretendType = type; return this; }
    public Intent addFlags(int flags) { pretendFlags |= flags; return this; }
    public void setClipData(ClipData clip) {}
    public Intent putExtra(String key, Parcelable value) { pretendStream = (Uri) value; return this; }

    public static Intent createChooser(Intent what, CharSequence title) {
        Intent made = new Intent("android.intent.action.CHOOSER");
        made.pretendInner = what;
        return made;
    }

    public Intent(String action) { this.action = action; }
    public Intent(Context context, Class<?> type) {}

    public String getAction() { return action; }
    public Intent setAction(String action) { this.action = action; return this; }
    public Bundle getExtras() { return extras; }
    public Intent putExtra(String key, String value) { extras.putString(key, value); return this; }

    @SuppressWarnings("unchecked")
    public <T extends Parcelable> T getParcelableExtra(String name) { return (T) pretendKey; }
}
