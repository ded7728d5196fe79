package android.content.pm;

public class ApplicationInfo {
    public int icon = 7;
    public String nativeLibraryDir = "/nowhere";
}
