"""Whether a window can be opened here, as plain values."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from typing import Any

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
