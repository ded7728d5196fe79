package android.app;

public class NotificationManager {
    public static final int IMPORTANCE_LOW = 2;
    public static final NotificationManager pretendOnly = new NotificationManager();
    public volatile NotificationChannel pretendChannel;
    public volatile Notification pretendShown;

    public void createNotificationChannel(NotificationChannel channel) { pretendChannel = channel; }
    public void notify(int id, Notification note) { pretendShown = note; }
}
