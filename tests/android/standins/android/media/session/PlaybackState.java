package android.media.session;

public final class PlaybackState {
    public static final long ACTION_PAUSE = 2;
    public static final long ACTION_PLAY = 4;
    public static final long ACTION_SKIP_TO_NEXT = 32;
    public static final long ACTION_PLAY_PAUSE = 512;
    public static final int STATE_PLAYING = 3;

    PlaybackState() {}

    public static final class Builder {
        public Builder() {}
        public Builder setActions(long actions) { return this; }
        public Builder setState(int state, long position, float speed) { return this; }
        public PlaybackState build() { return new PlaybackState(); }
    }
}
