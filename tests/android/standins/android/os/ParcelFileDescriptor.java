package android.os;

import java.io.File;
import java.io.FileNotFoundException;

public class ParcelFileDescriptor {
    public static final int MODE_READ_ONLY = 268435456;
    public String pretendPath;

    ParcelFileDescriptor() {}

    public static ParcelFileDescriptor open(File file, int mode) throws FileNotFoundException {
        if (mode != MODE_READ_ONLY) throw new FileNotFoundException("it would be written");
        ParcelFileDescriptor made = new ParcelFileDescriptor();
        made.pretendPath = file.getPath();
        return made;
    }
}
