package cadencecoach.phone;

import android.Manifest;
import android.app.Notification;
import android.app.NotificationChannel;
import android.app.NotificationManager;
import android.app.PendingIntent;
import android.content.Context;
import android.content.Intent;
import android.content.pm.PackageManager;
import android.content.pm.ServiceInfo;
import android.graphics.drawable.Icon;
import android.os.Build;
import android.os.Bundle;
import android.os.PowerManager;
import android.util.Log;
import org.kivy.android.PythonService;

/**
 * The engine's own process: in the foreground, so that sensors, satellite and sound go on with the screen off, and
 * awake by a partial wake lock (the screen stays dark). Its notification is what the rider sees of it; "End" there is a
 * wish that Python asks for with endAsked(): it closes the outing first, because onDestroy() kills the process.
 *
 * <p>Android starts it anew whenever its process goes, until over() was called: PythonService's own stopSelf() is never
 * reached, as python-for-android ends the process when Python has run.
 */
public class CoachService extends PythonService {
    public static final String END = "cadencecoach.phone.END";

    private static final String CHANNEL = "outing";
    private static final long LOCK_MS = 12 * 3600 * 1000L;

    private PowerManager.WakeLock lock;
    boolean started; // the tests' stand-in for Android sets it: it starts no Python
    private volatile boolean endAsked;
    private String title = "";
    private String plan = "";
    private int newest;

    /** The service of this process, or null. */
    public static CoachService running() {
        return (CoachService) mService;
    }

    @Override
    public void onCreate() {
        super.onCreate();
        PowerManager power = (PowerManager) getSystemService(Context.POWER_SERVICE);
        lock = power.newWakeLock(PowerManager.PARTIAL_WAKE_LOCK, "cadencecoach:outing");
        lock.acquire(LOCK_MS);
    }

    @Override
    public synchronized int onStartCommand(Intent intent, int flags, int startId) {
        newest = startId;
        if (intent != null && END.equals(intent.getAction())) {
            endAsked = true;
            if (!started) {
                stopSelf();
            }
            return START_NOT_STICKY;
        }
        if (started && intent != null) { // Python is still busy with the plan before, and asks for this one
            Bundle extras = intent.getExtras();
            plan = extras.getString("pythonServiceArgument", "");
            endAsked = false;
            doStartForeground(extras); // Android insists on it after each start
            return startType();
        }
        started = true;
        return super.onStartCommand(intent, flags, startId);
    }

    @Override
    protected void doStartForeground(Bundle extras) {
        NotificationManager notes = (NotificationManager) getSystemService(Context.NOTIFICATION_SERVICE);
        title = extras.getString("serviceTitle", "");
        notes.createNotificationChannel(
                new NotificationChannel(CHANNEL, word("coach_channel", title), NotificationManager.IMPORTANCE_LOW));
        Notification note = note(word("coach_listens", "Listening"), true);
        if (Build.VERSION.SDK_INT < 29) {
            startForeground(getServiceId(), note);
            return;
        }
        int types = ServiceInfo.FOREGROUND_SERVICE_TYPE_MEDIA_PLAYBACK;
        boolean located =
                checkSelfPermission(Manifest.permission.ACCESS_FINE_LOCATION) == PackageManager.PERMISSION_GRANTED;
        try {
            startForeground(
                    getServiceId(), note, located ? types | ServiceInfo.FOREGROUND_SERVICE_TYPE_LOCATION : types);
        } catch (RuntimeException e) {
            // Started again by the system with the app out of sight: newer releases refuse the location type then.
            startOrGoOn(note, types);
        }
    }

    private void startOrGoOn(Notification note, int types) {
        try {
            startForeground(getServiceId(), note, types);
        } catch (RuntimeException e) {
            Log.w("coach", "not in the foreground: the system may end this process at any time", e);
        }
    }

    private String word(String name, String otherwise) {
        int id = getResources().getIdentifier(name, "string", getPackageName());
        return id == 0 ? otherwise : getString(id);
    }

    private Notification note(String text, boolean running) {
        int icon = getResources().getIdentifier("stat_coach", "drawable", getPackageName());
        int kind = PendingIntent.FLAG_IMMUTABLE | PendingIntent.FLAG_UPDATE_CURRENT;
        Intent open = getPackageManager().getLaunchIntentForPackage(getPackageName());
        Intent end = new Intent(this, getClass()).setAction(END);
        Notification.Builder made =
                new Notification.Builder(this, CHANNEL)
                        .setSmallIcon(icon != 0 ? icon : getApplicationInfo().icon)
                        .setContentTitle(title)
                        .setContentText(text)
                        .setStyle(new Notification.BigTextStyle().bigText(text))
                        .setOngoing(running)
                        .setAutoCancel(!running)
                        .setOnlyAlertOnce(true)
                        .setCategory(Notification.CATEGORY_SERVICE)
                        .setVisibility(Notification.VISIBILITY_PUBLIC);
        if (running) {
            made.addAction(
                    new Notification.Action.Builder(
                                    Icon.createWithResource(this, getApplicationInfo().icon),
                                    word("coach_end", "End"),
                                    PendingIntent.getService(this, 1, end, kind))
                            .build());
        }
        if (open != null) {
            made.setContentIntent(PendingIntent.getActivity(this, 0, open, kind));
        }
        return made.build();
    }

    /** Puts a line into the notification. */
    public void say(String text) {
        show(note(text, true));
    }

    private void show(Notification note) {
        NotificationManager notes = (NotificationManager) getSystemService(Context.NOTIFICATION_SERVICE);
        notes.notify(getServiceId(), note);
    }

    /** The plan that the app has handed over since Python began, or since this was last asked; "" when none. */
    public synchronized String nextPlan() {
        String next = plan;
        plan = "";
        return next;
    }

    /**
     * Python is through: the service ends, so that Android does not start it anew, and the notification stays with a
     * last line ("" takes it away). False when another start has come or is on its way: then nothing has ended.
     */
    public synchronized boolean over(String text) {
        if (!plan.isEmpty()) {
            return false;
        }
        stopForeground(text.isEmpty() ? STOP_FOREGROUND_REMOVE : STOP_FOREGROUND_DETACH); // or it goes with the service
        if (!stopSelfResult(newest)) {
            return false;
        }
        if (!text.isEmpty()) {
            show(note(text, false));
        }
        return true;
    }

    /** Whether "End" in the notification was pressed. */
    public boolean endAsked() {
        return endAsked;
    }

    @Override
    public void onDestroy() {
        if (lock != null && lock.isHeld()) {
            lock.release();
        }
        super.onDestroy();
    }
}
