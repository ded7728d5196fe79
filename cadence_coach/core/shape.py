"""What one bounce looks like, and how much that is like a pump: figures and log-odds of a whole cycle.

The odds come from a model of thirteen figures with six hidden units, fitted once on simulated riders (walking, running,
swimming, knee bends and falls between) together with the open walking and running recordings; the figures were chosen
so that any fixed orientation and rate give the same. They speak of shape alone; `flights` adds what came before.
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
    (1.601, (-1.06, -3.53, 1.99, -1.69, 2.45, 2.14, -0.174, -2.38, -0.0949, -2.22, -0.299, -4.38, -0.116)),
    (2.732, (2.5, -0.766, 1.7, -0.112, 5.34, -2.79, 0.637, 2.85, -3.79, -1.06, 2.6, -1.7, -0.151)),
    (-0.490, (-7.43, 1.48, -0.392, 0.292, 3.53, 1.65, -0.188, 4.12, -1.62, -2.56, 1.01, 1.22, 0.307)),
    (-0.607, (-0.441, 0.598, 1.61, 0.414, -10.1, -3.01, 3.61, 0.882, 0.35, 2.96, -0.499, 2.28, -0.364)),
    (-1.597, (-3.0, 0.431, -1.41, -0.823, -10.0, 1.74, -0.323, -3.13, -8.46, -0.986, 0.25, 2.48, -1.12)),
    (-4.806, (-0.717, 3.43, -1.31, -1.42, -25.1, -0.602, 0.909, 7.65, -33.0, -0.0685, -0.0945, 0.771, -0.639)),
)
OUT = (-2.423, (4.46, 4.54, -2.26, 4.18, 4.24, -2.04))


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
