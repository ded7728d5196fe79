"""A small made-up outing with every kind of entry, for the tests of the file."""

from __future__ import annotations

import math

import numpy as np

from cadence_coach.core import events as ev
from cadence_coach.store.chunks import Rows, to_grid
from cadence_coach.store.outing import Command, Note, Outing


def rows(n: int = 500, gyro: bool = True, seed: int = 1) -> list[ev.Row]:
    rng = np.random.default_rng(seed)
    noise = rng.normal(size=(n, 5)).astype(np.float32).tolist()
    swing = (9.81 + 3 * np.sin(np.arange(n) / 10)).astype(np.float32).tolist()
    out: list[ev.Row] = []
    for i in range(n):
        late, ax, ay, wx, wz = noise[i]
        t = to_grid(i * 0.01 + late * 0.001)
        out.append((ev.ACCEL, t, ax, ay, swing[i]))
        if gyro:
            out.append((ev.GYRO, to_grid(t - 0.0005), wx, -0.0, wz))
        if i % 100 == 50:
            out.append((ev.FIX, t, to_grid(t - 0.8), 4.25, 47.5 + i * 1e-7, 9.5, 2.5, math.nan))
    # what a broken sensor may say must come back as it was: not a number, backward time, beyond any range
    out.insert(n // 2, (ev.ACCEL, math.nan, 0.0, math.nan, math.inf))
    out.insert(n // 2, (ev.ACCEL, to_grid(0.5), 1.0, -math.inf, 2.0))
    return out


def outing(n: int = 500, gyro: bool = True) -> Outing:
    raw = Rows.of(rows(n, gyro))
    used = np.zeros((len(raw.fixes), 1))
    used[::2] = 1
    return Outing(
        uuid="7a9f6f4e-0000-4000-8000-000000000001",
        start_utc="2026-05-01T08:00:00Z",
        meta={"format": "cadence-coach-outing/1", "versions": {"app": "1", "detector": "1"}, "ended": "stopped"},
        profile={"rider": {"name": "Invented Ina", "mass_kg": 70}},
        settings={"level": "first"},
        accel=raw.accel,
        gyro=raw.gyro if gyro else None,
        fixes=np.hstack([raw.fixes, used]),
        cycles=[
            ev.CycleDone(1.0 + i, 1.1 + i, i, 0.1 + i, 0.3 + i, 0.5 + i, 0.8 + i, 1.7, 0.4, 0.6, math.nan)
            for i in range(5)
        ],
        attempts=[ev.AttemptEnded(9.0, 9.5, 0, 0.0, 5, "run_up", None, 0.7, "fall", None)],
        flights=[ev.FlightEnded(6.0, 7.0, 0, 0.1, 4, 5, 1.0, 0.4, 0.6, 0.03, "run_up", "fall", 0.0, (3,))],
        flight_starts=[ev.FlightStarted(0.1, 3.2, 0, 0, 0, "run_up")],
        cues=[ev.Cue(4.0, 4.0, "quicker", "1.02 Hz, band 1.2-1.5")],
        held=[ev.Held(5.0, 5.0, "quicker", "8 s have not passed")],
        clicks=[ev.Click(5.5, 5.0, "click", 0.9, "own")],
        summaries=[ev.Summary(12.0, 12.0, 0, (("seconds", 5.9), ("best", None), ("held", "yes")), ("s05", "p5"), None)],
        gaps=[ev.Gap(7.0, 7.5, 7.5)],
        faults=[ev.Fault(7.2, 7.5, "silent", 1)],
        notes=[Note("n1", "Coach Carl (invented)", "2026-05-01T09:00:00Z", 4.5, "Späterer Druck")],
        tags={"foot_forward": "left", "kit": "large wing"},
        kinds=raw.kinds,
        commands=[Command(10, 0.1, "arm", {"how": "dock"})],
    )
