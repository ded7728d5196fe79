package android.media;

public final class AudioFormat {
    public static final int CHANNEL_OUT_MONO = 4;
    public static final int ENCODING_PCM_16BIT = 2;
    int rate;

    private AudioFormat() {}

    public static class Builder {
        private final AudioFormat made = new AudioFormat();
        public Builder() {}
        public Builder setSampleRate(int rate) { made.rate = rate; return this; }
        public Builder setEncoding(int encoding) { return this; }
        public Builder setChannelMask(int mask) { return this; }
        public AudioFormat build() { return made; }
    }
}
