"""What an outing is compared with: the band and the power of its own rider on its own foil."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from functools import lru_cache
from typing import Any

from cadence_coach.core.targets import Band, BandTable
from cadence_coach.errors import Refused
from cadence_coach.foil.band import band_table
from cadence_coach.foil.profile import profile_from
from cadence_coach.foil.pumping import Cycle
from cadence_coach.foil.setup import Setup
from cadence_coach.review.flight import FlightFigures
from cadence_coach.store.outing import Outing


def setup_of(outing: Outing) -> Setup | None:
    """The rider and foil of an outing; None where none were set, or where this version cannot read them."""
    if not outing.profile:
        return None
    return _setup(json.dumps(outing.profile, sort_keys=True))


def table_of(outing: Outing) -> BandTable | None:
    """The band that the coach held the outing against, as its file keeps it; else that of its rider and foil, worked
    out once a profile. None without either."""
    kept = outing.meta.get("band")
    if isinstance(kept, dict) and (table := _kept(kept)) is not None:
        return table
    return _table(json.dumps(outing.profile, sort_keys=True)) if outing.profile else None


def _kept(plain: dict[str, Any]) -> BandTable | None:
    try:
        bands = tuple(Band(**row) for row in plain["bands"])
        return BandTable(bands, float(plain["cruise_speed"]), plain.get("q")) if bands else None
    except (TypeError, ValueError, KeyError):
        return None  # of another version: worked out again from the profile


def power_of(setup: Setup | None, cruise_speed: float | None) -> Callable[[FlightFigures], float | None] | None:
    """Estimates the leg power [W] of a flight: speed x mean drag at its median speed (the cruise speed where it is not
    known), cadence and size. None without a setup."""
    if setup is None:
        return None

    def power(f: FlightFigures) -> float | None:
        speed = f.speed_m_s or cruise_speed
        if not speed or not f.cadence_hz or not f.size_g or not math.isfinite(f.size_g):
            return None
        return leg_power(setup, speed, f.cadence_hz, f.size_g)

    return power


def leg_power(setup: Setup, speed: float, cadence: float, size: float) -> float:
    """Leg power [W] of a sinusoidal pump of that size [g]: the active part of the force is what is left of the size
    when the part that only swings board, foil and water is taken out; under the least size the two are equal."""
    cycle = Cycle(setup, speed, cadence)
    active = size
    for _ in range(30):
        reactive = float(cycle.pump(active).reactive)
        active = math.sqrt(max(size**2 - reactive**2, size**2 / 2.0))
    return float(cycle.pump(active).power)


@lru_cache(maxsize=32)
def _setup(profile: str) -> Setup | None:
    try:
        return profile_from(_known(json.loads(profile))).setup
    except Refused:
        return None  # a profile of another version: the figures that need none of it are still right


@lru_cache(maxsize=32)
def _table(profile: str) -> BandTable | None:
    setup = _setup(profile)
    return None if setup is None else band_table(setup)


def _known(tables: dict[str, Any]) -> dict[str, Any]:
    return {name: part for name, part in tables.items() if isinstance(part, dict)}
