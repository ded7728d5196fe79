"""The unchanged detector on people it was not made for: open recordings of walking and running.

CADENCE_COACH_OPEN_DATA names their folder. Walking: Oxford step counter data set (CC BY 4.0), foot switches. Running:
Alcantara et al., Recurrent GRF Prediction (Apache-2.0), force treadmill. Foot switches were polled every 90-98 ms, so
steps are judged at +-100 ms after one constant lag a recording is removed (a step is not a push).

Where a goal is not met the test prints it beside what was measured and holds a regression value.
"""

from __future__ import annotations

import functools
import os
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from mir_eval.util import match_events

from cadence_coach.core.engine import Engine
from cadence_coach.sources import open_source
from cadence_coach.store.replay_json import Replayed

PLACE = os.environ.get("CADENCE_COACH_OPEN_DATA", "")
pytestmark = pytest.mark.skipif(
    not PLACE, reason="CADENCE_COACH_OPEN_DATA is not set: walking and running of real people were not tried"
)

GOAL = {"count_percent": 1.5, "cadence_per_min": 1.5, "f1": 0.92, "push_sd_ms": 8.0}


@functools.cache
def replayed(name: str) -> tuple[dict[str, Any], dict[str, Any]]:
    """Truth and replay document of a recording."""
    source = open_source(str(Path(PLACE) / name))
    truth = source.recording.truth()  # type: ignore[attr-defined]
    engine, found = Engine(), Replayed(source.start_s)
    for part in source:
        engine.receive(part)
        found.take(engine.events())
    engine.end()
    found.take(engine.events())
    source.close()
    return truth, found.document()


def names(kind: str) -> list[str]:
    found = sorted(p.name for p in Path(PLACE).iterdir() if p.is_dir() and kind in p.name)
    assert found, f"no {kind} recordings in the folder that CADENCE_COACH_OPEN_DATA names"
    return found


def cadence(times: np.ndarray) -> float:
    """Per minute, of the events in a window."""
    return 60 * (len(times) - 1) / (times[-1] - times[0]) if len(times) > 1 else 0.0


def walking() -> dict[str, float]:
    """Means over recordings of count and cadence error (windows of 10 s every 5 s), F1 over all."""
    hits = true_steps = cycles = 0
    counts: list[float] = []
    cadences: list[float] = []
    for name in names("walk"):
        truth, got = replayed(name)
        s = np.array(truth["steps_s"])
        c = np.array(sorted(x["onset_s"] for x in got["cycles"]))
        c = c[(c > s[0] - 0.5) & (c < s[-1] + 0.5)]
        hits += max(len(match_events(s, c - lag, truth["tolerance_s"])) for lag in np.arange(-0.4, 0.4001, 0.02))
        true_steps += len(s)
        cycles += len(c)
        counts.append(abs(len(c) - len(s)) / len(s) * 100)
        for w in np.arange(s[0], s[-1] - 10, 5):
            a, b = s[(s >= w) & (s < w + 10)], c[(c >= w) & (c < w + 10)]
            if len(a) > 3:
                cadences.append(abs(cadence(a) - cadence(b)))
    return {
        "count_percent": float(np.mean(counts)),
        "cadence_per_min": float(np.mean(cadences)),
        "f1": 2 * hits / (true_steps + cycles),
    }


def running() -> dict[str, float]:
    """Push time (above one body weight) against the force treadmill, pushes between 0.6 and 4.6 s of each trial."""
    errors: list[float] = []
    pushes = 0
    for name in names("run"):
        truth, got = replayed(name)
        ended = [c for c in got["cycles"] if c["push_end_s"] is not None]
        for a, b in truth["push"]:
            if 0.6 < a < 4.6:
                pushes += 1
                near = min(ended, key=lambda c: abs(c["onset_s"] - a), default=None)
                if near is not None and abs(near["onset_s"] - a) < 0.1:
                    errors.append((near["push_end_s"] - near["onset_s"]) - (b - a))
    return {"found": len(errors), "pushes": pushes, "push_sd_ms": float(1e3 * np.std(errors))}


def test_walking() -> None:
    got = walking()
    print(f"walking: {got}; goals {GOAL}")
    assert got["count_percent"] <= GOAL["count_percent"]
    assert got["f1"] >= GOAL["f1"]
    assert got["cadence_per_min"] <= GOAL["cadence_per_min"]


def test_running() -> None:
    got = running()
    print(f"running: {got}; goals {GOAL}")
    assert got["found"] >= 0.95 * got["pushes"]
    assert got["push_sd_ms"] <= GOAL["push_sd_ms"]


@pytest.mark.parametrize("speed", [False, True])
def test_nobody_flies(speed: bool) -> None:
    """With a speed of walking or running added (1.4, 3.5 m/s, a fix a second) as well as without."""
    for kind, pace in (("walk", 1.4), ("run", 3.5)):
        for name in names(kind):
            if not speed:
                assert replayed(name)[1]["flights"] == [], name
                continue
            source, engine = open_source(str(Path(PLACE) / name)), Engine()
            found, nan, due = Replayed(), float("nan"), 0.5
            for part in source:
                for row in part:
                    if row[1] >= due:
                        engine.receive([(2, due, due - 0.3, pace, nan, nan, 0.3, nan)])
                        due += 1.0
                    engine.receive([row])
                found.take(engine.events())
            engine.end()
            found.take(engine.events())
            source.close()
            assert found.document()["flights"] == [], name
