"""Is there swell? A wave of 4 to 10 s in travel or speed, looked for over the last 20 s or so.

A straight line is taken out first (a flight that slows down is no wave). At each of a few wave periods that fit in
the time one and a half times the least-squares sine is fitted to the values of the last pumps; swell is there when
the best takes away half of the variance and is no mere ripple. Of white noise at 24 pumps that happens once in 300
looks (the share taken away by one sine is Beta(1, (n-3)/2) distributed).
"""

from __future__ import annotations

import math
from collections import deque

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
    span = values[-1][0] - values[0][0]
    mean = sum(v for _, v in values) / n
    middle = sum(t for t, _ in values) / n
    slope = sum((t - middle) * v for t, v in values) / sum((t - middle) ** 2 for t, _ in values)
    rest = [(t - middle, v - mean - slope * (t - middle)) for t, v in values]
    total = sum(v * v for _, v in rest)
    ripple = RIPPLE * abs(mean)
    return any(SPANS * wave <= span and _takes(rest, wave, SHARE * total, ripple) for wave in WAVES)


def _takes(values: list[tuple[float, float]], wave: float, enough: float, ripple: float) -> bool:
    """Does the least-squares sine of this period take away enough of the sum of squares, and is it more than a
    ripple?"""
    w = 2.0 * math.pi / wave
    cs = [(math.cos(w * t), math.sin(w * t), v) for t, v in values]
    cc, ss, sc = sum(c * c for c, _, _ in cs), sum(s * s for _, s, _ in cs), sum(c * s for c, s, _ in cs)
    vc, vs = sum(v * c for c, _, v in cs), sum(v * s for _, s, v in cs)
    det = cc * ss - sc * sc
    if det <= 0.0:
        return False
    a, b = (vc * ss - vs * sc) / det, (vs * cc - vc * sc) / det
    return a * vc + b * vs > enough and math.hypot(a, b) > ripple
