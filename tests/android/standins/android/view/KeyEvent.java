package android.view;

public class KeyEvent implements android.os.Parcelable {
    public static final int ACTION_DOWN = 0;
    public static final int ACTION_UP = 1;
    private final int action, code, repeat;
    private final long when;

    public KeyEvent(long downMs, long eventMs, int action, int code, int repeat) {
        this.when = eventMs;
        this.action = action;
        this.code = code;
        this.repeat = repeat;
    }

    public final int getAction() { return action; }
    public final int getKeyCode() { return code; }
    public final int getRepeatCount() { return repeat; }
    public final long getEventTime() { return when; }
}
