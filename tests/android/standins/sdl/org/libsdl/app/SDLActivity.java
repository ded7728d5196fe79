package org.libsdl.app;

import android.app.Activity;
import android.content.Context;
import android.view.SurfaceView;
import android.view.View;
import android.view.ViewGroup;

/** What python-for-android's activity touches of SDL's, to compile against: SDL's own Java is in no package index. */
public class SDLActivity extends Activity {
    public enum NativeState { INIT, RESUMED, PAUSED }

    public static int keyboardInputType;
    public static NativeState mCurrentNativeState;
    public static boolean mHasFocus;
    protected static SDLActivity mSingleton;
    protected static SurfaceView mSurface;
    protected static ViewGroup mLayout;
    protected static View mTextEdit;
    protected static Thread mSDLThread;

    public static Context getContext() { return mSingleton; }
    public static native void nativeSetenv(String name, String value);
    protected boolean sendCommand(int command, Object data) { return false; }
    protected void finishLoad() { }
    protected static void initialize() { }
    protected void resumeNativeThread() { }
    public void appConfirmedActive() { }
    public void loadLibraries() { }
}
