package android.location;

import android.os.Bundle;

/** As in API 29, and the default method that came with 31: an implementation must serve both. */
public interface LocationListener {
    void onLocationChanged(Location location);
    void onStatusChanged(String provider, int status, Bundle extras);
    void onProviderEnabled(String provider);
    void onProviderDisabled(String provider);

    default void onLocationChanged(java.util.List<Location> pretendNewer) {
        throw new AbstractMethodError("a list of fixes came and nobody takes lists");
    }
}
