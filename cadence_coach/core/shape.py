"""What one bounce looks like: figures of its vertical force, the same for any fixed orientation and any rate."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from itertools import accumulate
from operator import mul

from .filters import dot, squares
from .units import STEP, G

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
def _waves(count: int) -> list[tuple[tuple[float, ...], float]]:
    """Cosine and sine of a cycle of `count` points, of its second and its third harmonic, at each point, and the sum
    of their squares. Kept, as the cycles of a rider are of a few lengths."""
    w = 2.0 * math.pi / count
    c = [math.cos(w * k) for k in range(count)]
    s = [math.sin(w * k) for k in range(count)]
    # a harmonic takes the same values, each second or third of them, round and round
    waves = map(tuple, (c, s, (2 * c)[::2], (2 * s)[::2], (3 * c)[::3], (3 * s)[::3]))
    return [(wave, squares(wave)) for wave in waves]


def shape_of(values: list[float]) -> Shape:
    """Figures of one cycle; values: vertical specific force [g] on the grid, at least 5 points."""
    count = len(values)
    mean = sum(values) / count
    swing = tuple([y - mean for y in values])
    all_of_it = squares(swing)
    r1, i1, r2, i2, r3, i3 = [dot(swing, wave, all_of_it + size) for wave, size in _waves(count)]
    scale = 2.0 / count
    size = scale * math.hypot(r1, i1)
    sums = list(accumulate(values, initial=0.0))
    off = [y - (b - a) / 7.0 for y, a, b in zip(values[3:], sums, sums[7:], strict=False)]
    grain = math.sqrt(sum(map(mul, off, off)) / max(count - 6, 1))
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


def middle_of_low(values: list[float], start: int, level: float) -> float:
    """Where the middle of the time lies that the glide, from the point `start` on, spends in its lower half, in
    points."""
    glide = values[start:]
    half = 0.5 * (level + min(glide))
    low = [i for i, y in enumerate(glide) if y <= half]
    return start + (0.5 * (low[0] + low[-1]) if low else 0.5 * len(glide))


def travel_of(values: list[float], first: int) -> float:
    """Vertical travel of the body over a cycle, peak to peak [m]; values: vertical specific force [g] on the grid from
    the cycle before on, if it joins, `first` points of it.

    Twice integrated. What is not known, the speed at the start and the sensor's own 1 g, is taken from the cycle before
    as well: over two cycles the body ends about as high and as fast as it began; over one it need not.
    """
    count = len(values)
    mean = sum(values) / count
    gain = G * STEP
    speeds = list(accumulate([(y - mean) * gain for y in values]))
    drift = sum(speeds) / count
    path = list(accumulate([(u - drift) * STEP for u in speeds[first:]], initial=0.0))
    return max(path) - min(path)
