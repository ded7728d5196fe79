package cadencecoach.phone;

import android.content.Context;
import android.media.AudioAttributes;
import android.media.AudioDeviceInfo;
import android.media.AudioFormat;
import android.media.AudioManager;
import android.media.AudioRouting;
import android.media.AudioTimestamp;
import android.media.AudioTrack;
import android.os.Process;
import android.os.SystemClock;
import java.util.concurrent.ArrayBlockingQueue;
import java.util.concurrent.TimeUnit;

/**
 * One stream of 16-bit mono sound that stays open. Python hands over blocks that say which frame they begin at; a
 * thread here writes them where they belong and writes silence where none came. A block that comes late is played from
 * the frame that is due, never shifted: sound keeps its place or is lost, and what was lost is counted.
 */
public final class AudioSink implements Runnable, AudioRouting.OnRoutingChangedListener {
    private final AudioManager manager;
    private final int rate;
    private final int block;
    private final int bufferFrames;
    private final ArrayBlockingQueue<Block> queue;
    private final AudioTimestamp stamp = new AudioTimestamp();
    private final byte[] silence;
    private AudioTrack track;
    private Thread thread;
    private volatile boolean running;
    private volatile long written;
    private volatile long base;
    private volatile long silent;
    private volatile long late;
    private volatile int lost;
    private int underrunsBefore;
    private long wroteAt;
    private boolean starving;
    private boolean alive;
    private volatile int routes;
    private volatile String route = "";

    private static final class Block {
        final byte[] pcm;
        final long first;

        Block(byte[] pcm, long first) {
            this.pcm = pcm;
            this.first = first;
        }
    }

    /** rate [Hz]; block and bufferFrames in frames; depth: how many blocks may wait. */
    public AudioSink(Context context, int rate, int block, int bufferFrames, int depth) {
        manager = (AudioManager) context.getSystemService(Context.AUDIO_SERVICE);
        this.rate = rate;
        this.block = block;
        this.bufferFrames = bufferFrames;
        queue = new ArrayBlockingQueue<Block>(depth);
        silence = new byte[2 * block];
    }

    private AudioTrack open() {
        int least = AudioTrack.getMinBufferSize(rate, AudioFormat.CHANNEL_OUT_MONO, AudioFormat.ENCODING_PCM_16BIT);
        AudioTrack made =
                new AudioTrack.Builder()
                        .setAudioAttributes(
                                new AudioAttributes.Builder()
                                        .setUsage(AudioAttributes.USAGE_MEDIA)
                                        .setContentType(AudioAttributes.CONTENT_TYPE_SONIFICATION)
                                        .build())
                        .setAudioFormat(
                                new AudioFormat.Builder()
                                        .setSampleRate(rate)
                                        .setEncoding(AudioFormat.ENCODING_PCM_16BIT)
                                        .setChannelMask(AudioFormat.CHANNEL_OUT_MONO)
                                        .build())
                        .setBufferSizeInBytes(Math.max(least, 2 * bufferFrames))
                        .setTransferMode(AudioTrack.MODE_STREAM)
                        .setPerformanceMode(AudioTrack.PERFORMANCE_MODE_LOW_LATENCY)
                        .build();
        made.addOnRoutingChangedListener(this, null);
        return made;
    }

    public synchronized boolean start() {
        if (running) {
            return false;
        }
        try {
            track = open();
            track.play();
        } catch (RuntimeException e) {
            return false; // the builder and play() say "not initialized" that way
        }
        running = true;
        alive = true;
        wroteAt = System.nanoTime();
        onRoutingChanged(track);
        thread = new Thread(this, "coach-audio");
        thread.start();
        return true;
    }

    public void stop() {
        running = false;
        Thread writer = thread;
        if (writer != null) {
            try {
                writer.join(1000);
            } catch (InterruptedException e) {
                Thread.currentThread().interrupt();
            }
        }
        synchronized (this) {
            if (track != null) {
                track.removeOnRoutingChangedListener(this);
                track.pause();
                track.flush();
                track.release();
                track = null;
                alive = false;
            }
        }
    }

    /** Little-endian 16-bit frames that begin at a frame of the stream. False when the queue is full. */
    public boolean offer(byte[] pcm, long first) {
        return queue.offer(new Block(pcm, first));
    }

    /** {written, silent, late, underruns, tracks lost, route changes, blocks waiting, frames the track holds}. */
    public synchronized long[] counters() {
        int underruns = underrunsBefore + (alive ? track.getUnderrunCount() : 0);
        int holds = track == null ? 0 : track.getBufferSizeInFrames();
        return new long[] {written, silent, late, underruns, lost, routes, queue.size(), holds};
    }

    /** {frame that leaves the phone, monotonic time of it [ns]}, or null while that is not known. */
    public synchronized long[] timestamp() {
        if (track == null || !track.getTimestamp(stamp)) {
            return null;
        }
        return new long[] {base + stamp.framePosition, stamp.nanoTime};
    }

    /** Where the sound goes: kind number and name of the device, "" while not known. */
    public String route() {
        return route;
    }

    /** Media volume as a share of its highest value. */
    public float volume() {
        int most = manager.getStreamMaxVolume(AudioManager.STREAM_MUSIC);
        return most == 0 ? 0f : manager.getStreamVolume(AudioManager.STREAM_MUSIC) / (float) most;
    }

    @Override
    public void onRoutingChanged(AudioRouting router) {
        AudioDeviceInfo device = router.getRoutedDevice();
        String now = device == null ? "" : device.getType() + " " + device.getProductName();
        if (!now.equals(route)) {
            route = now;
            routes++;
        }
    }

    @Override
    public void run() {
        Process.setThreadPriority(Process.THREAD_PRIORITY_URGENT_AUDIO);
        Block next = null;
        while (running) {
            if (next == null) {
                next = take();
            }
            if (next == null || next.first > written) {
                // Nothing there, or it is for later: silence up to it, at most one block at a time.
                long frames = next == null ? block : Math.min(block, next.first - written);
                if (next == null) {
                    silent += frames;
                }
                write(silence, 0, (int) frames);
                continue;
            }
            long skip = Math.min(written - next.first, next.pcm.length / 2);
            late += skip;
            int rest = next.pcm.length / 2 - (int) skip;
            if (rest > 0) {
                write(next.pcm, (int) skip, rest);
            }
            next = null;
        }
    }

    /**
     * The next block. The first time there is none, waits for it while what the track holds still covers that (half its
     * buffer); after that silence keeps the track full, and its own blocking sets the pace.
     */
    private Block take() {
        try {
            Block next = queue.poll(starving ? 0 : 500L * bufferFrames / rate, TimeUnit.MILLISECONDS);
            starving = next == null;
            return next;
        } catch (InterruptedException e) {
            running = false;
            return null;
        }
    }

    private void write(byte[] pcm, int first, int frames) {
        int done = 0;
        while (running && done < frames) {
            int n = track.write(pcm, 2 * (first + done), 2 * (frames - done), AudioTrack.WRITE_BLOCKING);
            if (n <= 0) {
                if (!reopen()) {
                    SystemClock.sleep(200); // no device at all just now: the next write fails and leads back here
                }
                return;
            }
            done += n / 2;
            written += n / 2;
            wroteAt = System.nanoTime();
        }
    }

    /**
     * The device under the track is gone: open another. The frames of the time in between have passed unheard, so that
     * what was placed for now is heard now.
     */
    private synchronized boolean reopen() {
        if (!running || track == null) {
            return true;
        }
        if (alive) {
            lost++;
            underrunsBefore += track.getUnderrunCount();
            alive = false;
        }
        track.removeOnRoutingChangedListener(this);
        track.release();
        try {
            track = open();
            track.play();
            written += (System.nanoTime() - wroteAt) * rate / 1000000000L;
            base = written;
            wroteAt = System.nanoTime();
            alive = true;
            onRoutingChanged(track);
        } catch (RuntimeException e) {
            return false;
        }
        return true;
    }
}
