package cadencecoach.phone;

import android.content.Intent;
import android.os.Bundle;
import org.kivy.android.PythonService;

/** Does what Android does with the service, short of starting Python in it. */
public final class Drive {
    private Drive() {}

    public static CoachService service(String title) {
        CoachService service = new CoachService();
        service.onCreate();
        Bundle extras = new Bundle();
        extras.putString("serviceTitle", title);
        service.doStartForeground(extras);
        PythonService.mService = service;
        service.started = true;
        return service;
    }

    /** The app starts the service once more; the start is on its way until it is brought. */
    public static int send(CoachService service) { return ++service.pretendNewest; }

    public static void bring(CoachService service, int start, String plan) {
        Intent intent = new Intent().putExtra("serviceTitle", "Coach").putExtra("pythonServiceArgument", plan);
        service.onStartCommand(intent, 0, start);
    }

    public static void activity() {
        org.kivy.android.PythonActivity.mActivity = new org.kivy.android.PythonActivity();
        android.content.ContentProvider.pretendContext = org.kivy.android.PythonActivity.mActivity;
    }

    /** "End" in the notification is pressed: the intent behind it arrives. */
    public static void pressEnd(CoachService service) {
        Intent intent = android.app.NotificationManager.pretendOnly.pretendShown.pretendEnd.pretendIntent;
        service.onStartCommand(intent, 0, send(service));
    }
}
