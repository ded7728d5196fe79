package android.os;

public class HandlerThread extends Thread {
    private final Looper looper = new Looper();
    private volatile boolean quitting;

    public HandlerThread(String name) { super(name); setDaemon(true); }
    public HandlerThread(String name, int priority) { this(name); }

    public Looper getLooper() { return looper; }

    public boolean quitSafely() {
        quitting = true;
        looper.pretendQueue.offer(new Runnable() { @Override public void run() {} });
        return true;
    }

    @Override public void run() {
        try {
            while (!quitting || !looper.pretendQueue.isEmpty()) looper.pretendQueue.take().run();
        } catch (InterruptedException e) {
            return;
        }
    }
}
