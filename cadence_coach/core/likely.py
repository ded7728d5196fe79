"""Which bounces are pumps: each one judged by its own shape and by the bounces beside it, as log-odds.

A bounce alone tells little: a weak quick pump and a soft step look the same. A row of them does: pumps repeat, lean on
no leg, sway little, keep the trunk where it was; steps do not, and a landing or a fall is like nothing beside it. So
the figures of a bounce go together with the medians of those of up to four joined bounces before it and, once they are
there, after it: first it is judged by what came before, then again in hindsight. Medians, so that one splash beside a
pump does not speak against it; and the figures of the two bounces next to it, which tell a first pump from a landing.

The judges are two nets of tanh units (`likely_fit`), a small one for every bounce at once and a larger one for the
doubtful in hindsight, fitted on simulated riders and several makes of others, of 1.05-1.95 Hz, 1.2-2.6 g and push
shares of 0.18-0.55 (walking, running, hopping, swimming, knee bends, boat rides and falls between) together with the
open walking and running recordings.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence
from operator import mul

from .filters import dot, squares
from .gait import JOINED, Gait, Look
from .likely_fit import AT_ONCE, IN_HINDSIGHT, Net
from .shape import Shape

BESIDE = 4
"""So many bounces either side are asked."""
LEGS_UNKNOWN = 0.3
"""What stands for gait's number where it says nothing."""
UNKNOWN = -10.0
"""Log-odds of a bounce too long to be looked at."""
LONG, SIZE, SHARE, HEIGHT, WIDTH = 0, 1, 6, 11, 12
"""Places of some figures in `Judged.own`."""


class Judged:
    """A bounce and its figures."""

    __slots__ = ("apart", "end", "legs", "number", "onset", "own", "rest", "tilt", "whole")

    def __init__(
        self, number: int, onset: float, end: float, whole: bool, peak_g: float, push_share: float, shape: Shape,
        look: Look,
    ) -> None:  # fmt: skip
        self.number, self.onset, self.end, self.whole = number, onset, end, whole
        self.legs, self.apart, self.tilt = look.legs, look.apart, min(look.tilt, 1.5)
        self.own = (
            math.log((end - onset) / 0.63),
            math.log(max(shape.size, 1e-3)),
            math.log(max(shape.grain, 1e-2)),
            abs(shape.mean - 1.0),
            min(shape.second, 2.0),
            min(shape.third, 2.0),
            push_share,
            shape.flat,
            math.log(max(shape.edge, 0.05)),
            math.log(max(look.sway, 0.01) / max(shape.size, 0.05)),
            min(shape.light, 0.4),
            math.log(max(peak_g - 0.95, 0.03)),
            math.log(max(push_share * (end - onset), 0.02)),
        )


class Likely:
    """`add` each bounce; `again` for one of the last few. State is bounded."""

    def __init__(self, gait: Gait) -> None:
        self._gait = gait
        self._last: deque[Judged] = deque(maxlen=2 * BESIDE + 1)

    def add(
        self, number: int, onset: float, end: float, whole: bool, peak_g: float, push_share: float, shape: Shape,
        first: int, vertical: list[float],
    ) -> float:  # fmt: skip
        """Log-odds of a bounce that is over, by itself and those before it, as the small net has it. first: number of
        its first grid point; vertical [g]: its points."""
        look = self._gait.look(onset, end, first, vertical, whole)
        last = self._last
        if look is None:
            last.clear()
            return UNKNOWN
        if last and abs(last[-1].end - onset) > JOINED:
            last.clear()
        last.append(Judged(number, onset, end, whole, peak_g, push_share, shape, look))
        return SMALL.odds(figures(list(last), len(last) - 1, hindsight=False))

    def passed(self, onset: float, end: float) -> None:
        """From `onset` to `end` [s] was no bounce: the one before goes on until then."""
        self._gait.passed(onset, end)
        if self._last and abs(self._last[-1].end - onset) <= JOINED:
            self._last[-1].end = end

    def again(self, number: int) -> float | None:
        """Log-odds of an earlier bounce by all that is known by now, as the larger net has it; None where it is no
        longer held."""
        last = list(self._last)
        at = next((k for k, bounce in enumerate(last) if bounce.number == number), None)
        if at is None:
            return None
        return LARGE.odds(figures(last, at))


def figures(row: Sequence[Judged], at: int, hindsight: bool = True) -> list[float]:
    """What a net is shown of bounce `at` of a joined row; without hindsight it is the row's last, and what tells of
    those after it is left away."""
    mine = row[at]
    before, after = row[max(0, at - BESIDE) : at], row[at + 1 : at + 1 + BESIDE]
    near = [mine, *before, *after]
    legs = [b.legs for b in near if b.legs is not None]
    apart = [b.apart for b in near if b.apart is not None]
    last = before[-1] if before else mine
    told = [
        *mine.own,
        min(sum(legs) / len(legs), 4.0) if legs else LEGS_UNKNOWN,
        1.0 if legs else 0.0,
        0.0 if mine.whole else 1.0,
        median(apart) if apart else 0.0,
        *_beside(mine, before, mine.tilt),
        *last.own,
        last.tilt,
    ]
    if hindsight:
        next_ = after[0] if after and after[0].whole else mine
        after = [b for b in after if b.whole]
        told += [*_beside(mine, after, after[0].tilt if after else 0.0), *next_.own, next_.apart or 0.0]
    return told


def _beside(mine: Judged, others: Sequence[Judged], tilt: float) -> list[float]:
    """Medians of the figures of the others, how far mine are from them, how far they lie apart themselves."""
    if not others:
        return [*mine.own, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0]
    own = mine.own
    middle = list(map(median, zip(*[b.own for b in others], strict=True)))
    return [
        *middle,
        abs(own[LONG] - middle[LONG]),
        abs(own[HEIGHT] - middle[HEIGHT]),
        abs(own[SHARE] - middle[SHARE]),
        abs(own[WIDTH] - middle[WIDTH]),
        len(others) / BESIDE,
        median([abs(b.own[LONG] - middle[LONG]) for b in others]),
        median([abs(b.own[SIZE] - middle[SIZE]) for b in others]),
        tilt,
    ]


def median(values: Sequence[float]) -> float:
    """As statistics.median, in a third of its time."""
    row, half = sorted(values), len(values) // 2
    return row[half] if len(row) % 2 else 0.5 * (row[half - 1] + row[half])


class Ready:
    """A net: constant of each of its units, weights of the figures with the sum of their squares, what it counts."""

    def __init__(self, net: Net) -> None:
        bias, weights, (self._constant, *self._counts) = net
        self._units = [(b, w, squares(w)) for b, w in zip(bias, weights, strict=True)]

    def odds(self, x: Sequence[float]) -> float:
        """Log-odds, by the figures."""
        x, size = tuple(x), squares(x)
        tanh = math.tanh
        hidden = [tanh(b + dot(w, x, own + size)) for b, w, own in self._units]
        return float(self._constant + sum(map(mul, self._counts, hidden)))


SMALL, LARGE = Ready(AT_ONCE), Ready(IN_HINDSIGHT)
