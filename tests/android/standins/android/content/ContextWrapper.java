package android.content;

public class ContextWrapper extends Context {
    public ContextWrapper(Context base) {}
}
