package android.media.session;

import android.content.Context;
import android.content.Intent;
import android.os.Handler;
import android.view.KeyEvent;

public final class MediaSession {
    public static volatile MediaSession pretendLast;
    private Callback callback;
    private boolean active;

    public MediaSession(Context context, String tag) { pretendLast = this; }

    public void setCallback(Callback c, Handler h) { callback = c; }
    public void setPlaybackState(PlaybackState s) {}
    public void setActive(boolean on) { active = on; }
    public void release() { active = false; }

    public boolean pretendPress(long ms, int action, int code) {
        if (!active) return false;
        Intent intent = new Intent("android.intent.action.MEDIA_BUTTON");
        intent.pretendKey = new KeyEvent(ms, ms, action, code, 0);
        return callback.onMediaButtonEvent(intent);
    }

    public abstract static class Callback {
        public Callback() {}
        public boolean onMediaButtonEvent(Intent intent) { return false; }
    }
}
