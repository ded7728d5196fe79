package android.content;

public class ContextWrapper extends Context {
    public ContextWrapper(Context base) {}

    public Context getApplicationContext() { return this; }
    public java.io.File getFilesDir() { return new java.io.File(System.getProperty("standin.files", "/nowhere")); }
    public java.io.File getCacheDir() { return new java.io.File(System.getProperty("standin.files", "/nowhere"), "cache"); }
}
