"""Three slaps on the pouch are found, and nothing else is taken for them."""

from __future__ import annotations

import csv
import gzip
import math
import os
import random
import warnings
from collections.abc import Callable
from pathlib import Path

import pytest

from cadence_coach.core.events import Event, FlightEnded, FlightStarted, Gap, Slaps
from cadence_coach.core.slaps import SlapFinder
from cadence_coach.core.units import G

from .plain import magnitude

Sample = tuple[float, float, float, float]
RATES = (50.0, 100.0, 200.0)


def floating(t: float) -> float:
    """Swimming slowly: a wave of 0.1 g [g]."""
    return 1.0 + 0.1 * math.sin(2 * math.pi * t / 3.0)


def slap(t: float, peak: float) -> float:
    """Half a sine of 30 ms, then the pouch rings at 12 Hz and dies away in 60 ms."""
    if 0.0 <= t < 0.03:
        return peak * math.sin(math.pi * t / 0.03)
    if t >= 0.03:
        return -0.3 * peak * math.sin(2 * math.pi * 12.0 * (t - 0.03)) * math.exp(-(t - 0.03) / 0.06)
    return 0.0


def rows(
    rate: float, seed: int, body: Callable[[float], float], blows: list[float], peak: float = 4.0, seconds: float = 8.0
) -> list[Sample]:
    """(t, ax, ay, az): the body moves along a tilted axis, the slaps come square to the pouch; 2 ms of jitter, 0.03
    g of noise."""
    rng = random.Random(seed)
    out, t = [], 0.0
    while t < seconds:
        v = body(t)
        hit = sum(slap(t - b, peak) for b in blows)
        noise = [rng.gauss(0.0, 0.03) for _ in range(3)]
        out.append((t, (0.6 * v + noise[0]) * G, (0.8 * v + noise[1]) * G, (hit + noise[2]) * G))
        t += max(0.002, 1.0 / rate + rng.gauss(0.0, 0.002))
    return out


def found(
    samples: list[tuple[float, float, float, float]], heard: list[tuple[float, Event]] | None = None
) -> list[Slaps]:
    finder, waiting, last = SlapFinder(), list(heard or []), 0.0
    for t, x, y, z in samples:
        while waiting and waiting[0][0] <= t:
            finder.hear(waiting.pop(0)[1])
        finder.look(t, t - last, magnitude(x, y, z))
        last = t
    return [e for e in finder.found if isinstance(e, Slaps)]


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("seed", range(20))
def test_three_slaps_are_found(rate: float, seed: int) -> None:
    rng = random.Random(seed)
    apart = rng.uniform(0.28, 0.6)
    first = 4.0 + rng.random()
    blows = [first, first + apart, first + 2 * apart + rng.uniform(-0.08, 0.08)]
    (e,) = found(rows(rate, seed, floating, blows, rng.uniform(4.5, 8.0)))
    assert e.time == pytest.approx(blows[0], abs=0.04)
    assert 0.7 < e.known - blows[2] < 1.1


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize(
    "blows",
    [
        [],
        [5.0],
        [5.0, 5.4],
        [5.0, 5.4, 5.8, 6.2],
        [5.0, 5.4, 7.0],
        [5.0, 5.2, 5.95],
        [4.4, 5.0, 5.4, 5.8],
        [5.0, 6.0, 7.0],
    ],
    ids=["none", "one", "two", "four", "late third", "uneven", "one just before", "too slow"],
)
def test_other_numbers_and_rhythms_are_not(rate: float, blows: list[float]) -> None:
    assert found(rows(rate, 1, floating, blows, 6.0)) == []


@pytest.mark.parametrize("rate", RATES)
def test_pumping_running_and_walking_are_not(rate: float) -> None:
    def pumping(t: float) -> float:
        return 1.0 + 0.8 * math.sin(2 * math.pi * 1.5 * t)

    def running(t: float) -> float:
        return 2.6 * abs(math.sin(2 * math.pi * 1.4 * t))

    def three_steps(t: float) -> float:
        return 1.0 + (2.2 * abs(math.sin(math.pi * t / 0.35)) if 5.0 <= t < 5.0 + 3 * 0.35 else 0.0)

    for body in (pumping, running, three_steps):
        assert found(rows(rate, 2, body, [])) == []


def test_not_while_aloft() -> None:
    blows = [5.0, 5.4, 5.8]
    started = FlightStarted(3.0, 3.0, 0, 0, 0, "run_up")
    ended = FlightEnded(4.5, 4.6, 0, 3.0, 3, 4, 1.4, 0.45, 0.6, 0.03, "run_up", "fall", 0.0)
    samples = rows(100.0, 3, floating, blows, 6.0)
    assert found(samples, [(3.0, started)]) == []
    assert len(found(samples, [(3.0, started), (4.6, ended)])) == 1


def test_a_gap_between_the_slaps_forgets_them() -> None:
    samples = [r for r in rows(100.0, 4, floating, [5.0, 5.4, 5.8], 6.0) if not 5.2 < r[0] < 5.3]
    assert found(samples, [(5.3, Gap(5.2, 5.3, 5.3))]) == []


def test_people_on_foot_never_slap() -> None:
    """Open recordings: 20 min of walking with a phone in pouch, pockets, hand and purse, and treadmill running
    (sources and licences stand with the data). Found: none."""
    folder = os.environ.get("CADENCE_COACH_OPEN_DATA")
    if not folder:
        warnings.warn("CADENCE_COACH_OPEN_DATA is not set: slaps were not tried on open recordings", stacklevel=1)
        return
    files = sorted(Path(folder).glob("*/accel.csv.gz"))
    assert files, f"no recordings in {folder}"
    for path in files:
        with gzip.open(path, "rt") as lines:
            samples = [
                (float(r["t_s"]), float(r["ax_m_s2"]), float(r["ay_m_s2"]), float(r["az_m_s2"]))
                for r in csv.DictReader(lines)
            ]
        assert found(samples) == [], path.parent.name
