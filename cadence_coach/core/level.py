"""The level: 1 g as this sensor reads it, from the mean over whole cycles (momentum theorem)."""

from __future__ import annotations

PRIOR, MEMORY = 2, 10
"""1.0 weighs like the first number of cycles; later it is a running mean over a dozen."""
RANGE = 0.1
"""Never further than this [g] from 1."""
TRUST = 0.4
"""Share of that mean's distance from 1 g that is believed: a sensor offset moves mean and crossing alike, a trunk
that nods, without a gyroscope, moves the mean (to 0.92 g) and the crossing hardly (onset p95 12.9 to 10.1 ms)."""


def level_after(level: float, count: int, mean: float) -> float:
    """The level [g] after the `count`-th whole cycle, whose mean is given [g]."""
    off = max(-RANGE, min(RANGE, mean - 1.0))
    return level + (1.0 + TRUST * off - level) / (min(count, MEMORY) + PRIOR)
