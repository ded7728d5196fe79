package android.os;

import java.util.concurrent.LinkedBlockingQueue;

public final class Looper {
    private static final Looper MAIN = new Looper();
    final LinkedBlockingQueue<Runnable> pretendQueue = new LinkedBlockingQueue<Runnable>();

    Looper() {}

    public static Looper getMainLooper() { return MAIN; }
}
