package android.database;

public interface Cursor {
    int getCount();
    String getString(int column);
}
