"""How a flight ended, looked at again with what came after it.

The live coach has to decide within seconds; a review sees the next ten. A fall is lost support, then a blow and a rider who
swims: the phone tips. A touch-down keeps the rider upright. Coasting out is level and calm before the water takes the board.
Where the signs do not agree the answer is "unknown", never a guess; a tap or `review --ended` sets it right.
"""

from __future__ import annotations

import attrs
import numpy as np

from cadence_coach.core import events as ev
from cadence_coach.core.units import G
from cadence_coach.review.vertical import tilt, vertical
from cadence_coach.store.outing import Outing

LOOK_AFTER_S = 8.0
FREE_FALL_G = 0.35
"""Magnitude below which nothing carries the rider; glides of pumping stay above 0.2 g but are followed by a push in time."""

FREE_FALL_S = 0.15
"""A fall from 0.2-0.6 m is 0.20-0.35 s of free fall; the filter edges take a part of it."""

BLOW_G = 2.6
"""A blow of water on the body or a landing: above the push of nearly every rider (1.4-2.6 g)."""

TIPPED_DEG = 35.0
"""A rider in the water lies or treads water; on the board the torso stays within about 25 deg."""

CALM_G = 0.12
"""Standard deviation of the vertical while coasting: no pumping (a small pump has 0.3 g)."""

COAST_S = 1.5
"""Coasting for at least this long before the end is coasting out: longer than one missed pump."""


@attrs.frozen
class Signs:
    """What the samples after the last pump show: seconds of free fall, highest magnitude [g], tilt [deg] 2-8 s later,
    calm seconds right after the last pump."""

    free_fall_s: float
    blow_g: float
    tipped_deg: float
    calm_s: float


def signs(outing: Outing, flight: ev.FlightEnded) -> Signs | None:
    """The signs in the LOOK_AFTER_S after the flight; None where the samples stop or have a hole within 2 s of the end."""
    end = flight.time
    t, g = vertical(outing, end - 0.2, end + LOOK_AFTER_S)
    if len(t) < 40 or t[-1] < end + 2.0 or np.max(np.diff(t[t < end + 2.5]), initial=0.0) > 0.5:
        return None
    first, last = np.searchsorted(outing.accel[:, 0], [t[0], t[-1]])
    part = outing.accel[first : last + 1]
    part = part[np.isfinite(part).all(axis=1)]
    magnitude = np.linalg.norm(part[:, 1:4], axis=1) / G
    times, angle = tilt(outing, flight.start, end + LOOK_AFTER_S, (flight.start + 1.5, end - 1.5))
    after = angle[times > end + 2.5]
    tipped = float(np.nanmedian(after)) if np.isfinite(after).any() else 0.0
    return Signs(
        free_fall_s=_longest(part[:, 0], magnitude < FREE_FALL_G),
        blow_g=float(magnitude.max()),
        tipped_deg=tipped,
        calm_s=_calm(t, g, end),
    )


def judged(flight: ev.FlightEnded, found: Signs | None) -> str:
    """The ending, from the detector's word and the signs after it. A hole or the end of the data is known for certain."""
    if flight.ended_by in ("gap", "end_of_data") or found is None:
        return flight.ended_by
    fell = (found.free_fall_s >= FREE_FALL_S) + (found.blow_g >= BLOW_G) + (found.tipped_deg >= TIPPED_DEG)
    if fell >= 2:
        return "fall"
    if fell == 0 and max(found.calm_s, flight.coast_s) >= COAST_S:
        return "coast_out"
    return flight.ended_by if fell == 0 else "unknown"


def _longest(t: np.ndarray, chosen: np.ndarray) -> float:
    """Length of the longest run [s]."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], chosen, [False]]).astype(int)))
    runs = [t[min(b, len(t) - 1)] - t[a] for a, b in edges.reshape(-1, 2)]
    return float(max(runs, default=0.0))


def _calm(t: np.ndarray, g: np.ndarray, start: float) -> float:
    """Seconds from `start` until the vertical leaves 1 g by more than 3 CALM_G."""
    later = t >= start
    loud = np.flatnonzero(np.abs(g[later] - 1.0) > 3.0 * CALM_G)
    return float(t[later][loud[0]] - start) if len(loud) else float(t[-1] - start)
