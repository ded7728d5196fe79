"""What the app asks of the phone: permissions, starting the engine, the share sheet. The only place of the screen's
process that speaks with Java; `main.py` hands a Host to the app."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

from jnius import autoclass

from cadence_coach.sound.sinks import open_sink
from cadence_coach.sources import phone_check
from cadence_coach.sources.phone import open as open_phone

Phone = autoclass("cadencecoach.phone.Phone")
SharedFiles = autoclass("cadencecoach.phone.SharedFiles")
ServiceCoach = autoclass("cadencecoach.phone.ServiceCoach")
PythonActivity = autoclass("org.kivy.android.PythonActivity")
for name in ("SensorBatcher", "LocationSink", "HeadsetButton", "AudioSink"):
    autoclass(f"cadencecoach.phone.{name}")  # looked up here, on the main thread: the self-test runs on another

NEEDED = ("android.permission.ACCESS_FINE_LOCATION", "android.permission.ACCESS_COARSE_LOCATION")
"""Without these an outing has no speed; it is ridden all the same."""
NOTIFY = "android.permission.POST_NOTIFICATIONS"
"""Exists from Android 13 (33) on; without it the engine runs unseen."""

KINDS = {
    ".html": "text/html",
    ".gpx": "application/gpx+xml",
    ".json": "application/json",
    ".csv": "text/csv",
    ".txt": "text/plain",
}


class Host:
    """One phone. Every method may be called from the screen's thread and returns at once."""

    def __init__(self) -> None:
        self._activity = PythonActivity.mActivity

    def missing(self) -> list[str]:
        """Permissions that the rider has not given (yet)."""
        asked = [*NEEDED, *([NOTIFY] if Phone.release() >= 33 else [])]
        return [name for name in asked if not Phone.allowed(self._activity, name)]

    def ask(self) -> None:
        """Android's own question; the answer is seen by asking `missing` again."""
        if names := self.missing():
            Phone.ask(self._activity, names)

    def start(self, plan: str) -> None:
        """Starts the engine's process with a plan (cadence_coach.live.on_phone.plan_text). The app must be in front."""
        ServiceCoach.start(self._activity, plan)

    def share(self, file: Path, title: str) -> None:
        """Opens the share sheet with a copy of the file."""
        folder = Path(SharedFiles.folder(self._activity))
        for old in folder.iterdir():
            old.unlink()
        shutil.copyfile(file, folder / file.name)
        SharedFiles.share(self._activity, file.name, KINDS.get(file.suffix, "application/octet-stream"), title)

    def spared(self) -> bool:
        """Whether the phone's battery saver leaves the coach alone."""
        return bool(Phone.spared(self._activity))

    def open_battery_settings(self) -> None:
        Phone.openBatterySettings(self._activity)

    def check(self, told: Callable[[float], None], going: Callable[[], bool]) -> list[tuple[dict[str, str], bool]]:
        """The self-test, half a minute long, on a thread of the app's: findings as (line by language, whether it will
        do). told: the share that is done; going: false ends it early."""
        found = phone_check.run(autoclass, told=told, going=going)
        return [({lang: phone_check.line(f, lang) for lang in phone_check.TEXTS}, f.passed) for f in found]

    def sink(self) -> Any:
        """The phone's output, not started; for a sound from the screen while no outing runs."""
        return open_sink("phone")

    def tapping(self) -> tuple[Any, Any]:
        """Output and sensor, for taps on the case while no outing runs; on a thread of the app's."""
        return open_sink("phone"), open_phone()

    @staticmethod
    def files() -> Path:
        """The app's own folder."""
        return Path(os.environ["ANDROID_PRIVATE"])
