"""What the app costs: `python -m tests.app.bench`. Software GL, offscreen, 360 x 640.

First frame: from the start of the process' own code to the first drawn frame, best and middle of some starts, on the
clock and as processor time (a busy machine makes the former long); beside it an empty Kivy window in the same run. Ten
updates a second: processor time of the process while the water screen follows an outing in flight, beside the same
screen left alone, in % of one core.
"""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.app.driver import Driver
from tests.app.pages import FLIGHT, TOLD

STARTS = 5
WATCHED_S = 10.0

EMPTY = """
import time; t = time.perf_counter()
import os
os.environ.update(SDL_VIDEODRIVER="offscreen", KIVY_NO_ARGS="1", KIVY_NO_CONSOLELOG="1", KIVY_NO_FILELOG="1")
from kivy.config import Config
Config.set("graphics", "width", "360"); Config.set("graphics", "height", "640")
Config.set("graphics", "multisamples", "0")
from kivy.app import App
from kivy.clock import Clock
from kivy.core.window import Window
from kivy.uix.label import Label
class Empty(App):
    def build(self): return Label(text="empty")
    def on_start(self): Window.bind(on_flip=self.drawn)
    def drawn(self, *_): Window.unbind(on_flip=self.drawn); Clock.schedule_once(self.ready, 0)
    def ready(self, _): print(time.perf_counter() - t, time.process_time()); self.stop()
Empty().run()
"""


def cpu_s(pid: int) -> float:
    """Processor time of a process so far [s]."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def starts() -> dict[str, list[float]]:
    out: dict[str, list[float]] = {"app": [], "app, processor": [], "empty window": [], "empty window, processor": []}
    for _ in range(STARTS):
        with tempfile.TemporaryDirectory() as home, Driver(Path(home), exact=True) as app:
            out["app"].append(app.first_frame_s)
            out["app, processor"].append(app.first_frame_cpu_s)
        with tempfile.TemporaryDirectory() as kivy:
            script = Path(kivy) / "empty.py"  # an App wants to know the file it was written in
            script.write_text(EMPTY, "utf-8")
            done = subprocess.run(
                [sys.executable, str(script)], env={**os.environ, "KIVY_HOME": kivy}, capture_output=True, text=True
            )
            wall, cpu = map(float, done.stdout.split()[-2:])
            out["empty window"].append(wall)
            out["empty window, processor"].append(cpu)
    return out


def updates() -> dict[str, float]:
    """Share of a core, with a snapshot that changes ten times a second (timer, pumps, cadence, mark) and without."""
    with tempfile.TemporaryDirectory() as home, Driver(Path(home), exact=True) as app:
        app.go("water")
        app.line("here", **FLIGHT)
        out = {}
        for what, hz in (("left alone", 0.0), ("10 updates a second", 10.0)):
            app.follow(hz=hz, snapshot={**FLIGHT, "summary": TOLD})
            time.sleep(1.0)
            began, used = time.monotonic(), cpu_s(app.process.pid)
            time.sleep(WATCHED_S)
            out[what] = 100 * (cpu_s(app.process.pid) - used) / (time.monotonic() - began)
        return out


def main() -> None:
    found = {"first_frame_s": starts(), "percent_of_a_core": updates()}
    for what, seconds in found["first_frame_s"].items():
        print(f"first frame, {what:<24} best {min(seconds):.2f} s, middle {statistics.median(seconds):.2f} s")
    for what, percent in found["percent_of_a_core"].items():
        print(f"water screen, {what:<20} {percent:.1f} % of a core")
    load = os.getloadavg()[0]
    print(f"load of this machine {load:.1f} on {os.cpu_count()} cores")
    print(json.dumps(found))


if __name__ == "__main__":
    main()
