package cadencecoach.phone;

import android.content.Context;
import android.hardware.Sensor;
import android.hardware.SensorEvent;
import android.hardware.SensorEventListener;
import android.hardware.SensorManager;
import android.os.Handler;
import android.os.HandlerThread;
import android.os.Process;
import android.os.SystemClock;
import java.nio.ByteBuffer;

/**
 * Accelerometer and, where there is one, gyroscope: collected on a thread of their own, drained by Python in blocks.
 *
 * <p>A record is 32 bytes: int64 the event's own stamp [ns], int64 elapsedRealtime when it came [ns], 3 x float32
 * (m/s2 or rad/s), int32 kind (0 acceleration, 1 rotation).
 */
public final class SensorBatcher implements SensorEventListener {
    private static final int RECORD = 32;

    private final SensorManager manager;
    private final Sensor accelerometer;
    private final Sensor gyroscope;
    private final Ring ring;
    private final ByteBuffer record;
    private HandlerThread thread;

    public SensorBatcher(Context context, int capacity) {
        manager = (SensorManager) context.getSystemService(Context.SENSOR_SERVICE);
        accelerometer = manager.getDefaultSensor(Sensor.TYPE_ACCELEROMETER);
        gyroscope = manager.getDefaultSensor(Sensor.TYPE_GYROSCOPE);
        ring = new Ring(RECORD, capacity);
        record = ring.record();
    }

    public boolean hasAccelerometer() {
        return accelerometer != null;
    }

    public boolean hasGyroscope() {
        return gyroscope != null;
    }

    /** Largest acceleration the sensor can tell [m/s2]. */
    public float range() {
        return accelerometer.getMaximumRange();
    }

    public String name() {
        return accelerometer.getVendor() + " " + accelerometer.getName();
    }

    /** Starts both sensors. maxLatencyUs 0: each event as it happens, no batching in the sensor itself. */
    public boolean start(int periodUs, int maxLatencyUs) {
        if (accelerometer == null || thread != null) {
            return false;
        }
        thread = new HandlerThread("coach-sensors", Process.THREAD_PRIORITY_AUDIO);
        thread.start();
        Handler handler = new Handler(thread.getLooper());
        boolean runs = manager.registerListener(this, accelerometer, periodUs, maxLatencyUs, handler);
        if (runs && gyroscope != null) {
            manager.registerListener(this, gyroscope, periodUs, maxLatencyUs, handler);
        }
        if (!runs) {
            stop();
        }
        return runs;
    }

    public void stop() {
        manager.unregisterListener(this);
        if (thread != null) {
            thread.quitSafely();
            thread = null;
        }
    }

    @Override
    public void onSensorChanged(SensorEvent event) {
        record.clear();
        record.putLong(event.timestamp).putLong(SystemClock.elapsedRealtimeNanos());
        record.putFloat(event.values[0]).putFloat(event.values[1]).putFloat(event.values[2]);
        record.putInt(event.sensor.getType() == Sensor.TYPE_GYROSCOPE ? 1 : 0);
        ring.put(record);
    }

    @Override
    public void onAccuracyChanged(Sensor sensor, int accuracy) {}

    public byte[] drain() {
        return ring.drain();
    }
}
