package android.os;

import java.util.HashMap;
import java.util.Map;

public final class Bundle {
    private final Map<String, String> values = new HashMap<String, String>();

    public Bundle() {}

    public String getString(String key) { return values.get(key); }
    public String getString(String key, String otherwise) {
        return values.containsKey(key) ? values.get(key) : otherwise;
    }
    public void putString(String key, String value) { values.put(key, value); }
}
