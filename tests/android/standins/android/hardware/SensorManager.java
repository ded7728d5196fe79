package android.hardware;

import android.os.Handler;
import android.os.SystemClock;
import java.nio.ByteBuffer;
import java.nio.ByteOrder;
import java.util.concurrent.CountDownLatch;

/** Delivers on the listener's own handler thread, as the system does: one event object, used again for each event. */
public class SensorManager {
    public static boolean pretendGyroscope = true;
    public static boolean pretendRefusal;
    public int pretendPeriodUs;
    private SensorEventListener listener;
    private Handler handler;
    private final Sensor accelerometer = new Sensor(Sensor.TYPE_ACCELEROMETER);
    private final Sensor gyroscope = new Sensor(Sensor.TYPE_GYROSCOPE);
    private int registered;

    public Sensor getDefaultSensor(int type) {
        if (type == Sensor.TYPE_GYROSCOPE) return pretendGyroscope ? gyroscope : null;
        return accelerometer;
    }

    public boolean registerListener(SensorEventListener l, Sensor s, int periodUs, int maxLatencyUs, Handler h) {
        if (pretendRefusal) return false;
        if (s == null || h == null) throw new IllegalArgumentException();
        listener = l;
        handler = h;
        pretendPeriodUs = periodUs;
        registered++;
        return true;
    }

    public void unregisterListener(SensorEventListener l) {
        listener = null;
        registered = 0;
    }

    public int pretendRegistered() { return registered; }

    /**
     * Events packed as int64 time since boot at which it comes, int64 stamp, 3 x float32, int32 kind, one after the
     * other; returns when the handler's thread has seen them all. The time since boot moves along with them.
     */
    public void pretendEvents(byte[] packed) throws InterruptedException {
        final ByteBuffer b = ByteBuffer.wrap(packed).order(ByteOrder.LITTLE_ENDIAN);
        final CountDownLatch done = new CountDownLatch(1);
        handler.post(new Runnable() {
            @Override public void run() {
                SensorEvent e = new SensorEvent();
                while (b.hasRemaining()) {
                    SystemClock.pretendNanos = b.getLong();
                    e.timestamp = b.getLong();
                    for (int i = 0; i < 3; i++) e.values[i] = b.getFloat();
                    e.sensor = b.getInt() == 1 ? gyroscope : accelerometer;
                    if (listener != null) listener.onSensorChanged(e);
                }
                done.countDown();
            }
        });
        done.await();
    }
}
