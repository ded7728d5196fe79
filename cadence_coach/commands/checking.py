"""What `check` looks at, one thing a function, as plain values."""

from __future__ import annotations

import json
import os
import platform
import subprocess
import sys
import time
from typing import Any

from cadence_coach.errors import CouldNot, Refused

SETTLE_S = 1.5
SCREEN_S = 30

_WINDOW = """
import json
from kivy.config import Config
Config.set("graphics", "multisamples", "0")
from kivy.core.window import Window
from kivy.graphics.opengl import glGetString, GL_VERSION
if Window is None:
    raise SystemExit("no window could be opened")
print(json.dumps([Window.width, Window.height, glGetString(GL_VERSION).decode()]))
"""


def sound(spec: str, tone: bool, volume: float) -> dict[str, Any]:
    """Devices, and the sink that would run, run for a moment: in silence, or with a test tone."""
    from cadence_coach.sound.mixer import Mixer
    from cadence_coach.sound.sinks import open_sink

    if spec.startswith("wav"):
        raise Refused(f"--sound {spec}: a file needs no check; give device, device:NAME or silent")
    version, devices = _devices()
    sink = open_sink(spec)
    mixer = Mixer(sink.rate, volume)
    sink.start(mixer)
    try:
        time.sleep(SETTLE_S)
        if tone:
            first = sink.soonest() + sink.rate // 5
            for k in range(4):
                mixer.place("click", first + k * sink.rate // 2)
            mixer.place("quicker", first + 2 * sink.rate + sink.rate // 2)
            time.sleep(3.7)
        trouble = sink.trouble()
        measured = sink.latency_s() if hasattr(sink, "latency_s") else None
        blocks = getattr(sink, "block_frames", None)
    finally:
        sink.close()
    return {
        "portaudio": version,
        "devices": devices,
        "sink": sink.name,
        "reason": sink.reason.partition("; `check`")[0] if sink.reason else None,
        "rate_hz": sink.rate,
        "buffer_latency_s": measured,
        "block_frames": blocks,
        "underflows": trouble.get("underflows", 0),
    }


def _devices() -> tuple[str | None, list[dict[str, Any]]]:
    try:
        import sounddevice
    except (OSError, ImportError):
        return None, []
    found = [
        {"name": d["name"], "outputs": d["max_output_channels"], "default_rate_hz": d["default_samplerate"]}
        for d in sounddevice.query_devices()
        if d["max_output_channels"] > 0
    ]
    return sounddevice.get_portaudio_version()[1].split(",")[0], found


def speech() -> dict[str, int]:
    """Language to number of spoken parts that can be read."""
    from cadence_coach.sound import speech as parts

    return {
        lang: sum((parts.folder() / lang / f"{part}.wav").is_file() for part in parts.texts(lang))
        for lang in parts.LANGUAGES
    }


def sensors() -> dict[str, str | None]:
    """Source that needs hardware to None when it opens, or why not."""
    from cadence_coach.sources import open_source

    try:
        open_source("phone:").close()
        return {"phone": None}
    except (CouldNot, Refused) as error:
        return {"phone": str(error).removeprefix("phone: ")}


def screen() -> dict[str, Any]:
    """Opens a window in a process of its own: a broken graphics driver must not take `check` with it."""
    quiet = {"KIVY_NO_ARGS": "1", "KIVY_NO_CONSOLELOG": "1", "KIVY_NO_FILELOG": "1"}
    nothing = {"width_px": None, "height_px": None, "graphics": None, "visible": False}
    try:
        done = subprocess.run(
            [sys.executable, "-c", _WINDOW], env=os.environ | quiet, capture_output=True, text=True, timeout=SCREEN_S
        )
        width, height, graphics = json.loads(done.stdout.splitlines()[-1])
        return {
            "width_px": width,
            "height_px": height,
            "graphics": graphics,
            "visible": not headless(),
            "reason": None,
        }
    except subprocess.TimeoutExpired:
        return nothing | {"reason": f"no window within {SCREEN_S} s"}
    except (IndexError, ValueError):
        where = "no DISPLAY and no WAYLAND_DISPLAY is set; " if headless() else ""
        said = (done.stderr.strip().splitlines() or ["the window's process ended without a word"])[-1]
        return nothing | {"reason": f"{where}{said}"}


def headless() -> bool:
    return sys.platform == "linux" and not (os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def data() -> dict[str, Any]:
    """The data folder and the room in it."""
    import shutil

    from cadence_coach.store.folders import home

    try:
        folder = home()
        return {"folder": str(folder), "free_mb": shutil.disk_usage(folder).free / 1e6, "reason": None}
    except (CouldNot, OSError) as error:
        return {"folder": None, "free_mb": None, "reason": str(error)}


def versions() -> dict[str, str]:
    from cadence_coach import __version__

    return {"cadence-coach": __version__, "Python": platform.python_version(), "system": platform.platform(terse=True)}
