"""How even the clicks are: through a real audio server with both cores busy, beside a loop that sleeps and Kivy's
Clock, which are what a metronome is usually made of.

Ours is measured in what the server played; the other two at the moment when they would hand the click to an output, so
without whatever that output adds. Needs pulseaudio, pactl and parec (tests/run installs them).
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from .tables import missed, table

PER_MIN = 114.0
SECONDS = 20.0
GOAL_MS = 0.02
BURN = [sys.executable, "-c", "while True: sum(range(1000))"]
ROOT = Path(__file__).parents[2]


def through_a_server() -> np.ndarray:
    """Times [s] of the clicks that a private PulseAudio server played."""
    from tests.sound.pulse import RATE, Pulse
    from tests.sound.test_server import clicks_in

    with tempfile.TemporaryDirectory() as room:
        pulse = Pulse(Path(room))
        pulse.start()
        try:
            recorder = pulse.record(Path(room) / "heard.raw")
            play = [sys.executable, "-m", "tests.sound.player", str(SECONDS), str(PER_MIN)]
            done = subprocess.run(play, env=pulse.env, cwd=ROOT, capture_output=True, text=True, check=True)
            time.sleep(0.3)
            recorder.terminate()
            recorder.wait()
            lost = json.loads(done.stdout)["underflows"]
            if lost:
                print(
                    f"the server ran dry {lost} times: the machine was too busy to be told apart from us",
                    file=sys.stderr,
                )
            return clicks_in(Path(room) / "heard.raw") / RATE
        finally:
            pulse.kill()


def sleeping() -> np.ndarray:
    """Times [s] at which a loop of time.sleep wakes for each click; it aims at the beat, so errors do not add up."""
    period, out = 60 / PER_MIN, []
    began = time.monotonic()
    for k in range(1, int(SECONDS / period)):
        time.sleep(max(0.0, began + k * period - time.monotonic()))
        out.append(time.monotonic() - began)
    return np.array(out)


def kivy_clock() -> np.ndarray:
    """Times [s] at which Kivy's Clock calls back for each click, in its usual loop of 60 frames a second."""
    os.environ |= {"KIVY_NO_ARGS": "1", "KIVY_NO_CONSOLELOG": "1", "KIVY_NO_FILELOG": "1"}
    from kivy.clock import Clock

    period, out = 60 / PER_MIN, []
    began = time.monotonic()
    event = Clock.schedule_interval(lambda _: out.append(time.monotonic() - began), period)
    while time.monotonic() - began < SECONDS:
        Clock.tick()
    event.cancel()
    return np.array(out)


WAYS: dict[str, Callable[[], np.ndarray]] = {
    "**cadence coach, as heard**": through_a_server,
    "time.sleep": sleeping,
    "Kivy Clock": kivy_clock,
}


def report() -> tuple[str, list[str]]:
    burners = [subprocess.Popen(BURN) for _ in range(os.cpu_count() or 2)]
    try:
        apart = {name: 1e3 * np.diff(way()) for name, way in WAYS.items()}
    except RuntimeError as error:
        return f"Not tried: {error}", ["clicks through a server: not tried"]
    finally:
        for burner in burners:
            burner.kill()
            burner.wait()
    beat = 60e3 / PER_MIN
    rows = [[n, f"{len(d) + 1}", f"{np.std(d):.3f}", f"{np.max(np.abs(d - beat)):.2f}"] for n, d in apart.items()]
    sd = float(np.std(next(iter(apart.values()))))
    text = table([f"clicks at {PER_MIN:.0f} a minute, all cores busy", "clicks", "SD ms", "worst ms"], rows)
    return text, missed(sd, GOAL_MS, f"clicks SD {sd:.3f} ms through a server, goal {GOAL_MS}")
