package android.content;

import android.content.pm.ApplicationInfo;
import android.content.pm.PackageManager;
import android.content.res.Resources;
import android.hardware.SensorManager;
import android.location.LocationManager;
import android.media.AudioManager;
import android.os.PowerManager;
import java.io.File;
import java.util.Set;
import java.util.concurrent.ConcurrentHashMap;

public abstract class Context {
    public static final String SENSOR_SERVICE = "sensor";
    public static final String LOCATION_SERVICE = "location";
    public static final String AUDIO_SERVICE = "audio";
    public static final String POWER_SERVICE = "power";
    public static final String NOTIFICATION_SERVICE = "notification";
    public static final SensorManager pretendSensors = new SensorManager();
    public static final LocationManager pretendLocation = new LocationManager();
    public static volatile Intent pretendStarted;
    public static final Set<String> pretendDenied = ConcurrentHashMap.newKeySet();
    public static volatile boolean pretendPlaceless = false;
    private static final AudioManager AUDIO = new AudioManager();
    private static final PowerManager POWER = new PowerManager();

    public Context() {}

    public Object getSystemService(String name) {
        if (SENSOR_SERVICE.equals(name)) return pretendSensors;
        if (LOCATION_SERVICE.equals(name)) return pretendPlaceless ? null : pretendLocation;
        if (AUDIO_SERVICE.equals(name)) return AUDIO;
        if (POWER_SERVICE.equals(name)) return POWER;
        if (NOTIFICATION_SERVICE.equals(name)) return android.app.NotificationManager.pretendOnly;
        return null;
    }

    public int checkSelfPermission(String permission) {
        return pretendDenied.contains(permission) ? -1 : 0;
    }

    public PackageManager getPackageManager() { return new PackageManager(); }
    public Resources getResources() { return new Resources(); }
    public ApplicationInfo getApplicationInfo() { return new ApplicationInfo(); }
    public final String getString(int id) { return getResources().pretendString(id); }

    public Context getApplicationContext() { return this; }
    public File getFilesDir() { return new File(System.getProperty("standin.files", "/nowhere")); }
    public File getCacheDir() { return new File(getFilesDir(), "cache"); }

    public void startActivity(Intent intent) { pretendStarted = intent; }

    public android.content.ComponentName startService(Intent intent) {
        pretendStarted = intent;
        return null;
    }

    public String getPackageName() { return "cadencecoach.phone"; }
}
