"""What lies in a gap of the samples: the rider is taken to have gone on as in the bounce before.

A straight line across a gap puts an onset up to a tenth of a second off, and a push that fell into it whole is lost.
What is known: bounces are alike, they come at a period that scatters by a few per cent, and at the far end of the gap
there is a sample again. So the points of the bounce before stand in the gap, stretched in time so that they lead from
where the gap begins to where it ends, and bent to meet both ends.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from .units import STEP, G

SCATTER, FARTHEST = 0.08, 0.25
"""A period differs from the running one by about the first share (2 to 7 % are usual: common practice, no source), by
no more than the second."""
UNLIKE, MISFIT = 0.2 * G, 1.2 * G
"""A point differs from the same one a bounce ago by about the first [m/s2]; by more than the second, and the rider has
not gone on (own values)."""

LONGEST = 0.75
"""In a gap of more than such a share of a period much can happen (own value)."""

Axes = tuple[Sequence[float], Sequence[float], Sequence[float]]


def points_until(t: float, edge: float) -> int:
    """How many grid cells end by t [s] if the next does at `edge`; rather one less where t is just the end of one."""
    return math.floor((t - edge) / STEP - 1e-9) + 1


def carried_on(
    axes: Axes, n: int, count: int, rhythm: tuple[float, float], end: tuple[float, float, float]
) -> list[tuple[float, float, float]]:
    """The `count` grid points [m/s2] of a gap, the last first; none where they cannot be told.

    axes: rings of x, y, z, with n points so far; rhythm: how many points the last bounce began after the one before,
    and the running period; end: the sample that ends the gap.
    """
    size = len(axes[0])
    begun, period = rhythm
    least = max(round((1.0 - FARTHEST) * period), count + 1)
    most = round((1.0 + FARTHEST) * period)
    if max(most, begun) + 2 >= min(size, n) or count > LONGEST * min(period, begun):
        return []

    def ago(place: float) -> list[float]:
        k = int(place)
        part = place - k
        return [(1.0 - part) * a[k % size] + part * a[(k + 1) % size] for a in axes]

    def cost(shift: int) -> float:
        off = (shift - period) / (SCATTER * period)
        unlike = sum((v - a[(n + count - shift) % size]) ** 2 for v, a in zip(end, axes, strict=True))
        return off * off + unlike / (UNLIKE * UNLIKE)

    shift = min(range(least, most + 1), key=cost, default=0)
    if not shift:
        return []
    first = [a[(n - 1) % size] - v for a, v in zip(axes, ago(n - 1 - begun), strict=True)]
    last = [v - a[(n + count - shift) % size] for a, v in zip(axes, end, strict=True)]
    if max(sum(v * v for v in first), sum(v * v for v in last)) > MISFIT * MISFIT:
        return []
    points = []
    for k in range(count):
        share = (k + 1) / (count + 1)
        there = ago(n + k - begun - share * (shift - begun))
        x, y, z = (v + (1.0 - share) * f + share * g for v, f, g in zip(there, first, last, strict=True))
        points.append((x, y, z))
    return points[::-1]
