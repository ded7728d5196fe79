package android.app;

import android.content.Context;
import android.view.ContextThemeWrapper;

public class Activity extends ContextThemeWrapper {
    public String[] pretendAsked;

    public Activity() {}

    public final void requestPermissions(String[] permissions, int request) {
        pretendAsked = permissions;
        Context.pretendDenied.clear();
    }
}
