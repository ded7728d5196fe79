package android.content.res;

import java.util.Arrays;
import java.util.List;

/** Knows the strings of android/res by name; a drawable is any number. */
public class Resources {
    private static final List<String> NAMES = Arrays.asList("", "coach_channel", "coach_listens", "coach_end");

    public int getIdentifier(String name, String kind, String packageName) {
        if (kind.equals("drawable")) return 99;
        return Math.max(0, NAMES.indexOf(name));
    }

    public String pretendString(int id) { return "@" + NAMES.get(id); }
}
