"""Is there swell? A wave of 4 to 10 s in travel or speed, looked for over the last 20 s or so.

A straight line is taken out first (a flight that slows down is no wave). At each of a few wave periods that fit in
the time one and a half times the least-squares sine is fitted to the values of the last pumps; swell is there when
the best takes away half of the variance and is no mere ripple. Of white noise at 24 pumps that happens once in 300
looks (the share taken away by one sine is Beta(1, (n-3)/2) distributed).
"""

from __future__ import annotations

import math
from collections import deque
from operator import mul

from .filters import dot, squares

WAVES = (4.0, 5.0, 6.0, 8.0, 10.0)
"""Wave periods looked for [s]."""
PUMPS = 24
"""Values kept; at 1.2 to 1.6 Hz these are 15 to 20 s."""
SPANS = 1.5
"""Times a wave must fit in the time looked at."""
SHARE = 0.5
"""Share of the variance the sine must take away."""
RIPPLE = 0.10
"""Amplitude it must have, as a share of the mean: travel itself is known to 8 %."""


class Swell:
    """`add` each pump; `found` says whether there is swell now."""

    def __init__(self) -> None:
        self.found = False
        self._travel: deque[tuple[float, float]] = deque(maxlen=PUMPS)
        self._speed: deque[tuple[float, float]] = deque(maxlen=PUMPS)

    def add(self, t: float, travel: float, speed: float | None) -> None:
        self._travel.append((t, travel))
        if speed is not None:
            self._speed.append((t, speed))
        self.found = _wave(self._travel) or _wave(self._speed)


def _wave(values: deque[tuple[float, float]]) -> bool:
    n = len(values)
    if n < PUMPS:
        return False
    times, heights = zip(*values, strict=True)
    mean, middle = sum(heights) / n, sum(times) / n
    away = [t - middle for t in times]
    slope = sum(map(mul, away, heights)) / squares(away)
    rest = [v - mean - slope * t for t, v in zip(away, heights, strict=True)]
    total, span, ripple = squares(rest), times[-1] - times[0], RIPPLE * abs(mean)
    return any(SPANS * wave <= span and _takes(away, rest, total, wave, ripple) for wave in WAVES)


def _takes(times: list[float], values: list[float], total: float, wave: float, ripple: float) -> bool:
    """Does the least-squares sine of this period take away enough of the sum of squares, and is it more than a
    ripple?"""
    turns = [2.0 * math.pi / wave * t for t in times]
    c, s = list(map(math.cos, turns)), list(map(math.sin, turns))
    cc = squares(c)
    ss = len(c) - cc
    sc = dot(c, s, cc + ss)
    vc, vs = dot(values, c, total + cc), dot(values, s, total + ss)
    det = cc * ss - sc * sc
    if det <= 0.0:
        return False
    a, b = (vc * ss - vs * sc) / det, (vs * cc - vc * sc) / det
    return a * vc + b * vs > SHARE * total and math.hypot(a, b) > ripple
