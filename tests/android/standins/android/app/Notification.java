package android.app;

import android.content.Context;
import android.graphics.drawable.Icon;

public class Notification {
    public static final String CATEGORY_SERVICE = "service";
    public static final int VISIBILITY_PUBLIC = 1;
    public String pretendTitle, pretendText, pretendAction;
    public PendingIntent pretendEnd, pretendOpen;
    public boolean pretendOngoing;

    public Notification() {}

    public abstract static class Style {}

    public static class BigTextStyle extends Style {
        public BigTextStyle() {}
        public BigTextStyle bigText(CharSequence text) { return this; }
    }

    public static class Action {
        String title;
        PendingIntent intent;

        public static final class Builder {
            private final Action made = new Action();

            public Builder(Icon icon, CharSequence title, PendingIntent intent) {
                made.title = title.toString();
                made.intent = intent;
            }

            public Action build() { return made; }
        }
    }

    public static class Builder {
        private final Notification made = new Notification();

        public Builder(Context context, String channel) {}

        public Builder setSmallIcon(int id) { return this; }
        public Builder setContentTitle(CharSequence s) { made.pretendTitle = s.toString(); return this; }
        public Builder setContentText(CharSequence s) { made.pretendText = s.toString(); return this; }
        public Builder setStyle(Style style) { return this; }
        public Builder setOngoing(boolean on) { made.pretendOngoing = on; return this; }
        public Builder setAutoCancel(boolean on) { return this; }
        public Builder setOnlyAlertOnce(boolean on) { return this; }
        public Builder setCategory(String category) { return this; }
        public Builder setVisibility(int v) { return this; }
        public Builder setContentIntent(PendingIntent p) { made.pretendOpen = p; return this; }

        public Builder addAction(Action action) {
            made.pretendAction = action.title;
            made.pretendEnd = action.intent;
            return this;
        }

        public Notification build() { return made; }
    }
}
