"""When the vertical goes through its level: the end of one slope and the beginning of another.

A push is shorter than a glide and therefore steeper: at 1 g the signal bends. A smoother rounds the bend and moves the
crossing to the flat side (push ends 2.5 ms late on average, onsets of short pushes up to 12 ms early). So each side is
given a straight line of its own; both meet the level at the same moment, and the steeper one knows it better: its
error is noise over slope, so they are weighed by the square of their slopes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

SIDE = 4
"""So many points either side of a crossing tell where it is."""
FARTHEST = 3.0
"""No line is followed further than this many steps from the last point before the crossing: a flat one says nothing."""


def crossing(before: Sequence[float], after: Sequence[float]) -> float | None:
    """Where the signal rises through 0, in steps from the last of `before` (at 0; `after` begins at 1); None where
    neither side rises. Each has two points or more, equally spaced, in the order of time."""
    sum_weights = sum_places = 0.0
    for first, values in ((1.0 - len(before), before), (1.0, after)):
        count = len(values)
        half = 0.5 * (count - 1)
        mean = sum(values) / count
        slope = sum((i - half) * y for i, y in enumerate(values)) * 12.0 / (count * (count * count - 1))
        if slope > 0.0:
            place = first + half - mean / slope
            weight = slope * slope
            sum_weights += weight
            sum_places += weight * min(max(place, -FARTHEST), FARTHEST)
    return sum_places / sum_weights if sum_weights > 0.0 else None


def rise(ring: list[float], before: int, last: int, level: float) -> float:
    """Where the signal in a ring rises through the level, as an index between points, if the last point before that is
    number `before` and the newest number `last`; NaN where there are too few points or neither side rises."""
    size = len(ring)
    if last - before < 2 or before < SIDE:
        return math.nan
    place = crossing(
        [ring[k % size] - level for k in range(before - SIDE + 1, before + 1)],
        [ring[k % size] - level for k in range(before + 1, min(last, before + SIDE) + 1)],
    )
    return math.nan if place is None else before + place


def fall(ring: list[float], first: int, last: int, level: float) -> tuple[float, int, float]:
    """Of the points `first` to `last` of a ring: the highest, its index, and where the signal first falls through the
    level after it, as an index between points; NaN: it has not."""
    size = len(ring)
    top, where = -1.0, first
    for i in range(first, last + 1):
        if ring[i % size] > top:
            top, where = ring[i % size], i
    for i in range(where + 1, last + 1):
        before, s = ring[(i - 1) % size], ring[i % size]
        if s < level and s < before:  # a push may lie below a level that its own onset raised, and be flat
            place = (
                crossing(
                    [level - ring[k % size] for k in range(max(i - SIDE, where), i)],
                    [level - ring[k % size] for k in range(i, min(i + SIDE, last + 1))],
                )
                if i - where > 1 and last > i
                else None
            )
            return top, where, i - (level - s) / (before - s) if place is None else i - 1 + place
    return top, where, math.nan
