"""The band over speed, worked out once when a profile loads and looked up live.

    band_table(setup) -> core.targets.BandTable     rows every STEP m/s over all speeds that can be pumped, edges exact
    least_drag_speed(setup) -> [m/s]

A band says where the modelled effort stays within 3 % of its least, inside the hard limits (legs, feet, wing) and
inside 1.0 to 2.2 Hz. Estimates: power +-30 %, target +-20 %: a wide band, that leans to the rider (core.targets).
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from cadence_coach.core.targets import Band, BandTable
from cadence_coach.foil.drag import steady_drag
from cadence_coach.foil.pumping import golden
from cadence_coach.foil.setup import Setup
from cadence_coach.foil.share import share_band
from cadence_coach.foil.solve import SPEEDS, Solved, feasible_speeds, solve

STEP = 0.05
"""Grid of the table [m/s]: cadences are then within 0.01 Hz of the exact ones (tested)."""
SHARE_STEPS = np.array([0.04, 0.1, 0.16, 0.2, 0.225, 0.25, 0.28, 0.34, 0.42, 0.52, 0.7])
"""Where the share band is worked out, above the lowest speed [m/s]; then every 0.5, and near the highest. It costs
most to work out; near the stall it changes fast, with a kink where pushes may grow long, elsewhere little. Within
0.03 of the exact share band (tested)."""

_NONE = (None,) * 10


@lru_cache(maxsize=16)
def band_table(setup: Setup) -> BandTable:
    """Bands over speed; about 0.5 s. The cruise speed is that of least effort per metre; `own.cruising` puts the
    rider's own in its place."""
    ends = feasible_speeds(setup)
    if ends is None:
        speeds = np.arange(SPEEDS[0], SPEEDS[1] + 1e-9, 0.5)
        bands = tuple(_none(float(v), r) for v, r in zip(speeds, solve(setup, speeds).reasons, strict=True))
        return BandTable(bands, least_drag_speed(setup))
    lo, hi = ends
    solved = solve(setup, _grid(lo, hi))
    shares = _shares(setup, solved)
    bands = tuple(_band(solved, i, tuple(shares[i])) for i in range(len(solved.speed)) if solved.feasible[i])
    just = solve(setup, [max(0.1, lo - STEP), hi + STEP])
    if lo > SPEEDS[0]:
        bands = (_none(bands[0].speed - 1e-6, just.reasons[0] or ("stall",)), *bands)
    if hi < SPEEDS[1]:
        bands = (*bands, _none(bands[-1].speed + 1e-6, just.reasons[1] or ("force",)))
    return BandTable(bands, _cheapest(solved))


def _grid(lo: float, hi: float) -> np.ndarray:
    """Speeds of the rows: even, and closer at both ends, where the limits run together like a square root."""
    even = np.linspace(lo, hi, max(2, round((hi - lo) / STEP) + 1))
    near = np.array([0.0015, 0.005, 0.011, 0.02, 0.031, 0.075, 0.125, 0.225])
    near = near[near < (hi - lo) / 3]
    return np.unique(np.concatenate([even, lo + near, hi - near]))


def least_drag_speed(setup: Setup) -> float:
    """Speed [m/s] of least drag, flying level."""
    return float(golden(lambda v: steady_drag(setup, v).total, 1.0, 12.0, 16))


def _cheapest(solved: Solved) -> float:
    per_metre = np.where(solved.feasible, solved.pump.cost / solved.speed, np.inf)
    at = int(np.argmin(per_metre))
    if not 0 < at < len(per_metre) - 1 or not np.isfinite(per_metre[at - 1 : at + 2]).all():
        return float(solved.speed[at])
    a, b, c = (float(x) for x in per_metre[at - 1 : at + 2])
    left, right = float(solved.speed[at] - solved.speed[at - 1]), float(solved.speed[at + 1] - solved.speed[at])
    bend = (a - b) / left + (c - b) / right
    return float(solved.speed[at]) + (
        0.5 * ((a - b) * right / left - (c - b) * left / right) / bend if bend > 0 else 0.0
    )


def _shares(setup: Setup, solved: Solved) -> np.ndarray:
    """[rows, 3] share_lo, share, share_hi; from a coarser grid of the same rows, ends included; NaN where none."""
    rows = np.flatnonzero(solved.feasible)
    lo, hi = float(solved.speed[rows[0]]), float(solved.speed[rows[-1]])
    top = hi - np.array([0.04, 0.22, 0.42])
    wanted = np.concatenate([[lo], lo + SHARE_STEPS, np.arange(lo + 1.1, hi - 0.4, 0.5), top, [hi]])
    picked = rows[np.unique([int(np.abs(solved.speed[rows] - v).argmin()) for v in wanted if lo <= v <= hi])]
    found = []
    for i in picked:
        band = share_band(setup, float(solved.speed[i]), float(solved.target[i]))
        if band is not None:
            found.append((float(solved.speed[i]), band.lo, band.best, band.hi))
    if not found:
        return np.full((len(solved.speed), 3), np.nan)
    known = np.array(found)
    return np.stack([np.interp(solved.speed, known[:, 0], known[:, j]) for j in (1, 2, 3)], axis=1)


def _band(solved: Solved, i: int, shares: tuple[float, ...]) -> Band:
    def at(values: np.ndarray) -> float:
        return float(values[i])

    target, size = at(solved.target), at(solved.size_needed)
    share_lo, share, share_hi = (None if np.isnan(x) else float(x) for x in shares)
    return Band(
        speed=at(solved.speed),
        lo=at(solved.lo),
        target=target,
        hi=at(solved.hi),
        hard_lo=at(solved.hard_lo),
        hard_hi=at(solved.hard_hi),
        share_lo=share_lo,
        share=share,
        share_hi=share_hi,
        size_needed=size,
        travel=2 * size * solved.gravity / (2 * np.pi * target) ** 2,
    )


def _none(speed: float, reasons: tuple[str, ...]) -> Band:
    return Band(speed, *_NONE, reason=reasons[0])
