package android.os;

public class Process {
    public static final int THREAD_PRIORITY_AUDIO = -16;
    public static final int THREAD_PRIORITY_URGENT_AUDIO = -19;
    public static volatile boolean pretendKilled;

    public static final void setThreadPriority(int priority) {}
    public static final int myPid() { return 1; }
    public static final void killProcess(int pid) { pretendKilled = true; }
}
