"""The exact answer at given speeds: which cadences are possible, which cost least, and why none where none is.

    solve(setup, speeds) -> Solved      arrays, one entry a speed; NaN where nothing is feasible
    feasible_speeds(setup) -> (lowest, highest) or None

Everything else (`band`) is a table of this.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import attrs
import numpy as np

from cadence_coach.foil.drag import lift_coefficient
from cadence_coach.foil.pumping import LIMITS, Cycle, Pump, golden
from cadence_coach.foil.setup import Setup

SLOWEST, FASTEST = 0.5, 3.2
"""Cadences looked at [Hz]."""
USUAL = (1.0, 2.2)
"""A target and its band stay inside these [Hz]: common practice is 1 to 2 pumps a second."""
INNER, OUTER = 1.03, 1.08
"""The band is where the cost stays under INNER x its least; OUTER for those who want to see how flat it is."""
SPEEDS = (1.5, 9.0)
"""Speeds looked at [m/s]."""
_SCAN = np.arange(SLOWEST, FASTEST + 1e-9, 0.02)


@attrs.frozen(eq=False)
class Solved:
    """Arrays over speed. Cadences in Hz; `pump` is the cheapest pump at `target`; `reasons` the limits in the way, ""
    if none."""

    speed: np.ndarray
    hard_lo: np.ndarray
    lo: np.ndarray
    target: np.ndarray
    hi: np.ndarray
    hard_hi: np.ndarray
    outer_lo: np.ndarray
    outer_hi: np.ndarray
    size_needed: np.ndarray
    pump: Pump
    reasons: tuple[tuple[str, ...], ...]
    gravity: float

    @property
    def feasible(self) -> np.ndarray:
        return np.asarray(np.isfinite(self.target))


def _room(setup: Setup, speed: Any, cadence: Any, without: tuple[str, ...] = ()) -> np.ndarray:
    """Width of the allowed interval of `active`; negative where there is none."""
    lo, hi = Cycle(setup, speed, cadence).active_range(without)
    return np.asarray(hi - lo)


def _bisect(inside: Any, good: np.ndarray, bad: np.ndarray, steps: int = 24) -> np.ndarray:
    """The edge between points where `inside` holds and points where it does not; the answer is on the good side."""
    good, bad = good.copy(), bad.copy()
    for _ in range(steps):
        middle = (good + bad) / 2
        ok = inside(middle)
        good, bad = np.where(ok, middle, good), np.where(ok, bad, middle)
    return good


def hard_limits(setup: Setup, speed: np.ndarray, without: tuple[str, ...] = ()) -> tuple[np.ndarray, np.ndarray]:
    """Slowest and fastest cadence [Hz] that the limits allow at each speed, within SLOWEST .. FASTEST; NaN where
    none."""
    room = _room(setup, speed[:, None], _SCAN[None, :], without) >= 0
    some = room.any(axis=1)
    first, last = room.argmax(axis=1), len(_SCAN) - 1 - room[:, ::-1].argmax(axis=1)
    lo = _SCAN[first]
    lo = np.where(first > 0, _bisect(lambda f: _room(setup, speed, f, without) >= 0, lo, _SCAN[first - 1]), lo)
    hi = _SCAN[last]
    after = _SCAN[np.minimum(last + 1, len(_SCAN) - 1)]
    hi = np.where(last < len(_SCAN) - 1, _bisect(lambda f: _room(setup, speed, f, without) >= 0, hi, after), hi)
    return np.where(some, lo, np.nan), np.where(some, hi, np.nan)


def possible(setup: Setup, speed: np.ndarray, without: tuple[str, ...] = ()) -> np.ndarray:
    """Whether any cadence inside USUAL is allowed at each speed, but for the limits named."""
    usual = np.arange(USUAL[0], USUAL[1] + 1e-9, 0.02)
    return np.asarray((_room(setup, speed[:, None], usual[None, :], without) >= 0).any(axis=1))


def _reasons(setup: Setup, speed: float) -> tuple[str, ...]:
    """The limits in the way at a speed, the likeliest first: those without which it would go, or else all that take
    part."""
    at = np.array([speed])
    if float(lift_coefficient(setup, speed)) >= setup.cl_max:
        return ("stall",)
    alone = tuple(n for n in LIMITS if possible(setup, at, (n,))[0])
    if alone:
        return alone
    for left in LIMITS:  # two together: those that must both go
        pair = tuple(n for n in LIMITS if n != left)
        if possible(setup, at, pair)[0]:
            return pair
    return LIMITS


def solve(setup: Setup, speeds: Any) -> Solved:
    """The exact answer at each speed [m/s]; ValueError for one that is not above 0."""
    speed = np.atleast_1d(np.asarray(speeds, dtype=float))
    if not (np.isfinite(speed).all() and (speed > 0).all()):
        raise ValueError("speed must be finite and above 0")
    hard_lo, hard_hi = hard_limits(setup, speed)
    good = possible(setup, speed)
    nan = np.where(good, 0.0, np.nan)
    lo = np.where(good, np.maximum(hard_lo, USUAL[0]), 1.0)
    hi = np.where(good, np.minimum(hard_hi, USUAL[1]), 1.0)

    def cost(cadence: np.ndarray) -> np.ndarray:
        cycle = Cycle(setup, speed, cadence)
        return np.asarray(cycle.cost(cycle.best()))

    target = golden(cost, lo, hi, steps=11) if good.any() else lo
    most = np.array([INNER, INNER, OUTER, OUTER])[:, None] * cost(target)
    ends = np.stack([lo, hi, lo, hi])
    inside = _bisect(lambda f: cost(f) <= most, np.broadcast_to(target, ends.shape), ends, 18 if good.any() else 0)
    edges = np.where(cost(ends) <= most, ends, inside) + nan
    cycle = Cycle(setup, speed, target)
    pump = cycle.pump(cycle.best(steps=14))
    return Solved(
        speed=speed,
        hard_lo=hard_lo + nan,
        lo=np.minimum(edges[0], target),
        target=target + nan,
        hi=np.maximum(edges[1], target),
        hard_hi=hard_hi + nan,
        outer_lo=np.minimum(edges[2], target),
        outer_hi=np.maximum(edges[3], target),
        size_needed=cycle.least_size(pump.power) + nan,
        pump=pump,
        reasons=tuple(() if ok else _reasons(setup, float(v)) for ok, v in zip(good, speed, strict=True)),
        gravity=setup.gravity,
    )


@lru_cache(maxsize=64)
def feasible_speeds(setup: Setup) -> tuple[float, float] | None:
    """Lowest and highest speed [m/s] at which steady pumping is possible, within SPEEDS; None if at none."""
    grid = np.arange(SPEEDS[0], SPEEDS[1] + 1e-9, 0.05)

    def inside(speed: np.ndarray) -> np.ndarray:
        return possible(setup, speed)

    ok = inside(grid)
    if not ok.any():
        return None
    first, last = int(ok.argmax()), len(grid) - 1 - int(ok[::-1].argmax())
    lo, hi = grid[first : first + 1], grid[last : last + 1]
    if first > 0:
        lo = _bisect(inside, lo, grid[first - 1 : first], 20)
    if last < len(grid) - 1:
        hi = _bisect(inside, hi, grid[last + 1 : last + 2], 20)
    return float(lo[0]), float(hi[0])
