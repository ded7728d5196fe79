"""Which cadence at which speed gave this rider the longest flights with the least fade: kept across outings, never
averaged.

    own_cadences(flights) -> tuple[Own, ...]       plain values, one a speed bin with enough flights
    own_cruise_speed(flights) -> [m/s] or None     the speed this rider usually flies at
    cruising(table, speed) -> table                at that speed, where the model allows it
    own_ratio(table, owns) -> q or None            for core.targets: own best cadence / the model's
    to_plain(owns), from_plain(rows)               lists of numbers that go through JSON

`flights` are FlightFigure rows: (speed [m/s] or None, cadence [Hz], duration [s], fade [1/min as a share of the
cadence]). Only the best flights speak, so that a bad habit does not become the target.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from statistics import median
from typing import Any, NamedTuple

import attrs

from cadence_coach.core.targets import BandTable, replace

BIN = 0.5
"""Width of a speed bin [m/s]; GPS speed is known to a few per cent, the optimum over speed is flat."""
ENOUGH = 5
"""Flights in a bin before it says anything."""
BEST_SHARE = 0.25
"""The best quarter speaks, two flights at least."""
SHORTEST = 8.0
"""Flights under this [s] show no cadence of their own yet."""
FADE_COUNTS = 0.05
"""A fade of 5 % of the cadence a minute takes as much off a flight's worth as a factor e."""


class FlightFigure(NamedTuple):
    """speed [m/s] or None, cadence [Hz], duration [s], fade: slope of the cadence per minute / cadence (negative:
    slower)."""

    speed: float | None
    cadence: float
    duration: float
    fade: float | None = None


@attrs.frozen
class Own:
    """The rider's own best cadence [Hz] about a speed [m/s] (None: flights without speed), from `best` of `flights`
    flights; their median duration [s] and fade [1/min]."""

    speed: float | None
    cadence: float
    duration: float
    fade: float
    best: int
    flights: int


def worth(flight: FlightFigure) -> float:
    """How good a flight was: its duration, less for fading: T exp(-|fade| / FADE_COUNTS); speeding up is not held
    against it."""
    fade = flight.fade if flight.fade is not None and math.isfinite(flight.fade) else 0.0
    return flight.duration * math.exp(min(0.0, fade) / FADE_COUNTS)


def own_cadences(flights: Iterable[Sequence[float | None]]) -> tuple[Own, ...]:
    """The own best cadence for each speed bin, rising; flights without a speed make a bin of their own, last.

    Flights that are too short or have no cadence are left out. The cadence is the median of the best quarter's.
    """
    bins: dict[int | None, list[FlightFigure]] = {}
    for row in flights:
        flight = FlightFigure(*row)  # type: ignore[arg-type]
        if not (_positive(flight.cadence) and _positive(flight.duration) and flight.duration >= SHORTEST):
            continue
        key = round(flight.speed / BIN) if _positive(flight.speed) and flight.speed is not None else None
        bins.setdefault(key, []).append(flight)
    found = []
    for key, group in bins.items():
        if len(group) < ENOUGH:
            continue
        group.sort(key=worth, reverse=True)
        best = group[: max(2, math.ceil(BEST_SHARE * len(group)))]
        found.append(
            Own(
                speed=None if key is None else median([f.speed for f in best if f.speed is not None]),
                cadence=median([f.cadence for f in best]),
                duration=median([f.duration for f in best]),
                fade=median([f.fade or 0.0 for f in best]),
                best=len(best),
                flights=len(group),
            )
        )
    return tuple(sorted(found, key=lambda own: math.inf if own.speed is None else own.speed))


def own_cruise_speed(flights: Iterable[Sequence[float | None]]) -> float | None:
    """Median speed [m/s] of the flights that are long enough and have one; None under ENOUGH of them."""
    rows = [FlightFigure(*row) for row in flights]  # type: ignore[arg-type]
    speeds = [f.speed for f in rows if f.speed is not None and _positive(f.speed) and f.duration >= SHORTEST]
    return median(speeds) if len(speeds) >= ENOUGH else None


def cruising(table: BandTable, speed: float | None) -> BandTable:
    """The table with the rider's own cruise speed; the model's stays where it says that nobody can pump at that one,
    or a flight without a speed would have no band at all."""
    if speed is None or table.model_at(speed).target is None:
        return table
    return replace(table, cruise_speed=speed)


def own_ratio(table: BandTable, owns: Iterable[Own]) -> float | None:
    """q: the median over speeds of own best cadence / the model's target there; None when nothing compares."""
    ratios = []
    for own in owns:
        target = table.model_at(own.speed).target
        if target is not None:
            ratios.append(own.cadence / target)
    return median(ratios) if ratios else None


def to_plain(owns: Iterable[Own]) -> list[dict[str, float | int | None]]:
    """Rows that go through JSON; keys speed_m_s, cadence_hz, duration_s, fade_per_min, best, flights."""
    return [
        {
            "speed_m_s": o.speed,
            "cadence_hz": o.cadence,
            "duration_s": o.duration,
            "fade_per_min": o.fade,
            "best": o.best,
            "flights": o.flights,
        }
        for o in owns
    ]


def from_plain(rows: Iterable[dict[str, Any]]) -> tuple[Own, ...]:
    """The inverse of `to_plain`; KeyError, TypeError or ValueError where a row is broken."""
    owns = []
    for row in rows:
        speed = None if row["speed_m_s"] is None else float(row["speed_m_s"])
        own = Own(
            speed,
            float(row["cadence_hz"]),
            float(row["duration_s"]),
            float(row["fade_per_min"]),
            int(row["best"]),
            int(row["flights"]),
        )
        if not (_positive(own.cadence) and _positive(own.duration) and (speed is None or _positive(speed))):
            raise ValueError(f"not an own cadence: {row}")
        owns.append(own)
    return tuple(owns)


def _positive(value: float | None) -> bool:
    return value is not None and math.isfinite(value) and value > 0
