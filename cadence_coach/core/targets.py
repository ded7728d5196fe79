"""The band as a plain value: what the core compares a rider with. Computed in `foil.band`, only looked up here."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, replace

NARROWEST = 0.10
"""Half-width of the band as a share of its target: never narrower (Sherwood 1988 from memory; Cruz et al. 2018 Motricidade
14:107; and the optimum is flat)."""


@dataclass(frozen=True, slots=True)
class Band:
    """What to aim for at one speed. Cadence in Hz, share dimensionless, size in g, travel in m, speed in m/s.

    `reason` is None where pumping is feasible; otherwise "stall", "stroke" or "force", and every target is None.
    `hard_lo`, `hard_hi` are the limits that no leaning may pass.
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


@dataclass(frozen=True, slots=True)
class BandTable:
    """Bands over rising speed, and the speed that is taken where none is known."""

    bands: tuple[Band, ...]
    cruise_speed: float
    q: float | None = None
    """The rider's own cadence / the model's at the same speed; None until it is known."""

    def at(self, speed: float | None) -> Band:
        """The band at a speed [m/s], linear between rows, the edge rows outside; at the cruise speed when None."""
        raise NotImplementedError


__all__ = ["NARROWEST", "Band", "BandTable", "bisect_right", "replace"]
