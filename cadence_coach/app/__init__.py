"""The screens: pure views (no Kivy) and the Kivy widgets that show them. A client of the engine process.

`run()` opens the window. Nothing but parts/, screens/ and main.py imports Kivy, and those only once a window is
wanted.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import Any

from cadence_coach.errors import CouldNot

SIZES = {"phone": (360, 640)}
DEFAULT_SOURCE = "sim:demo:1"


def run(
    host: Any = None,
    *,
    source: str | None = None,
    sound: str = "device",
    attach: bool = False,
    size: tuple[int, int] | None = None,
    lang: str | None = None,
    look: str | None = None,
    ready: Callable[[Any], None] | None = None,
) -> None:
    """Shows the app until its window is closed.

    host: what only this machine can do (on a phone android/host.py; None: desktop.DesktopHost, fed by `source`, with
    `sound`). attach: show the outing that is being ridden, and CouldNot without one. size: of the window [px], desktop
    only. lang, look: instead of what is remembered. ready: called with the app after its first frame.
    """
    if attach:
        from cadence_coach.live import Client
        from cadence_coach.store.folders import home

        Client(home()).close()
    if host is None:
        from cadence_coach.app.desktop import DesktopHost

        host = DesktopHost(source or DEFAULT_SOURCE, sound)
    os.environ.setdefault("KIVY_NO_ARGS", "1")
    os.environ.setdefault("KIVY_NO_FILELOG", "1")
    os.environ.setdefault("KIVY_IMAGE", "tex,sdl2")  # all that is shown; PIL alone takes a tenth of a second
    os.environ.setdefault("KIVY_LOG_MODE", "PYTHON")  # our log stays ours
    from kivy.config import Config

    Config.set("kivy", "exit_on_escape", "0")
    Config.set("input", "mouse", "mouse,disable_multitouch")  # a right click draws no second finger
    Config.set("graphics", "multisamples", "0")
    if size is not None:
        Config.set("graphics", "width", str(size[0]))
        Config.set("graphics", "height", str(size[1]))
    from kivy.core.window import Window

    if Window is None:
        raise CouldNot(
            "no window can be opened here: no screen, or no graphics driver; `cadence-coach check` says more"
        )
    from cadence_coach.app.main import start

    start(host, lang, look, ready)
