package android.media;

public class AudioManager {
    public static final int STREAM_MUSIC = 3;
    public static volatile int pretendVolume = 9;

    public int getStreamMaxVolume(int stream) { return 15; }
    public int getStreamVolume(int stream) { return pretendVolume; }
}
