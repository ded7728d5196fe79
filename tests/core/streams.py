"""Simulated rides as rows, and engines that eat them: what the tests of filters, cycles and engine share."""

from __future__ import annotations

import functools
from collections.abc import Iterable

import numpy as np

from cadence_coach.core.engine import Engine
from cadence_coach.core.events import ACCEL, Event, FlightEnded, Onset, PushEnd, Row
from cadence_coach.core.units import G
from cadence_coach.sim import SimulatedOuting, simulate_outing
from cadence_coach.sources.simulated import rows_of

NAN = float("nan")


@functools.cache
def outing(kind: str = "calm", seed: int = 5, rate: float = 100.0) -> SimulatedOuting:
    return simulate_outing(seed, kind, rate)


def rows(o: SimulatedOuting, gyro: bool = False, fixes: bool = True) -> list[Row]:
    return [r for part in rows_of(o.accel, o.gyro if gyro else None, o.fixes if fixes else None) for r in part]


def run(all_rows: Iterable[Row], sizes: Iterable[int] | None = None) -> list[Event]:
    """Every event of an engine that is handed all rows at once, or in pieces of these sizes, the rest at once."""
    engine, found = Engine(), []
    left = list(all_rows)
    for size in sizes or ():
        engine.receive(left[:size])
        found += engine.events()
        left = left[size:]
    engine.receive(left)
    engine.end()
    return found + engine.events()


def of(events: list[Event], *kinds: type) -> list[Event]:
    return [e for e in events if isinstance(e, kinds)]


def pump_onsets(events: list[Event]) -> np.ndarray:
    """Onsets [s] of all cycles that belong to a flight."""
    spans = [(f.start, f.last_cycle, f.skipped) for f in events if isinstance(f, FlightEnded)]
    onsets = [e for e in events if isinstance(e, Onset)]
    return np.array([
        e.time for e in onsets
        if any(start <= e.time and e.number <= last and e.number not in skip for start, last, skip in spans)
    ])  # fmt: skip


def crossings(events: list[Event]) -> list[tuple[str, float]]:
    return [(type(e).__name__, e.time) for e in events if isinstance(e, Onset | PushEnd)]


def bounce(seconds: float = 20.0, rate: float = 100.0, cadence: float = 1.6, seed: int = 0) -> list[Row]:
    """A body that bounces evenly, 0.6 g about 1 g, along an axis askew, with a little noise, so that no two rows are
    the same."""
    rng = np.random.default_rng(seed)
    t = np.arange(round(seconds * rate)) / rate
    v = G * (1.0 + 0.6 * np.sin(2 * np.pi * cadence * t))
    xyz = (v[:, None] * np.array([0.48, 0.60, 0.64]) + 0.05 * rng.standard_normal((len(t), 3))).astype(np.float32)
    return [(ACCEL, s, *a) for s, a in zip(t.tolist(), xyz.tolist(), strict=True)]
