"""The band as a plain value: what the core compares a rider with. Computed in `foil.band`, only looked up here.

    table.at(speed) -> Band         what to coach: leaned to the rider (where `q` is known), not under NARROWEST
    table.model_at(speed) -> Band   the model's own, neither leaned nor widened

Leaning: with the model's target t, the edges and the target move half-way to the rider's own cadence q t:
lo' = (lo + 0.9 q t)/2, t' = (t + q t)/2, hi' = (hi + 1.1 q t)/2, none of them past a hard limit. Then the band is
widened to t' +-10 % where it is narrower, if need be past a hard limit: those are themselves known to about 9 % only
(the cube root of 30 % in drag), and a rider exactly on a target that lies on a limit must not be corrected every
other look.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, fields, replace
from math import isfinite

NARROWEST = 0.10
"""Half-width of the band as a share of its target: never narrower (Sherwood 1988 from memory; Cruz et al. 2018
Motricidade 14:107; and the optimum is flat)."""


@dataclass(frozen=True, slots=True)
class Band:
    """What to aim for at one speed. Cadence in Hz, share dimensionless, size in g, travel in m, speed in m/s.

    `reason` is None where pumping is feasible; otherwise "stall", "stroke" or "force", and every target is None.
    `hard_lo`, `hard_hi` are the limits that no leaning may pass. `size_needed` is the least size that level flight
    needs at the model's target, `travel` the body travel that goes with that size there.
    """

    speed: float
    lo: float | None
    target: float | None
    hi: float | None
    hard_lo: float | None
    hard_hi: float | None
    share_lo: float | None
    share: float | None
    share_hi: float | None
    size_needed: float | None
    travel: float | None
    reason: str | None = None


_VALUES = tuple(f.name for f in fields(Band) if f.name not in ("speed", "reason"))


@dataclass(frozen=True, slots=True)
class BandTable:
    """Bands over rising speed, and the speed that is taken where none is known."""

    bands: tuple[Band, ...]
    cruise_speed: float
    q: float | None = None
    """The rider's own cadence / the model's at the same speed; None until it is known."""

    def at(self, speed: float | None) -> Band:
        """The band at a speed [m/s], linear between rows, the edge rows outside; at the cruise speed when None (or
        NaN).

        Between a feasible row and one that is not, pumping is not feasible. Leaned and widened as said above.
        """
        return widen(lean(self.model_at(speed), self.q))

    def model_at(self, speed: float | None) -> Band:
        """As `at`, but what the model says: neither leaned nor widened."""
        if speed is None or not isfinite(speed):
            speed = self.cruise_speed
        after = bisect_right(self.bands, speed, key=lambda b: b.speed)
        if after == 0 or after == len(self.bands):
            return replace(self.bands[min(after, len(self.bands) - 1)], speed=speed)
        below, above = self.bands[after - 1], self.bands[after]
        if below.speed == speed:
            return below
        if below.reason is not None or above.reason is not None:
            return replace(below if below.reason is not None else above, speed=speed)
        part = (speed - below.speed) / (above.speed - below.speed)
        between = {name: _between(getattr(below, name), getattr(above, name), part) for name in _VALUES}
        return Band(speed=speed, reason=None, **between)


def _between(a: float | None, b: float | None, part: float) -> float | None:
    return None if a is None or b is None else a + part * (b - a)


def lean(band: Band, q: float | None) -> Band:
    """The band half-way to a rider whose own cadence is q x the model's target, inside the hard limits."""
    if q is None or band.target is None or band.lo is None or band.hi is None:
        return band
    if not (isfinite(q) and q > 0):
        raise ValueError(f"q must be a positive number, not {q}")
    own = q * band.target
    target = _inside(band, (band.target + own) / 2)
    lo = _inside(band, (band.lo + (1 - NARROWEST) * own) / 2)
    hi = _inside(band, (band.hi + (1 + NARROWEST) * own) / 2)
    return replace(band, lo=lo, target=target, hi=hi)


def widen(band: Band) -> Band:
    """The band, NARROWEST of its target to either side at least."""
    if band.target is None or band.lo is None or band.hi is None:
        return band
    return replace(
        band,
        lo=min(band.lo, (1 - NARROWEST) * band.target),
        hi=max(band.hi, (1 + NARROWEST) * band.target),
    )


def _inside(band: Band, cadence: float) -> float:
    if band.hard_lo is not None and cadence < band.hard_lo:
        return band.hard_lo
    if band.hard_hi is not None and cadence > band.hard_hi:
        return band.hard_hi
    return cadence


__all__ = [
    "NARROWEST",
    "Band",
    "BandTable",
    "bisect_right",
    "lean",
    "replace",
    "widen",
]
