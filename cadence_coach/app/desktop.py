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
from typing import TYPE_CHECKING, Any

from cadence_coach.store.folders import home

if TYPE_CHECKING:
    from cadence_coach.app.words import Words

LOG = "engine.log"
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

    def check(self, told: Callable[[float], None], going: Callable[[], bool]) -> list[tuple[dict[str, str], bool]]:
        """Findings as (line by language, whether it will do): what `cadence-coach check` tells, but for the screen that
        is seen."""
        from cadence_coach.app.words import LANGUAGES, Words
        from cadence_coach.live import ability

        audio, disk = ability.sound(self.sound, told=told, going=going), ability.data()
        speech = ability.speech()
        each = {lang: self._findings(audio, disk, speech, Words(lang)) for lang in LANGUAGES}
        return [
            ({lang: line for lang, (line, _) in zip(each, said, strict=True)}, said[0][1])
            for said in zip(*each.values(), strict=True)
        ]

    def _findings(self, audio: Any, disk: Any, speech: Any, words: Words) -> list[tuple[str, bool]]:
        from cadence_coach.app.words import LANGUAGES
        from cadence_coach.live import ability

        why, latency = audio["reason"], audio["buffer_latency_s"]
        lines = [(words("check.devices", names=", ".join(d["name"] for d in audio["devices"]) or "–"), True)]
        lines.append(
            (
                words("check.sound", sink=audio["sink"], hz=audio["rate_hz"], why=why or words("check.ready")),
                why is None,
            )
        )
        if latency is not None:
            lines.append((words("check.buffer", ms=f"{1000 * latency:.0f}", frames=audio["block_frames"]), True))
            lines.append((words("check.radio"), True))
        lines.append((words("check.lost", n=audio["underflows"]), audio["underflows"] == 0))
        for name, (there, due) in speech.items():
            lines.append((words("check.speech", lang=LANGUAGES[name], n=there, all=due), there == due))
        lines.append((words("check.sensor", source=self.source), True))
        if disk["reason"]:
            lines.append((disk["reason"], False))
        else:
            room = f"{disk['free_mb']:.0f}"
            lines.append((words("check.room", folder=disk["folder"], mb=room), 1e6 * disk["free_mb"] > FREE_BYTES))
        return [*lines, (", ".join(f"{name} {version}" for name, version in ability.versions().items()), True)]

    @staticmethod
    def files() -> Path:
        return home()
