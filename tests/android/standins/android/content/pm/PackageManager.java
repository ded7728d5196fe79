package android.content.pm;

import android.content.Intent;

public class PackageManager {
    public static final int PERMISSION_GRANTED = 0;

    public PackageManager() {}

    public Intent getLaunchIntentForPackage(String name) { return new Intent("launch"); }
}
