"""What one bounce looks like: figures of its vertical force, the same for any fixed orientation and any rate."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from .units import STEP

LIGHT_G = 0.4
"""A body under this [g] is all but in free fall."""


@dataclass(frozen=True, slots=True)
class Shape:
    """mean [g]; size: amplitude of the once-per-cycle part [g]; second, third: the next harmonics by size; grain:
    what a 70 ms moving average leaves, by size (heel strikes, ringing). flat: part of the lower half of the cycle
    that lies within a fifth of its depth (a body in the air weighs nothing all the time: half and more; a glide is
    rounded: under half); edge: steepest change in 40 ms, by size; light: how long it is under LIGHT_G [s]."""

    mean: float
    size: float
    second: float
    third: float
    grain: float
    flat: float
    edge: float
    light: float


@lru_cache(maxsize=32)
def _waves(count: int) -> tuple[tuple[float, ...], ...]:
    """Cosine and sine of a cycle of `count` points, of its second and its third harmonic, at each point. Kept, as the
    cycles of a rider are of a few lengths: half the time of a cycle's shape goes into them."""
    w = 2.0 * math.pi / count
    c1, s1 = math.cos(w), math.sin(w)
    c, s = 1.0, 0.0
    out = []
    for _ in range(count):
        c2, s2 = c * c - s * s, 2.0 * c * s
        out.append((c, s, c2, s2, c2 * c - s2 * s, s2 * c + c2 * s))
        c, s = c * c1 - s * s1, s * c1 + c * s1
    return tuple(out)


def shape_of(values: list[float]) -> Shape:
    """Figures of one cycle; values: vertical specific force [g] on the grid, at least 5 points."""
    count = len(values)
    mean = sum(values) / count
    r1 = i1 = r2 = i2 = r3 = i3 = 0.0
    for y, (c1, s1, c2, s2, c3, s3) in zip(values, _waves(count), strict=True):
        d = y - mean
        r1 += d * c1
        i1 += d * s1
        r2 += d * c2
        i2 += d * s2
        r3 += d * c3
        i3 += d * s3
    scale = 2.0 / count
    size = scale * math.hypot(r1, i1)
    window = sum(values[:7])
    square = 0.0
    for k in range(3, count - 3):
        d = values[k] - window / 7.0
        square += d * d
        if k + 4 < count:
            window += values[k + 4] - values[k - 3]
    grain = math.sqrt(square / max(count - 6, 1))
    base = max(size, 1e-3)
    lowest = min(values)
    near = lowest + 0.2 * (1.0 - lowest)
    half = lowest + 0.6 * (1.0 - lowest)
    low = [y for y in values if y < half]
    flat = len([y for y in low if y < near]) / max(len(low), 1)
    steps = [b - a for a, b in zip(values, values[4:], strict=False)]
    edge = max(max(steps), -min(steps)) if steps else 0.0
    return Shape(
        mean,
        size,
        scale * math.hypot(r2, i2) / base,
        scale * math.hypot(r3, i3) / base,
        grain / base,
        flat,
        edge / base,
        STEP * len([y for y in low if y < LIGHT_G]),
    )
