package cadencecoach.phone;

import android.Manifest;
import android.content.Context;
import android.content.pm.PackageManager;
import android.location.Location;
import android.location.LocationListener;
import android.location.LocationManager;
import android.os.Bundle;
import android.os.HandlerThread;
import android.os.SystemClock;
import java.nio.ByteBuffer;
import java.util.List;

/**
 * Fixes of the satellite receiver alone: a position guessed from radio masts has no speed worth having.
 *
 * <p>A record is 48 bytes: int64 elapsedRealtime when it came [ns], int64 elapsedRealtime when it was true [ns],
 * float64 latitude, float64 longitude [deg], 4 x float32 speed [m/s], its accuracy [m/s], heading [deg], accuracy of
 * the place [m]. What the receiver does not know is NaN.
 */
public final class LocationSink implements LocationListener {
    public static final int WAITING = 0;
    public static final int RUNNING = 1;
    public static final int SWITCHED_OFF = 2;
    public static final int NOT_ALLOWED = 3;
    public static final int NO_RECEIVER = 4;

    private static final int RECORD = 48;

    private final Context context;
    private final LocationManager manager;
    private final Ring ring;
    private final ByteBuffer record;
    private HandlerThread thread;
    private volatile int state = WAITING;

    public LocationSink(Context context, int capacity) {
        this.context = context;
        manager = (LocationManager) context.getSystemService(Context.LOCATION_SERVICE);
        ring = new Ring(RECORD, capacity);
        record = ring.record();
    }

    /** One of the constants above. Outings go on without: speed helps and is never needed. */
    public int state() {
        return state;
    }

    public boolean start(long periodMs) {
        if (manager == null || !manager.getAllProviders().contains(LocationManager.GPS_PROVIDER)) {
            state = NO_RECEIVER;
            return false;
        }
        if (context.checkSelfPermission(Manifest.permission.ACCESS_FINE_LOCATION)
                != PackageManager.PERMISSION_GRANTED) {
            // From 31 on the approximate permission starts the receiver, too: for places by the kilometre, no speed.
            state = NOT_ALLOWED;
            return false;
        }
        thread = new HandlerThread("coach-location");
        thread.start();
        try {
            manager.requestLocationUpdates(LocationManager.GPS_PROVIDER, periodMs, 0f, this, thread.getLooper());
        } catch (SecurityException e) {
            state = NOT_ALLOWED;
            stop();
            return false;
        }
        if (!manager.isProviderEnabled(LocationManager.GPS_PROVIDER)) {
            state = SWITCHED_OFF;
        }
        return true;
    }

    public void stop() {
        if (thread != null) {
            manager.removeUpdates(this);
            thread.quitSafely();
            thread = null;
        }
    }

    @Override
    public void onLocationChanged(Location fix) {
        record.clear();
        record.putLong(SystemClock.elapsedRealtimeNanos()).putLong(fix.getElapsedRealtimeNanos());
        record.putDouble(fix.getLatitude()).putDouble(fix.getLongitude());
        record.putFloat(fix.hasSpeed() ? fix.getSpeed() : Float.NaN);
        record.putFloat(fix.hasSpeedAccuracy() ? fix.getSpeedAccuracyMetersPerSecond() : Float.NaN);
        record.putFloat(fix.hasBearing() ? fix.getBearing() : Float.NaN);
        record.putFloat(fix.hasAccuracy() ? fix.getAccuracy() : Float.NaN);
        ring.put(record);
        state = RUNNING;
    }

    /** Several fixes at once: newer releases call this one (it is not in API 29, so no Override). */
    public void onLocationChanged(List<Location> fixes) {
        for (int i = 0; i < fixes.size(); i++) {
            onLocationChanged(fixes.get(i));
        }
    }

    /** Newer releases call this after a batch (not in API 29, so no Override). */
    public void onFlushComplete(int requestCode) {}

    @Override
    public void onStatusChanged(String provider, int status, Bundle extras) {}

    @Override
    public void onProviderEnabled(String provider) {
        state = WAITING;
    }

    @Override
    public void onProviderDisabled(String provider) {
        state = SWITCHED_OFF;
    }

    public byte[] drain() {
        return ring.drain();
    }
}
