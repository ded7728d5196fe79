package android.util;

public final class Log {
    Log() {}

    public static int w(String tag, String text, Throwable why) {
        System.err.println(tag + ": " + text + ": " + why);
        return 0;
    }
}
