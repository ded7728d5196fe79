package android.app;

public final class NotificationChannel {
    public final int pretendImportance;

    public NotificationChannel(String id, CharSequence name, int importance) { pretendImportance = importance; }
}
