package android.os;

public final class PowerManager {
    public static final int PARTIAL_WAKE_LOCK = 1;
    public static volatile int pretendHeld;

    public WakeLock newWakeLock(int kind, String tag) {
        if (kind != PARTIAL_WAKE_LOCK) throw new IllegalArgumentException("the screen would stay on");
        return new WakeLock();
    }

    public boolean isIgnoringBatteryOptimizations(String packageName) { return false; }

    public final class WakeLock {
        private boolean held;

        public void acquire(long ms) { held = true; pretendHeld++; }
        public void release() { held = false; pretendHeld--; }
        public boolean isHeld() { return held; }
    }
}
