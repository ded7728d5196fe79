package android.app;

import android.content.ContextWrapper;
import android.content.Intent;
import android.os.IBinder;

public abstract class Service extends ContextWrapper {
    public static final int START_STICKY = 1;
    public static final int START_NOT_STICKY = 2;
    /** Types of the last startForeground; -1 before. */
    public volatile int pretendTypes = -1;
    /** As newer releases do when the app is out of sight: this type is refused. */
    public static volatile int pretendRefused;
    public volatile boolean pretendStopped;

    public Service() { super(null); }

    public void onCreate() {}
    public int onStartCommand(Intent intent, int flags, int startId) { return START_STICKY; }
    public abstract IBinder onBind(Intent intent);
    public void onTaskRemoved(Intent root) {}
    public void onDestroy() {}
    public final void stopSelf() { pretendStopped = true; }

    public final void startForeground(int id, Notification note) { startForeground(id, note, 0); }

    public final void startForeground(int id, Notification note, int types) {
        if ((types & pretendRefused) != 0) throw new SecurityException("not allowed from the background");
        pretendTypes = types;
        NotificationManager.pretendOnly.pretendShown = note;
    }
}
