"""What one bounce looks like, and how much it looks like a pump: figures and log-odds of a whole cycle from its samples.

The odds are a logistic model of seven figures, fitted once on simulated riders (walking, running, swimming, knee bends and falls between)
together with the open walking and running recordings; the figures were chosen so that any fixed orientation and rate give the
same. They speak of shape alone; `flights` adds what came before.
"""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Shape:
    """mean [g]; size: amplitude of the once-per-cycle part [g]; second, third: the next harmonics by size; grain: what a 70 ms moving
    average leaves, by size (heel strikes, ringing)."""

    mean: float
    size: float
    second: float
    third: float
    grain: float


def shape_of(values: list[float]) -> Shape:
    """Figures of one cycle; values: vertical specific force [g] on the grid, at least 5 points."""
    count = len(values)
    mean = sum(values) / count
    w = 2.0 * math.pi / count
    c1, s1 = math.cos(w), math.sin(w)
    c, s = 1.0, 0.0
    r1 = i1 = r2 = i2 = r3 = i3 = 0.0
    for y in values:
        d = y - mean
        c2, s2 = c * c - s * s, 2.0 * c * s
        r1 += d * c
        i1 += d * s
        r2 += d * c2
        i2 += d * s2
        r3 += d * (c2 * c - s2 * s)
        i3 += d * (s2 * c + c2 * s)
        c, s = c * c1 - s * s1, s * c1 + c * s1
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
    return Shape(mean, size, scale * math.hypot(r2, i2) / base, scale * math.hypot(r3, i3) / base, grain / base)


BIAS = 3.3
WEIGHTS = (7.04, -16.57, 3.91, -1.56, -17.09, 1.58, 1.86, -6.09, -5.98)


def pump_odds(shape: Shape, period: float, push_share: float) -> float:
    """Log-odds that a whole cycle is a pump, by its shape alone. period [s]."""
    long = math.log(period / 0.63)
    figures = (
        long,
        long * long,
        math.log(max(shape.size, 1e-3)),
        math.log(max(shape.grain, 1e-2)),
        abs(shape.mean - 1.0),
        min(shape.second, 2.0),
        min(shape.third, 2.0),
        push_share,
        abs(push_share - 0.4),
    )
    return BIAS + sum(w * x for w, x in zip(WEIGHTS, figures, strict=True))
