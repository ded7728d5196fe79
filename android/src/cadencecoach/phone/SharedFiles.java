package cadencecoach.phone;

import android.content.ContentProvider;
import android.content.ContentValues;
import android.content.Context;
import android.content.Intent;
import android.content.ClipData;
import android.database.Cursor;
import android.database.MatrixCursor;
import android.net.Uri;
import android.os.ParcelFileDescriptor;
import android.provider.OpenableColumns;
import java.io.File;
import java.io.FileNotFoundException;
import java.io.IOException;

/** The share sheet: lends one file of the cache folder "shared", read only, to the app the rider picks. */
public final class SharedFiles extends ContentProvider {
    private static final String FOLDER = "shared";

    /** Where a file must lie to be shared. */
    public static String folder(Context context) {
        File folder = new File(context.getCacheDir(), FOLDER);
        folder.mkdirs();
        return folder.getAbsolutePath();
    }

    /** Opens the sheet for a file in folder(). */
    public static void share(Context context, String name, String mime, String title) {
        String authority = context.getPackageName() + ".shared";
        Uri uri = new Uri.Builder().scheme("content").authority(authority).path(name).build();
        Intent send =
                new Intent(Intent.ACTION_SEND)
                        .setType(mime)
                        .putExtra(Intent.EXTRA_STREAM, uri)
                        .addFlags(Intent.FLAG_GRANT_READ_URI_PERMISSION);
        send.setClipData(ClipData.newRawUri(name, uri));
        context.startActivity(Intent.createChooser(send, title).addFlags(Intent.FLAG_ACTIVITY_NEW_TASK));
    }

    private File file(Uri uri) throws FileNotFoundException {
        File folder = new File(getContext().getCacheDir(), FOLDER);
        File wanted = new File(folder, String.valueOf(uri.getLastPathSegment()));
        try {
            if (wanted.getCanonicalFile().getParentFile().equals(folder.getCanonicalFile()) && wanted.isFile()) {
                return wanted;
            }
        } catch (IOException e) {
            throw new FileNotFoundException(uri.toString());
        }
        throw new FileNotFoundException(uri.toString());
    }

    @Override
    public boolean onCreate() {
        return true;
    }

    @Override
    public ParcelFileDescriptor openFile(Uri uri, String mode) throws FileNotFoundException {
        if (!"r".equals(mode)) {
            throw new FileNotFoundException("read only: " + uri);
        }
        return ParcelFileDescriptor.open(file(uri), ParcelFileDescriptor.MODE_READ_ONLY);
    }

    @Override
    public Cursor query(Uri uri, String[] columns, String where, String[] values, String order) {
        MatrixCursor rows = new MatrixCursor(new String[] {OpenableColumns.DISPLAY_NAME, OpenableColumns.SIZE}, 1);
        try {
            File wanted = file(uri);
            rows.addRow(new Object[] {wanted.getName(), wanted.length()});
        } catch (FileNotFoundException e) {
            return rows; // no such file: no row
        }
        return rows;
    }

    @Override
    public String getType(Uri uri) {
        return "application/octet-stream";
    }

    @Override
    public Uri insert(Uri uri, ContentValues values) {
        throw new UnsupportedOperationException("read only");
    }

    @Override
    public int update(Uri uri, ContentValues values, String where, String[] args) {
        throw new UnsupportedOperationException("read only");
    }

    @Override
    public int delete(Uri uri, String where, String[] args) {
        throw new UnsupportedOperationException("read only");
    }
}
