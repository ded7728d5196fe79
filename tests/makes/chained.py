"""Outings to learn from that are written as a chain of pieces of motion: stand, walk, run up, jump, pump, fall, swim.

A pump is two skewed bumps, up and down, that balance (`chained_pump`), by a rider who is dealt (`chained_rider`);
tries have their starts and ends (`chained_flight`), between them people stand, walk, swim (`chained_ashore`). All of it
is one chain at 1 kHz (`chained_piece`), smoothed as flesh smooths it; truth is read off it (`chained_truth`), and a
phone records it (`chained_phone`). As riders are expected to be: 1.05-1.95 Hz, period CV 2-7 %, push share 0.18-0.55,
peak 1.4-2.6 g, flights of 4-110 pumps; an outing lasts 2 to 5 minutes; 50, 100 or 200 Hz, jitter to 3 ms, gaps to
0.35 s, a gyroscope in half, speed in three quarters. All values are the maker's own choice.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.ndimage import gaussian_filter1d

from cadence_coach.sim import SimulatedOuting

from .chained_ashore import knee_bends, rig, run, sit, stand, swim, walk
from .chained_flight import attempt
from .chained_phone import recorded
from .chained_piece import Chain
from .chained_rider import Rider, draw_rider
from .chained_truth import FLIGHT, truth_of
from .drawn_motion import Array

KINDS = ("calm", "rough", "short", "long", "tow", "step", "mixed", "landwalk")
"""In turn. rough: chop and a bad seat of the phone; tow, step: every start is one; mixed: any start; the others are run
up to, and now and then stepped on but in short; landwalk: nobody flies."""
RATES = (100, 50, 200)
ROUGH = {"rough": 1.0, "calm": 0.0, "tow": 0.5}
"""Of the others it is drawn."""
PUMPS = {
    "calm": (15, 75), "rough": (12, 65), "short": (4, 15), "long": (70, 111), "tow": (12, 80), "step": (10, 65),
    "mixed": (5, 90),
}  # fmt: skip
"""Of a flight, from the first number to one under the second."""
DAY = {"walk": 0.27, "stand": 0.22, "run": 0.10, "knee": 0.10, "swim": 0.11, "sit": 0.08, "rig": 0.12}
"""What is done in a landwalk, by how often."""
LATEST, LAST = 240, 235
"""[s] after which nobody starts again; after which a try was the last one."""
ALL = 292
"""[s] at which the longest flight is over, with 36 s for what is around it."""


def kind_of(number: int) -> str:
    """Eight numbers in a row have all KINDS."""
    return KINDS[number % len(KINDS)]


def rate_of(number: int) -> int:
    """[Hz]; 24 numbers in a row have each kind at each rate."""
    return RATES[(number // len(KINDS) + number % len(KINDS)) % len(RATES)]


Made = tuple[Chain, dict[str, Array], dict[str, Any]]
"""The chain, whose generator goes on to the phone; its columns as the body feels them; what is true of them."""


def motion_of(seed: int, number: int) -> Made:
    r, kind = np.random.default_rng([seed, number, 20771]), kind_of(number)
    drawn = float(r.choice([0.0, 0.3, 0.6]))
    rider, c = draw_rider(r, seed, number), Chain(r, ROUGH.get(kind, drawn))
    total = r.uniform(140, 275)
    if kind == "landwalk":
        _landwalk(c, total)
    else:
        _tries(c, rider, kind, total)
    stand(c, 0.5)
    columns = _softened(c)
    return c, columns, truth_of(columns["up"], c.attempts) | {"kind": kind}


def _softened(c: Chain) -> dict[str, Array]:
    """The body is soft, and there is a little swell under the foil."""
    columns = c.whole()
    up = gaussian_filter1d(columns["up"], c.u(6, 11), mode="nearest")
    swell = gaussian_filter1d(c.band(c.length, 0.15, 0.6, 0.002 + 0.005 * c.rough), 20)
    fore, left = gaussian_filter1d(columns["fore"], 15), gaussian_filter1d(columns["left"], 15)
    return columns | {"up": up + swell, "fore": fore, "left": left}


def _landwalk(c: Chain, total: float) -> None:
    """All that is no flight, in any order, until total [s]."""
    while c.now < total:
        match str(c.r.choice(list(DAY), p=list(DAY.values()))):
            case "walk":
                walk(c, c.u(8, 25))
            case "stand":
                stand(c, c.u(3, 12))
            case "run":
                lasts, rate = c.u(2, 6), (c.u(2.5, 2.7), c.u(2.6, 2.9))
                run(c, lasts, rate, (1.0, c.u(2.5, 3.5)), c.u(0.62, 0.78))
                stand(c, c.u(1, 2))
            case "knee":
                knee_bends(c, c.u(6, 14))
                stand(c, 1.0)
            case "swim":
                swim(c, c.u(8, 25))
            case "sit":
                sit(c, c.u(6, 20))
            case "rig":
                rig(c, c.u(4, 12))


def _tries(c: Chain, rider: Rider, kind: str, total: float) -> None:
    """Tries and the ways back, until total [s]; at least one flies, if there is time."""
    stand(c, c.u(2, 6))
    while c.now < total or not any(len(tried.pumps) >= FLIGHT for tried in c.attempts):
        started_by = _start(c, kind)
        fails = c.r.random() < (0.22 if kind in ("short", "mixed") else 0.12)
        count = _count(c, rider, kind, fails)
        if c.now > LATEST and c.attempts:
            break
        attempt(c, rider, started_by, count, _end(c, count, fails))
        if c.now > LAST:
            swim(c, c.u(4, 8))
            break
        _back(c, kind, started_by)


def _start(c: Chain, kind: str) -> str:
    if kind == "tow":
        return "rope"
    if kind == "step":
        return "step"
    if kind == "mixed":
        return str(c.r.choice(["run_up", "rope", "step"]))
    return "step" if kind in ("calm", "long", "rough") and c.r.random() < 0.35 else "run_up"


def _count(c: Chain, rider: Rider, kind: str, fails: bool) -> int:
    """Pumps of the next try, of which there must be time for a flight's."""
    count = int(c.r.integers(0, 3)) if fails else int(c.r.integers(*PUMPS[kind]))
    return min(count, int((ALL - 36 - c.now) * 0.93 * rider.cadence)) if count >= FLIGHT else count


def _end(c: Chain, count: int, fails: bool) -> str:
    falls = fails and c.r.random() < 0.85
    end = "fall" if falls else str(c.r.choice(["fall", "touch_down", "coast_out"], p=[0.45, 0.31, 0.24]))
    if count < FLIGHT:
        return "fall" if c.r.random() < 0.8 else "touch_down"
    return end


def _back(c: Chain, kind: str, started_by: str) -> None:
    """To where the next try begins."""
    swim(c, c.u(4, 14))
    if kind == "short" and c.r.random() < 0.7:
        sit(c, c.u(6, 20))
    if started_by == "rope":
        sit(c, c.u(1, 5))
        return
    rig(c, c.u(2, 6))
    if c.r.random() < 0.55:
        walk(c, c.u(4, 12))
    elif c.r.random() < 0.5:
        stand(c, c.u(3, 9), wet=0.3)


def chained_outing(seed: int, number: int) -> SimulatedOuting:
    """The outing as a phone records it, of the kind that the number has. The same arguments give the same outing."""
    c, columns, truth = motion_of(seed, number)
    accel, gyro, fixes = recorded(c, columns, rate_of(number))
    return SimulatedOuting(accel, gyro, fixes, truth, {})
