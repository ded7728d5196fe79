package android.net;

public abstract class Uri implements android.os.Parcelable {
    public abstract String getLastPathSegment();

    public static final class Builder {
        private String scheme, authority, path = "";
        public Builder() {}
        public Builder scheme(String s) { scheme = s; return this; }
        public Builder authority(String a) { authority = a; return this; }
        public Builder path(String p) { path = p; return this; }
        public Uri build() { return new PretendUri(scheme, authority, path); }
    }

    static final class PretendUri extends Uri {
        private final String scheme, authority, path;
        PretendUri(String scheme, String authority, String path) {
            this.scheme = scheme;
            this.authority = authority;
            this.path = path;
        }
        @Override public String getLastPathSegment() { return path.substring(path.lastIndexOf('/') + 1); }
        @Override public String toString() { return scheme + "://" + authority + "/" + path; }
    }
}
