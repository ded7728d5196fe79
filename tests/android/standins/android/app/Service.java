package android.app;

import android.content.ContextWrapper;
import android.content.Intent;
import android.os.IBinder;

public abstract class Service extends ContextWrapper {
    public static final int START_STICKY = 1;
    public static final int START_NOT_STICKY = 2;
    public static final int STOP_FOREGROUND_REMOVE = 1;
    public static final int STOP_FOREGROUND_DETACH = 2;
    /** Types of the last startForeground; -1 before. */
    public volatile int pretendTypes = -1;
    /** As newer releases do when the app is out of sight: this type is refused. */
    public static volatile int pretendRefused;
    public volatile boolean pretendStopped;
    /** The latest start that Android has sent, delivered or on its way. */
    public volatile int pretendNewest;

    public Service() { super(null); }

    public void onCreate() {}
    public int onStartCommand(Intent intent, int flags, int startId) { return START_STICKY; }
    public abstract IBinder onBind(Intent intent);
    public void onTaskRemoved(Intent root) {}
    public void onDestroy() {}
    public final void stopSelf() { stopSelfResult(-1); }

    /** False when a newer start has been sent. A notification still in the foreground goes with the service. */
    public final boolean stopSelfResult(int startId) {
        if (startId >= 0 && startId != pretendNewest) return false;
        if (pretendTypes != -1) stopForeground(STOP_FOREGROUND_REMOVE);
        pretendStopped = true;
        return true;
    }

    public final void stopForeground(int how) {
        pretendTypes = -1;
        if (how == STOP_FOREGROUND_REMOVE) NotificationManager.pretendOnly.pretendShown = null;
    }

    public final void startForeground(int id, Notification note) { startForeground(id, note, 0); }

    public final void startForeground(int id, Notification note, int types) {
        if ((types & pretendRefused) != 0) throw new SecurityException("not allowed from the background");
        pretendTypes = types;
        NotificationManager.pretendOnly.pretendShown = note;
    }
}
