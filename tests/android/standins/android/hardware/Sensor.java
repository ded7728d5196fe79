package android.hardware;

public final class Sensor {
    public static final int TYPE_ACCELEROMETER = 1;
    public static final int TYPE_GYROSCOPE = 4;
    private final int type;

    Sensor(int type) { this.type = type; }

    public int getType() { return type; }
    public float getMaximumRange() { return 78.4532f; }
    public String getName() { return type == TYPE_GYROSCOPE ? "stand-in gyroscope" : "stand-in accelerometer"; }
    public String getVendor() { return "nobody"; }
}
