package cadencecoach.phone;

import android.app.Activity;
import android.content.Context;
import android.content.Intent;
import android.content.pm.PackageManager;
import android.os.Build;
import android.os.PowerManager;
import android.os.SystemClock;
import android.provider.Settings;
import org.kivy.android.PythonActivity;
import org.kivy.android.PythonService;

/** Small questions to the phone that need no listener. */
public final class Phone {
    private Phone() {}

    /** The service that this process is, or the activity in front. */
    public static Context context() {
        return PythonService.mService != null ? PythonService.mService : PythonActivity.mActivity;
    }

    /** {monotonic, elapsedRealtime, monotonic} in ns, read one after the other: the offset and how well it is known. */
    public static long[] clocks() {
        long before = System.nanoTime();
        long elapsed = SystemClock.elapsedRealtimeNanos();
        return new long[] {before, elapsed, System.nanoTime()};
    }

    public static String model() {
        return Build.MANUFACTURER + " " + Build.MODEL + ", Android " + Build.VERSION.RELEASE;
    }

    public static int release() {
        return Build.VERSION.SDK_INT;
    }

    public static boolean allowed(Context context, String permission) {
        return context.checkSelfPermission(permission) == PackageManager.PERMISSION_GRANTED;
    }

    /** Asks the rider; the answer is seen by asking allowed() again. */
    public static void ask(Activity activity, String[] permissions) {
        activity.requestPermissions(permissions, 1);
    }

    /** Whether the battery saver leaves the coach alone. */
    public static boolean spared(Context context) {
        PowerManager power = (PowerManager) context.getSystemService(Context.POWER_SERVICE);
        return power.isIgnoringBatteryOptimizations(context.getPackageName());
    }

    /** Opens the list in which the rider exempts the coach from the battery saver. */
    public static void openBatterySettings(Context context) {
        Intent list = new Intent(Settings.ACTION_IGNORE_BATTERY_OPTIMIZATION_SETTINGS);
        context.startActivity(list.addFlags(Intent.FLAG_ACTIVITY_NEW_TASK));
    }
}
