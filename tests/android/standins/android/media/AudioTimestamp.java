package android.media;

public final class AudioTimestamp {
    public long framePosition;
    public long nanoTime;
}
