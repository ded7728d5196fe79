"""A bounce in all three axes: how it sways, how it repeats the one before, which way the trunk leans, and two legs.

Walking leans on left and right in turn, pumping on both at once: each bounce of a walk is more like the one before the
last than like the last, in all three axes, since no two legs and no pocket are alike. Open recordings of walking show
0.3 with the phone at the neck or in the hand, 0.8 to 2 in pockets; pumping 0.2 +- 0.6.

Any fixed orientation of the phone gives the same numbers.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass

from .afoot import RING
from .filters import stretch
from .units import G

POINTS = 12
"""Points in a bounce that are compared."""
SPIKES = 2
"""So many of them, the farthest off, are left out: a splash lasts one or two."""
JOINED = 0.02
"""The next bounce is joined to this one where it begins this little [s] from its end."""
UNLIKE = 1.35
"""Bounces whose periods differ by more than this factor are not compared for two legs."""


@dataclass(frozen=True, slots=True)
class Look:
    """sway: RMS of what is across the vertical, mean taken out [g]; apart: log of the mean square difference to the
    bounce before by twice the bounce's own mean square, None where none was joined to it; tilt: angle [rad] between
    the means of the bounce and of the nearer of the two before; legs: see `Gait._legs`."""

    sway: float
    apart: float | None
    tilt: float
    legs: float | None


class _Seen:
    """near, far: sum of the squared differences to the bounce before and to the one before that."""

    __slots__ = ("end", "far", "lean", "near", "period", "points")

    def __init__(self, end: float, period: float, points: list[float], lean: tuple[float, float, float]) -> None:
        self.end, self.period, self.points, self.lean = end, period, points, lean
        self.near = self.far = 0.0


class Gait:
    """`front` feeds the rings of all three axes [m/s2]; ask at each bounce. State is bounded."""

    def __init__(self) -> None:
        self.x = [0.0] * RING
        self.y = [0.0] * RING
        self.z = [0.0] * RING
        self._last: deque[_Seen] = deque(maxlen=4)

    def look(self, onset: float, end: float, first: int, vertical: list[float], whole: bool) -> Look | None:
        """Of the bounce from `onset` to `end` [s], whose first grid point is number `first` and whose vertical [g] is
        given; None where the rings do not hold it."""
        count, last = len(vertical), self._last
        if count >= RING:
            last.clear()
            return None
        x, y, z = (stretch(ring, first, first + count) for ring in (self.x, self.y, self.z))
        lean = (sum(x) / count, sum(y) / count, sum(z) / count)
        ask = [k * count // POINTS for k in range(POINTS)]
        points = [axis[i] - mean for axis, mean in zip((x, y, z), lean, strict=True) for i in ask]
        level, unit = sum(vertical) / count, 1.0 / (G * G)
        squares = [
            unit * (p * p + q * q + r * r)
            for p, q, r in zip(points, points[POINTS:], points[2 * POINTS :], strict=False)
        ]
        across = [s - (vertical[i] - level) ** 2 for s, i in zip(squares, ask, strict=True)]
        if last and abs(last[-1].end - onset) > JOINED:
            last.clear()
        apart, tilt = None, 0.0
        mine = _Seen(end, end - onset, points, lean)
        if last:
            off = _squares(points, last[-1].points)
            mine.near = sum(off)
            each = [p + q + r for p, q, r in zip(off, off[POINTS:], off[2 * POINTS :], strict=False)]
            apart = math.log(max(_usual(each) / (G * G), 1e-4) / max(2.0 * _usual(squares), 1e-3))
            tilt = _angle(lean, last[-1].lean)
        if len(last) > 1:
            mine.far = math.dist(points, last[-2].points) ** 2
            tilt = min(tilt, _angle(lean, last[-2].lean))
        last.append(mine)
        return Look(math.sqrt(max(_usual(across), 1e-6)), apart, tilt, self._legs() if whole else None)

    def passed(self, onset: float, end: float) -> None:
        """From `onset` to `end` [s] was no bounce: the one before goes on until then."""
        if self._last and abs(self._last[-1].end - onset) <= JOINED:
            self._last[-1].end = end

    def _legs(self) -> float | None:
        """How much more like the bounce before the last than like the last (log of the ratio of mean squares); None
        until four joined bounces of like length are there."""
        last = self._last
        if len(last) < 4:
            return None
        periods = [seen.period for seen in last]
        if max(periods) > UNLIKE * min(periods):
            return None
        before, newest = last[2], last[3]
        return math.log(max(newest.near + before.near, 1e-9) / max(newest.far + before.far, 1e-9))


def _usual(squares: list[float]) -> float:
    """Mean without the SPIKES largest."""
    return sum(sorted(squares)[: POINTS - SPIKES]) / (POINTS - SPIKES)


def _squares(a: list[float], b: list[float]) -> list[float]:
    return [(p - q) * (p - q) for p, q in zip(a, b, strict=True)]


def _angle(a: tuple[float, float, float], b: tuple[float, float, float]) -> float:
    size = math.hypot(*a) * math.hypot(*b)
    return math.acos(max(-1.0, min(1.0, sum(p * q for p, q in zip(a, b, strict=True)) / size))) if size > 0.0 else 0.0
