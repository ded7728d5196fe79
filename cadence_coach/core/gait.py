"""Two legs: walking leans on left and right in turn, pumping on both at once; and a walk goes on.

Each bounce of a walk is more like the one before the last than like the last, in all three axes: no two legs and no
pocket are alike. Of pumping it is not so. One number a bounce says how much; open recordings of walking show 0.3 with
the phone at the neck or in the hand, 0.8 to 2 in pockets; pumping 0.2 +- 0.6.

And where a run of bounces carries on a rhythm that was none before, it is none now: a flight begins after a landing,
a step or a glide, not in the middle of a beat.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence
from itertools import pairwise
from statistics import fmean, median, pstdev

from .afoot import RING
from .cycles import STEP
from .events import CycleDone

POINTS = 12
"""Points in a bounce that are compared."""
UNLIKE = 1.35
"""Bounces whose periods differ by more than this factor are not compared."""
LONG = 8
"""From so many bounces on, being alike speaks for a flight as well."""
NEUTRAL, WORTH, MOST = 1.25, 1.5, 4.0
"""Evidence for or against a flight for each bounce: WORTH x (NEUTRAL - number), the number at most MOST. Simulated
pumps: 95 % under 1.2; a walk in a pocket 2 to 5."""
EVEN, UNEVEN_MOST = 0.08, 0.5
"""Where the periods vary by more than the first (as a share), a bounce speaks for a flight by at most the second:
swimming leans on no leg either, but keeps no beat."""
SAME, CARRIED, CARRIED_MOST = 0.25, 1.5, 4
"""Evidence against a flight: CARRIED for each bounce before the run, four at most, that was none and kept the same beat
within SAME of the period."""


class Gait:
    """`front` feeds the rings of all three axes; ask at each whole cycle. State is bounded."""

    def __init__(self) -> None:
        self.x = [0.0] * RING
        self.y = [0.0] * RING
        self.z = [0.0] * RING
        self.n = 0
        """Grid points so far; `front` writes it, and the rings."""
        self._last: deque[tuple[CycleDone, list[float]]] = deque(maxlen=4)

    def restart(self) -> None:
        self.n = 0
        self._last.clear()

    def two_legged(self, cycle: CycleDone, now: float) -> float | None:
        """How much more like the cycle before the last than like the last (log of the ratio of mean squares); None
        until four joined cycles of like length are there. now: time of the newest grid point [s]."""
        back = round((now - cycle.onset) / STEP)
        if not cycle.whole or not 4 < back < min(RING, self.n):
            self._last.clear()
            return None
        first = self.n - 1 - back
        ask = [(first + round(k * cycle.period / (POINTS * STEP))) % RING for k in range(POINTS)]
        shape = [axis[i] for axis in (self.x, self.y, self.z) for i in ask]
        last = self._last
        if last and abs(last[-1][0].time - cycle.onset) > 0.01:
            last.clear()
        last.append((cycle, shape))
        periods = [c.period for c, _ in last]
        if len(last) < 4 or max(periods) > UNLIKE * min(periods):
            return None
        a, b, c, d = (s for _, s in last)
        near = _apart(d, c) + _apart(c, b)
        far = _apart(d, b) + _apart(c, a)
        return math.log(max(near, 1e-9) / max(far, 1e-9))


def _apart(a: list[float], b: list[float]) -> float:
    return sum((p - q) * (p - q) for p, q in zip(a, b, strict=True))


def legs_evidence(numbers: Sequence[float | None], periods: Sequence[float]) -> float:
    """Evidence for a flight from the numbers of its bounces and their periods [s]."""
    known = [min(x, MOST) for x in numbers if x is not None]
    if not known:
        return 0.0
    each = WORTH * (NEUTRAL - fmean(known))
    if each > UNEVEN_MOST and pstdev(periods) > EVEN * fmean(periods):
        each = UNEVEN_MOST
    return each * len(numbers) if each < 0.0 or len(numbers) >= LONG else 0.0


def carried(before: Sequence[float], run: Sequence[float]) -> float:
    """Evidence against a flight from onsets [s] before a run that were none, and the run's own."""
    period = median([b - a for a, b in pairwise(run)])
    count, after = 0, run[0]
    for onset in reversed(before):
        if count == CARRIED_MOST or abs(after - onset - period) > SAME * period:
            break
        count += 1
        after = onset
    return CARRIED * count
