"""When the vertical goes through its level: the end of one slope and the beginning of another.

A push is shorter than a glide and therefore steeper: at 1 g the signal bends. A smoother rounds the bend and moves the
crossing to the flat side (push ends 2.5 ms late on average, onsets of short pushes up to 12 ms early). So each side is
given a straight line of its own; both meet the level at the same moment, and the steeper one knows it better: its
error is noise over slope, so they are weighed by the square of their slopes.
"""

from __future__ import annotations

from collections.abc import Sequence

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
