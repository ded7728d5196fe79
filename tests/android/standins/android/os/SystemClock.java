package android.os;

public final class SystemClock {
    /** Time since boot; 0: the machine's own monotonic clock and an hour. */
    public static volatile long pretendNanos;

    private SystemClock() {}

    public static long elapsedRealtimeNanos() {
        return pretendNanos != 0 ? pretendNanos : System.nanoTime() + 3600L * 1000000000L;
    }

    public static void sleep(long ms) {
        try {
            Thread.sleep(ms);
        } catch (InterruptedException e) {
            Thread.currentThread().interrupt();
        }
    }
}
