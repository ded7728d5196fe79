package android.location;

public class Location {
    public double pretendLat, pretendLon;
    public long pretendNanos;
    public float pretendSpeed = Float.NaN, pretendSpeedAccuracy = Float.NaN, pretendBearing = Float.NaN;
    public float pretendAccuracy = 4f;

    public Location(String provider) {}

    public double getLatitude() { return pretendLat; }
    public double getLongitude() { return pretendLon; }
    public long getElapsedRealtimeNanos() { return pretendNanos; }
    public boolean hasSpeed() { return !Float.isNaN(pretendSpeed); }
    public float getSpeed() { return hasSpeed() ? pretendSpeed : 0f; }
    public boolean hasSpeedAccuracy() { return !Float.isNaN(pretendSpeedAccuracy); }
    public float getSpeedAccuracyMetersPerSecond() { return hasSpeedAccuracy() ? pretendSpeedAccuracy : 0f; }
    public boolean hasBearing() { return !Float.isNaN(pretendBearing); }
    public float getBearing() { return hasBearing() ? pretendBearing : 0f; }
    public boolean hasAccuracy() { return !Float.isNaN(pretendAccuracy); }
    public float getAccuracy() { return hasAccuracy() ? pretendAccuracy : 0f; }
}
