"""Coefficients of the causal filters that `front` steps, stretches of a ring, and sums of products.

The grid. Irregular samples become grid points: the mean of the straight lines between samples over each cell. That is
both the interpolation and the anti-alias filter (its first zero is at the grid rate), and knows no block size. A point
at time g covers [g - h/2, g + h/2] and is there once a sample at or after g + h/2 has come.

No filter works in blocks, so that cutting the stream differently cannot change a bit of the result.
"""

from __future__ import annotations

import math
from collections.abc import Sequence


def second_order(hz: float, step: float) -> tuple[float, float, float]:
    """Butterworth low-pass, bilinear: b (of b, 2b, b), a1, a2. scipy.signal.butter(2, hz, fs=1/step) is the same."""
    k = math.tan(math.pi * hz * step)
    norm = 1.0 / (1.0 + math.sqrt(2.0) * k + k * k)
    return k * k * norm, 2.0 * (k * k - 1.0) * norm, (1.0 - math.sqrt(2.0) * k + k * k) * norm


def third_order(hz: float, step: float) -> tuple[float, float, float, float, float]:
    """Butterworth low-pass, bilinear, as a first-order section, u = p (x + x') - q u', and a second-order one: p, q, b
    (of b, 2b, b), a1, a2. scipy.signal.butter(3, hz, fs=1/step) is the same."""
    k = math.tan(math.pi * hz * step)
    norm = 1.0 / (1.0 + k + k * k)
    return k / (1.0 + k), (k - 1.0) / (k + 1.0), k * k * norm, 2.0 * (k * k - 1.0) * norm, (1.0 - k + k * k) * norm


def stretch(ring: list[float], first: int, end: int) -> list[float]:
    """Points first up to, not including, end of all that went through a ring; at most its length."""
    size = len(ring)
    a, b = first % size, end % size
    return ring[a:b] if a < b else ring[a:] + ring[:b] if first < end else []


def hann_weights(half_width: int) -> tuple[float, ...]:
    """Weights of a Hann smoother with 2 * half_width + 1 taps that sum to 1; its delay is half_width steps at every
    frequency."""
    n = 2 * half_width + 2
    raw = [0.5 - 0.5 * math.cos(2.0 * math.pi * (i + 1) / n) for i in range(2 * half_width + 1)]
    total = sum(raw)
    return tuple(w / total for w in raw)


def squares(row: Sequence[float]) -> float:
    """Sum of the squares."""
    size = math.hypot(*row)
    return size * size


def dot(a: Sequence[float], b: Sequence[float], both: float) -> float:
    """Sum of the products of two rows; both: sum of the squares of all in them.

    Half of what |a|^2 + |b|^2 exceeds |a - b|^2 by, to a few 1e-16 of that sum: math.dist takes a third of the time of
    sum(map(mul, a, b)).
    """
    apart = math.dist(a, b)
    return 0.5 * (both - apart * apart)
