package android.media;

import android.os.Handler;
import java.io.ByteArrayOutputStream;

/**
 * A device that takes frames at its own rate by the machine's clock (and `pretendPpm` faster), blocks a writer while
 * its buffer is full, plays silence when it is empty and counts that, and can die under the writer. It keeps what it
 * was given.
 */
public class AudioTrack implements AudioRouting {
    public static final int MODE_STREAM = 1;
    public static final int STATE_INITIALIZED = 1;
    public static final int WRITE_BLOCKING = 0;
    public static final int PERFORMANCE_MODE_LOW_LATENCY = 1;
    public static final int ERROR_DEAD_OBJECT = -6;

    public static volatile AudioTrack pretendLast;
    public static volatile double pretendPpm;
    public static volatile boolean pretendNoDevice;
    public static volatile int pretendType = AudioDeviceInfo.TYPE_BUILTIN_SPEAKER;
    public static volatile String pretendName = "speaker";
    /** Time from the buffer to the ear [ns]. */
    public static volatile long pretendDelay = 20000000L;

    private final int rate, buffer;
    private final ByteArrayOutputStream heard = new ByteArrayOutputStream();
    private OnRoutingChangedListener listener;
    private long began, given, underrunFrames, stamped;
    private int underruns;
    private volatile boolean playing, dead;

    AudioTrack(int rate, int bufferFrames) { this.rate = rate; this.buffer = bufferFrames; pretendLast = this; }

    public static int getMinBufferSize(int rate, int channels, int encoding) { return 2 * rate / 50; }

    public int getState() { return STATE_INITIALIZED; }
    public int getBufferSizeInFrames() { return buffer; }
    public synchronized int getUnderrunCount() { consumed(); return underruns; }
    public void play() { playing = true; }
    public void pause() { playing = false; }
    public void flush() {}
    public void release() { dead = true; }

    /** Frames the device has taken up to now, silence of its own included. */
    private long consumed() {
        if (began == 0) return 0;
        long taken = (long) ((System.nanoTime() - began) * 1e-9 * rate * (1 + pretendPpm * 1e-6));
        long short_ = taken - underrunFrames - given;
        if (short_ > 0) {
            underruns++;
            underrunFrames += short_;
        }
        return taken;
    }

    public int write(byte[] pcm, int offset, int size, int mode) {
        while (true) {
            synchronized (this) {
                if (dead) return ERROR_DEAD_OBJECT;
                long room = buffer - (given + underrunFrames - consumed());
                if (room >= size / 2) {
                    heard.write(pcm, offset, size);
                    given += size / 2;
                    // Android's default start threshold is a full buffer (AudioTrack.getStartThresholdInFrames)
                    if (began == 0 && playing && given + size / 2 > buffer) began = System.nanoTime();
                    return size;
                }
            }
            try { Thread.sleep(1); } catch (InterruptedException e) { return 0; }
        }
    }

    /** As Android tells it: the frames of the app that have left, without the device's own silence. */
    public synchronized boolean getTimestamp(AudioTimestamp stamp) {
        if (!playing || dead || consumed() < rate / 20) return false;
        stamp.framePosition = stamped = consumed() - underrunFrames;
        stamp.nanoTime = System.nanoTime() + pretendDelay;
        return true;
    }

    @Override public AudioDeviceInfo getRoutedDevice() { return new AudioDeviceInfo(pretendType, pretendName); }
    @Override public void addOnRoutingChangedListener(OnRoutingChangedListener l, Handler h) { listener = l; }
    @Override public void removeOnRoutingChangedListener(OnRoutingChangedListener l) { listener = null; }

    /** The frame of the last time stamp: frames of the app that have left. */
    public synchronized long pretendFrames() { return stamped; }

    public void pretendDeath() { dead = true; }

    public void pretendRoute(int type, String name, long delayNs) {
        pretendType = type;
        pretendName = name;
        pretendDelay = delayNs;
        if (listener != null) listener.onRoutingChanged(this);
    }

    public synchronized byte[] pretendHeard() { return heard.toByteArray(); }

    public static class Builder {
        private AudioFormat format;
        private int bytes;
        public Builder() {}
        public Builder setAudioAttributes(AudioAttributes a) { return this; }
        public Builder setAudioFormat(AudioFormat f) { format = f; return this; }
        public Builder setBufferSizeInBytes(int n) { bytes = n; return this; }
        public Builder setTransferMode(int mode) { return this; }
        public Builder setPerformanceMode(int mode) { return this; }
        public AudioTrack build() {
            if (pretendNoDevice) throw new UnsupportedOperationException("Cannot create AudioTrack");
            return new AudioTrack(format.rate, bytes / 2);
        }
    }
}
