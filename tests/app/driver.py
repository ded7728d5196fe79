"""The test's side: starts the real app offscreen in a process of its own, and touches it."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, Self

ANSWER_S = 60.0
PAGE_S = 20.0
"""So long a page may take until its parts can be touched."""
ROOM = (1280, 1280)
"""An offscreen surface keeps the size it was made with and shows nothing beyond it: made large, then the window is made
smaller."""


class Driver:
    """One app. Methods are those of `driven.Hand`: tap(name), write(name, text), slide, storm, size, change, go, where,
    view, shot, facts ...; each returns the answer's values once two frames have been drawn after it."""

    patience_s = PAGE_S

    def __init__(self, home: Path, width: int = 360, height: int = 640, *, exact: bool = False, **given: Any) -> None:
        """exact: the window is made at that size and cannot grow. given: more for cadence_coach.app.run."""
        home.mkdir(parents=True, exist_ok=True)
        self.home = home
        self._kivy = tempfile.TemporaryDirectory(prefix="kivy-")
        env = {
            **os.environ,
            "CADENCE_COACH_HOME": str(home),
            "KIVY_HOME": self._kivy.name,
            "LANG": "en_GB.UTF-8",
            "BROWSER": "true",
        }
        made = (width, height) if exact else ROOM
        self.log = home / "app.log"
        with open(self.log, "ab") as log:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "tests.app.driven", json.dumps({"width": made[0], "height": made[1], **given})],
                cwd=Path(__file__).parents[2],
                env=env,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=log,
                text=True,
            )
        answer = self._answer()
        self.first_frame_s: float = answer["first_frame_s"]
        self.first_frame_cpu_s: float = answer["first_frame_cpu_s"]
        if not exact:
            self.size(width, height)
        shown: list[str] = []
        for _ in range(10):  # what comes after the first frame moves what a finger aims at
            if shown == (shown := self.texts()):
                break
            time.sleep(0.2)

    def _answer(self) -> dict[str, Any]:
        late = threading.Timer(ANSWER_S, self.process.kill)
        late.start()
        try:
            line = self.process.stdout.readline()  # type: ignore[union-attr]
        finally:
            late.cancel()
        if not line:
            raise AssertionError(f"the app has gone:\n{self.log.read_text()[-4000:]}")
        told = json.loads(line)
        if not told.pop("ok"):
            raise AssertionError(told["error"])
        return told

    def __getattr__(self, do: str) -> Callable[..., dict[str, Any]]:
        if do.startswith("_"):
            raise AttributeError(do)

        def ask(*args: Any, **given: Any) -> dict[str, Any]:
            names = {"tap": ["name", "hold"], "write": ["name", "text"], "size": ["width", "height"], "go": ["name"],
                     "shot": ["path"], "slide": ["points", "seconds"], "scroll": ["y"], "key": ["code"],
                     "host": ["does", "gives", "fails", "could_not"], "rows": ["names"],
                     "line": ["kind"], "storm": ["per_second", "seconds", "seed"]}.get(do, [])  # fmt: skip
            asked = {"do": do, **dict(zip(names, map(_plain, args), strict=False)), **given}
            end = time.monotonic() + self.patience_s
            while True:
                self.process.stdin.write(json.dumps(asked) + "\n")  # type: ignore[union-attr]
                self.process.stdin.flush()  # type: ignore[union-attr]
                try:
                    return self._answer()
                except AssertionError as error:  # a page that is still coming, on a busy machine
                    if "nothing to touch" not in str(error) or time.monotonic() > end:
                        raise
                    time.sleep(0.2)

        return ask

    @property
    def page(self) -> str:
        return str(self.where()["page"])

    def texts(self) -> list[str]:
        """All that can be read on the page, from top to bottom."""
        return [f["text"] for f in self.facts()["facts"] if f["text"]]

    def unlock(self, seconds: float = 2.2) -> None:
        """Draws along the arch of the water screen as a person does."""
        self.slide(self.arch()["points"], seconds)

    def until(self, there: Callable[[], Any], seconds: float = 30.0) -> Any:
        """Waits until `there()` is true; what it gave."""
        end = time.monotonic() + seconds
        while not (found := there()):
            assert time.monotonic() < end, f"not there after {seconds} s; the page reads: {self.texts()}"
            time.sleep(0.1)
        return found

    def kill(self) -> None:
        """As the system does it: without a word."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()

    def close(self) -> None:
        self.process.stdin.close()  # type: ignore[union-attr]
        try:
            self.process.wait(10)
        except subprocess.TimeoutExpired:
            self.kill()
        self.process.stdout.close()  # type: ignore[union-attr]
        self._kivy.cleanup()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def _plain(value: Any) -> Any:
    return str(value) if isinstance(value, Path) else value
