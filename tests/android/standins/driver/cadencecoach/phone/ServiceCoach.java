package cadencecoach.phone;

import android.content.Context;
import android.content.Intent;

/** In place of the class that python-for-android writes from its template when it builds (compiled in test_build.py). */
public class ServiceCoach extends CoachService {
    public static void start(Context context, String argument) {
        context.startService(new Intent(context, ServiceCoach.class).putExtra("pythonServiceArgument", argument));
    }
}
