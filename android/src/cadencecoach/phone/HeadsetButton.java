package cadencecoach.phone;

import android.content.Context;
import android.content.Intent;
import android.media.session.MediaSession;
import android.media.session.PlaybackState;
import android.os.Handler;
import android.os.Looper;
import android.view.KeyEvent;
import java.nio.ByteBuffer;

/**
 * The button of a headset, for hands that are wet, cold and gloved. What a press means is decided in Python.
 *
 * <p>A record is 16 bytes: int64 when it went down [ns, monotonic], int64 key code.
 */
public final class HeadsetButton extends MediaSession.Callback {
    private final MediaSession session;
    private final Ring ring = new Ring(16, 32);

    public HeadsetButton(Context context) {
        session = new MediaSession(context, "coach");
        session.setCallback(this, new Handler(Looper.getMainLooper()));
        session.setPlaybackState(
                new PlaybackState.Builder()
                        .setActions(
                                PlaybackState.ACTION_PLAY
                                        | PlaybackState.ACTION_PAUSE
                                        | PlaybackState.ACTION_PLAY_PAUSE
                                        | PlaybackState.ACTION_SKIP_TO_NEXT)
                        .setState(PlaybackState.STATE_PLAYING, 0, 1f)
                        .build());
    }

    public void start() {
        session.setActive(true);
    }

    public void stop() {
        session.setActive(false);
        session.release();
    }

    @Override
    public boolean onMediaButtonEvent(Intent intent) {
        KeyEvent event = (KeyEvent) intent.getParcelableExtra(Intent.EXTRA_KEY_EVENT);
        if (event == null || event.getAction() != KeyEvent.ACTION_DOWN || event.getRepeatCount() > 0) {
            return event != null;
        }
        ByteBuffer record = ring.record();
        record.putLong(1000000L * event.getEventTime()).putLong(event.getKeyCode());
        ring.put(record);
        return true;
    }

    public byte[] drain() {
        return ring.drain();
    }
}
