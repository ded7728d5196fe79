"""What earlier outings say for the next one: own cadence, cruise speed, best, focus."""

from __future__ import annotations

from collections.abc import Sequence

import attrs
import numpy as np

from cadence_coach.core.targets import BandTable
from cadence_coach.foil.own import own_cadences, own_ratio
from cadence_coach.review.season_row import SeasonRow

CRUISE_FROM = 5
"""Flights with a speed before their median is the rider's cruise speed."""

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
    flights = [f for r in rows if r.rider == rider and r.foil == foil for f in r.flights]
    speeds = [f.speed for f in flights if f.speed is not None and f.seconds >= FROM_S]
    longest = sorted((f for f in flights if f.cadence and f.seconds >= FROM_S), key=lambda f: -f.seconds)[:BEST_FLIGHTS]
    owns = own_cadences((f.speed, f.cadence, f.seconds, f.fade) for f in flights if f.cadence)
    return SoFar(
        own_ratio=own_ratio(table, owns),
        cruise_speed=float(np.median(speeds)) if len(speeds) >= CRUISE_FROM else None,
        best_cadence=float(np.median([f.cadence for f in longest])) if longest else None,
        best_seconds=max((f.seconds for f in flights), default=None),
    )
