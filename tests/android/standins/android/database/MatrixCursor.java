package android.database;

import java.util.ArrayList;
import java.util.List;

public class MatrixCursor implements Cursor {
    private final List<Object[]> rows = new ArrayList<Object[]>();

    public MatrixCursor(String[] columns, int room) {}

    public void addRow(Object[] row) { rows.add(row); }
    @Override public int getCount() { return rows.size(); }
    @Override public String getString(int column) { return String.valueOf(rows.get(0)[column]); }
}
