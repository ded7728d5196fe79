package android.content;

public abstract class ContentProvider {
    public static Context pretendContext;

    public ContentProvider() {}

    public final Context getContext() { return pretendContext; }
}
