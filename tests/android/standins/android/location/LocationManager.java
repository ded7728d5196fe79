package android.location;

import android.os.Looper;
import android.os.SystemClock;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.List;

public class LocationManager {
    public static final String GPS_PROVIDER = "gps";
    public static boolean pretendAllowed = true, pretendEnabled = true, pretendReceiver = true;
    public static float pretendPlaceAccuracy = 4f;
    private LocationListener listener;

    public List<String> getAllProviders() {
        return pretendReceiver ? Arrays.asList("network", GPS_PROVIDER) : Arrays.asList("network");
    }

    public boolean isProviderEnabled(String provider) { return pretendEnabled; }

    public void requestLocationUpdates(String provider, long minMs, float minM, LocationListener l, Looper looper) {
        if (!pretendAllowed) throw new SecurityException("ACCESS_FINE_LOCATION");
        if (!GPS_PROVIDER.equals(provider) || looper == null) throw new IllegalArgumentException();
        listener = l;
    }

    public void removeUpdates(LocationListener l) { listener = null; }

    /** One fix, true `ageNs` ago; speed NaN for a fix without one. `asList`: delivered as newer releases do. */
    public void pretendFix(double lat, double lon, float speed, float accuracy, long ageNs, boolean asList) {
        if (listener == null) return;
        Location fix = new Location(GPS_PROVIDER);
        fix.pretendLat = lat;
        fix.pretendLon = lon;
        fix.pretendSpeed = speed;
        fix.pretendSpeedAccuracy = accuracy;
        fix.pretendAccuracy = pretendPlaceAccuracy;
        fix.pretendNanos = SystemClock.elapsedRealtimeNanos() - ageNs;
        if (asList) listener.onLocationChanged(new ArrayList<Location>(Arrays.asList(fix)));
        else listener.onLocationChanged(fix);
    }

    public void pretendSwitch(boolean on) {
        if (on) listener.onProviderEnabled(GPS_PROVIDER);
        else listener.onProviderDisabled(GPS_PROVIDER);
    }
}
