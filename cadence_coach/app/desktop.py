"""What a desktop does for the app in place of a phone (android/host.py): starts the engine as a process of its own,
fed by the simulator or a recording, and shares by opening a file. No Kivy."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
import webbrowser
from collections.abc import Callable
from pathlib import Path
from typing import Any

from cadence_coach.store.folders import home

LOG = "engine.log"
CHECK_S = 3.0
FREE_BYTES = 200_000_000
"""Room for a day on the water with some left."""
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

    def sink(self) -> Any:
        """An output of this machine, not started."""
        from cadence_coach.sound.sinks import open_sink

        return open_sink(self.sound)

    def tapping(self) -> tuple[Any, Any]:
        """An output, and where taps on the case are felt: a desktop has no such sensor, so somebody invented taps."""
        from cadence_coach.app.taps import Tapper

        return self.sink(), Tapper()

    def check(
        self, told: Callable[[float], None], going: Callable[[], bool], lang: str = "en"
    ) -> list[tuple[str, bool]]:
        """Findings as (line, whether it will do): the output run for a moment, the spoken parts, the room to keep
        outings in. `cadence-coach check` tells more."""
        import shutil

        from cadence_coach.app.words import Words
        from cadence_coach.sound import speech
        from cadence_coach.sound.mixer import Mixer

        words = Words(lang)
        sink = self.sink()
        sink.start(Mixer(sink.rate))
        try:
            began = time.monotonic()
            while (past := time.monotonic() - began) < CHECK_S and going():
                told(past / CHECK_S)
                time.sleep(0.1)
            lost = sum(sink.trouble().values())
        finally:
            sink.close()
        parts = [p for p in speech.texts(lang) if (speech.folder() / lang / f"{p}.wav").is_file()]
        free = shutil.disk_usage(home()).free
        return [
            (words("check.sound", sink=sink.name, why=sink.reason or words("check.ready")), sink.reason is None),
            (words("check.lost", n=lost), lost == 0),
            (words("check.speech", n=len(parts), all=len(speech.texts(lang))), len(parts) == len(speech.texts(lang))),
            (words("check.sensor", source=self.source), True),
            (words("check.room", folder=str(home()), mb=f"{free / 1e6:.0f}"), free > FREE_BYTES),
        ]

    @staticmethod
    def files() -> Path:
        return home()
