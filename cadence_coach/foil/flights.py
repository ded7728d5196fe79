"""A rider's own flights from a table, and the power-duration model they carry.

read_flights(path) -> list[FlightFigure]        CSV with speed_m_s, cadence_hz, duration_s and optional fade_per_min
best_efforts(setup, flights) -> durations, powers       those that no other flight beats in both
own_effort(setup, flights) -> Fit               ValueError, in words, where they cannot carry the model
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable
from pathlib import Path

from cadence_coach.errors import Refused
from cadence_coach.foil.endurance import Fit, fit
from cadence_coach.foil.own import FlightFigure
from cadence_coach.foil.pumping import Cycle
from cadence_coach.foil.setup import Setup

NEEDED = ("cadence_hz", "duration_s")
COLUMNS = ("speed_m_s", *NEEDED, "fade_per_min")
RANGES = {"speed_m_s": (1.0, 12.0), "cadence_hz": (0.4, 4.0), "duration_s": (0.5, 7200.0), "fade_per_min": (-2.0, 2.0)}
ENOUGH_FOR_THREE = 5
SHORT = 100.0
"""[s]"""
SHORTEST_EFFORT = 20.0
"""Flights under this [s] say nothing about endurance."""


def read_flights(path: str | Path) -> list[FlightFigure]:
    """Flights from a CSV; column order is free, others are ignored, an empty speed or fade is unknown. Refused in one
    line."""
    path = Path(path)
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            reader = csv.DictReader(file)
            missing = [c for c in NEEDED if c not in (reader.fieldnames or ())]
            if missing:
                raise Refused(f"{path}: no column {missing[0]}; a table of flights has {', '.join(COLUMNS)}")
            return [_row(path, reader.line_num, row) for row in reader]
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        why = error.strerror if isinstance(error, OSError) else "not a CSV in UTF-8"
        raise Refused(f"{path}: cannot be read ({why}); give a CSV with {', '.join(COLUMNS)}") from None


def _row(path: Path, line: int, row: dict[str, str | None]) -> FlightFigure:
    values: dict[str, float | None] = {}
    for column in COLUMNS:
        text = (row.get(column) or "").strip()
        lo, hi = RANGES[column]
        if not text and column not in NEEDED:
            values[column] = None
            continue
        try:
            value = float(text)
        except ValueError:
            raise Refused(f"{path} line {line}: {column} = {text!r} must be a number, {lo:g} to {hi:g}") from None
        if math.isnan(value) and column not in NEEDED:
            values[column] = None
        elif lo <= value <= hi:
            values[column] = value
        else:
            raise Refused(f"{path} line {line}: {column} = {text} is outside {lo:g} to {hi:g}")
    cadence, duration = values["cadence_hz"], values["duration_s"]
    assert cadence is not None and duration is not None
    return FlightFigure(values["speed_m_s"], cadence, duration, values["fade_per_min"])


def best_efforts(setup: Setup, flights: Iterable[FlightFigure]) -> tuple[list[float], list[float]]:
    """Durations [s] and modelled leg powers [W] of the flights that no other beats in both, longest last.

    The power is that of the cheapest pump at the flight's speed and cadence; flights without speed or outside the
    model's limits are left out.
    """
    rated = []
    for flight in flights:
        if flight.speed is None or flight.duration < SHORTEST_EFFORT:
            continue
        cycle = Cycle(setup, flight.speed, flight.cadence)
        lo, hi = cycle.active_range()
        if lo <= hi:
            rated.append((flight.duration, float(cycle.pump(cycle.best()).power)))
    best: list[tuple[float, float]] = []
    for duration, power in sorted(rated, reverse=True):
        if not best or power > best[-1][1]:
            best.append((duration, power))
    best.reverse()
    return [d for d, _ in best], [p for _, p in best]


def own_effort(setup: Setup, flights: Iterable[FlightFigure]) -> Fit:
    """The model through the rider's best efforts: three parameters where there are ENOUGH_FOR_THREE with short ones
    among them and a highest power shows, because two run off to infinity under 2 min; else two."""
    flights = list(flights)
    durations, powers = best_efforts(setup, flights)
    if flights and not durations:
        raise ValueError(
            f"of {len(flights)} flight{'s' * (len(flights) != 1)} none has a speed the model can use and lasts "
            f"{SHORTEST_EFFORT:.0f} s or more"
        )
    if len(durations) >= ENOUGH_FOR_THREE and durations[0] < SHORT:
        found = fit(durations, powers, three=True)
        if found.endurance.p_max is not None:
            return found
    return fit(durations, powers)
