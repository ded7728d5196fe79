"""What earlier outings say for the next one: own cadence, cruise speed, best, focus."""

from __future__ import annotations

from collections.abc import Sequence

import attrs
import numpy as np

from cadence_coach.core.targets import BandTable, replace
from cadence_coach.foil.own import FlightFigure, cruising, own_cadences, own_cruise_speed, own_ratio
from cadence_coach.review.counted import counted_rows
from cadence_coach.review.season_row import SeasonRow

BEST_FLIGHTS = 5
"""Longest flights whose median cadence is the own best: the best ones, so that a bad habit does not become the
target."""

FROM_S = 8.0


@attrs.frozen
class SoFar:
    """`own_ratio`: own cadence / the model's, for BandTable.q; `cruise_speed` [m/s]; `best_cadence` [Hz];
    `best_seconds`. None where there is not enough yet."""

    own_ratio: float | None
    cruise_speed: float | None
    best_cadence: float | None
    best_seconds: float | None


def so_far(rows: Sequence[SeasonRow], rider: str, foil: str, table: BandTable) -> SoFar:
    """From the rows of this rider on this foil; `table` is the model's band for them."""
    mine = counted_rows(r for r in rows if r.rider == rider)
    flights = [f for r in mine if r.foil == foil for f in r.flights]
    longest = sorted((f for f in flights if f.cadence and f.seconds >= FROM_S), key=lambda f: -f.seconds)[:BEST_FLIGHTS]
    whole = [FlightFigure(f.speed, f.cadence, f.seconds, f.fade) for f in flights if f.cadence and f.whole]
    cruise = own_cruise_speed(whole)
    return SoFar(
        own_ratio=own_ratio(cruising(table, cruise), own_cadences(whole)),
        cruise_speed=cruise,
        best_cadence=float(np.median([f.cadence for f in longest])) if longest else None,
        best_seconds=max((f.seconds for f in flights), default=None),
    )


def leaned(table: BandTable, found: SoFar) -> BandTable:
    """The model's table leaned to this rider, at the speed they usually fly at."""
    return replace(cruising(table, found.cruise_speed), q=found.own_ratio)
