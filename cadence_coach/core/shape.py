"""What one bounce looks like, and how much that is like a pump: figures and log-odds of a whole cycle.

The odds come from a model of thirteen figures with eight hidden units, fitted once on simulated riders and on drawn
pumps of 1.05-1.95 Hz, 1.4-2.6 g and push shares of 0.18-0.55 (walking, running, swimming, knee bends and falls between)
together with the open walking and running recordings; the figures were chosen so that any fixed orientation and rate
give the same. They speak of shape alone; `flights` adds what came before.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache


@dataclass(frozen=True, slots=True)
class Shape:
    """mean [g]; size: amplitude of the once-per-cycle part [g]; second, third: the next harmonics by size; grain:
    what a 70 ms moving average leaves, by size (heel strikes, ringing). flat: part of the lower half of the cycle
    that lies within a fifth of its depth (a body in the air weighs nothing all the time: half and more; a glide is
    rounded: under half); edge: steepest change in 40 ms, by size."""

    mean: float
    size: float
    second: float
    third: float
    grain: float
    flat: float
    edge: float


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
    )


HIDDEN = (
    (-3.663, (3.72, -0.305, -0.149, -0.304, 17, 1.89, 2.94, 0.651, -2.67, -0.205, 2.18, 0.741, 1.23)),
    (8.749, (2.47, 4.29, 0.739, 0.291, -5.23, -3.79, 0.62, -12.5, 3.2, -0.991, 0.832, -0.437, -0.781)),
    (-0.210, (-1.13, 3.89, -0.418, 0.387, 3.2, -2.15, 0.945, 3.63, -4.49, -0.486, -0.0959, -1.25, 0.558)),
    (-1.991, (1.37, -1.41, -0.0477, -1.77, 0.207, 0.589, 0.351, -2.45, 0.989, -0.845, -0.774, -1.97, 0.887)),
    (4.423, (-0.486, 1.32, -0.446, 0.151, -10.3, -8.71, 7.43, -3.34, -5.06, 0.575, 0.0419, 0.696, 0.208)),
    (-2.318, (-1.42, 0.54, -0.272, 0.037, 3.12, -0.111, -0.784, -0.14, 1.29, 1.96, 0.00341, 2.34, 0.252)),
    (1.574, (-1.06, -2.63, 1.49, -0.0405, -7.25, 2.22, -1.01, 2.63, 1.34, -1.37, -0.541, -2.09, 0.463)),
    (2.774, (-1.14, -0.983, 0.681, -0.0787, -6.31, -0.0375, 2, -11.3, 5.71, 0.271, -2.37, -0.0534, 1.26)),
)
OUT = (-8.750, (2.62, 3.59, -4.27, 4.34, 3.51, 4.65, 4.71, -5.19))


def figures_of(shape: Shape, period: float, push_share: float) -> tuple[float, ...]:
    """The thirteen figures the odds are made of. period [s]."""
    long = math.log(period / 0.63)
    size = math.log(max(shape.size, 1e-3))
    return (
        long,
        long * long,
        size,
        math.log(max(shape.grain, 1e-2)),
        abs(shape.mean - 1.0),
        min(shape.second, 2.0),
        min(shape.third, 2.0),
        push_share,
        abs(push_share - 0.4),
        shape.flat,
        math.log(max(shape.edge, 0.05)),
        max(0.0, size - math.log(0.35)),
        max(0.0, 0.55 - period) * 10.0,
    )


def pump_odds(shape: Shape, period: float, push_share: float) -> float:
    """Log-odds that a whole cycle is a pump, by its shape alone. period [s]."""
    figures = figures_of(shape, period, push_share)
    total = OUT[0]
    for (bias, weights), out in zip(HIDDEN, OUT[1], strict=True):
        total += out * math.tanh(bias + sum(w * x for w, x in zip(weights, figures, strict=True)))
    return total
