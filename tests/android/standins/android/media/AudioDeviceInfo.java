package android.media;

public final class AudioDeviceInfo {
    public static final int TYPE_BUILTIN_SPEAKER = 2;
    public static final int TYPE_BLUETOOTH_A2DP = 8;
    private final int type;
    private final String name;

    AudioDeviceInfo(int type, String name) { this.type = type; this.name = name; }

    public int getType() { return type; }
    public CharSequence getProductName() { return name; }
}
