package android.graphics.drawable;

import android.content.Context;

public final class Icon {
    Icon() {}

    public static Icon createWithResource(Context context, int id) { return new Icon(); }
}
