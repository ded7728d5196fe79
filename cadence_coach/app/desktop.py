"""What a desktop does for the app in place of a phone (android/host.py): starts the engine as a process of its own,
fed by the simulator or a recording, and shares by opening a file. No Kivy."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import webbrowser
from collections.abc import Callable
from pathlib import Path

from cadence_coach.store.folders import home

LOG = "engine.log"
MOVER = "squats:1"
"""Who trains on land where an invented rider would ride."""


class DesktopHost:
    """source, sound: as `live` takes them. Every method returns at once."""

    grace_s = 0.0
    """Nobody starts a dead engine anew on a desktop."""

    def __init__(self, source: str = "sim:demo:1", sound: str = "device") -> None:
        self.source = source
        self.sound = sound
        self._engine: subprocess.Popen[bytes] | None = None

    def missing(self) -> list[str]:
        return []

    def ask(self) -> None:
        pass

    def start(self, plan: str) -> None:
        """Starts the engine's process with a plan (live.on_phone.plan_text), out of reach of this one's end."""
        told = {**json.loads(plan), "source": self.source, "sound": self.sound}
        if told.get("land") and self.source.startswith("sim:"):
            told["source"] = MOVER  # on land nobody flies
        log = os.open(home() / LOG, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        try:
            self._engine = subprocess.Popen(
                [sys.executable, "-m", "cadence_coach.live.on_desktop"],
                stdin=subprocess.PIPE,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
        finally:
            os.close(log)
        assert self._engine.stdin is not None
        self._engine.stdin.write(json.dumps(told).encode())
        self._engine.stdin.close()

    def running(self) -> bool:
        """Whether the engine that was started here still lives."""
        return self._engine is None or self._engine.poll() is None

    def share(self, file: Path, title: str) -> None:
        """Pages in the browser; of anything else, where it lies."""
        print(f"{title}: {file}", flush=True)
        if file.suffix == ".html":
            webbrowser.open(file.as_uri())

    def spared(self) -> bool:
        return True

    def open_battery_settings(self) -> None:
        pass

    def check(self, told: Callable[[float], None], going: Callable[[], bool]) -> list[str]:
        """Findings as lines: what would sound, and where things are kept."""
        from cadence_coach.sound.sinks import open_sink

        told(0.5)
        sink = open_sink(self.sound)
        lines = [f"{sink.name}, {sink.rate} Hz" + (f": {sink.reason}" if sink.reason else ""), self.source, str(home())]
        told(1.0)
        return lines

    @staticmethod
    def files() -> Path:
        return home()
