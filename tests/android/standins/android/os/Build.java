package android.os;

public class Build {
    public static final String MANUFACTURER = String.valueOf("nobody");
    public static final String MODEL = String.valueOf("stand-in");

    public static class VERSION {
        public static final int SDK_INT = Integer.getInteger("standin.sdk", 34);
        public static final String RELEASE = String.valueOf("14");
    }

    public static class VERSION_CODES {
        public static final int O = 26;
    }
}
