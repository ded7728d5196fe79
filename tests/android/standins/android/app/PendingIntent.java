package android.app;

import android.content.Context;
import android.content.Intent;

public final class PendingIntent {
    public static final int FLAG_IMMUTABLE = 67108864;
    public static final int FLAG_UPDATE_CURRENT = 134217728;
    public Intent pretendIntent;

    PendingIntent(Intent intent, int flags) {
        if ((flags & FLAG_IMMUTABLE) == 0) throw new IllegalArgumentException("Android 12 demands one or the other");
        pretendIntent = intent;
    }

    public static PendingIntent getService(Context c, int request, Intent i, int flags) {
        return new PendingIntent(i, flags);
    }
    public static PendingIntent getActivity(Context c, int request, Intent i, int flags) {
        return new PendingIntent(i, flags);
    }
}
