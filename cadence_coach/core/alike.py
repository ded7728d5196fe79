"""Which bounces at the two ends of a flight are pumps too: told by how much they are like the pumps beside them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import median

from .events import CycleDone, Onset

FELLOWS = 3
"""So many neighbours tell what a pump of this flight looks like."""
ODD_ONE = 0.0
"""A first or last cycle less like its neighbours than this is the landing, a step, the fall."""
VERY_ODD = -1.0
"""The same for cycles that are not the very first or last: more must speak against them."""
FIRST = (5.06, -5.41, -9.36, -7.82, -1.62, 0.53)
LAST = (5.69, -9.28, -7.53, -5.45, -2.20, 0.33)
"""Log-odds that a bounce at the begin or end of a flight is a pump too: constant, and weights of the absolute log ratio
to its neighbours of interval, push height, push width and rise time, and of its own odds. Logistic fit on 940 bounces
of simulated riders."""
OPENING, CLOSING = 4, 3
"""How many bounces at either end are looked at."""


class Swing:
    """What is known of one cycle so far. light: how long [s] the magnitude was in free fall in the glide before."""

    __slots__ = ("done", "light", "onset", "push_end")

    def __init__(self, onset: Onset, light: float) -> None:
        self.onset = onset
        self.light = light
        self.push_end: float | None = None
        self.done: CycleDone | None = None


def whole(bounces: Sequence[Swing]) -> list[CycleDone]:
    return [b.done for b in bounces if b.done is not None and b.done.whole]


def after_odd(run: list[Swing], least: int) -> list[Swing]:
    """The run after the last of its first bounces that is unlike those after it: the landing, a step, the leap.

    least: so many whole cycles must stand behind a bounce before it is judged."""
    cut = 0
    for j in range(min(OPENING, len(run))):
        mine = run[j].done
        fellows = whole(run[j + 1 :])[:FELLOWS]
        if mine is None or not mine.whole or len(fellows) < least:
            break
        if likeness(mine, mine.period, fellows, FIRST) < (ODD_ONE if j == cut else VERY_ODD):
            cut = j + 1
    return run[cut:]


def before_odd(run: list[Swing], least: int) -> list[Swing]:
    """The run before the first of its last bounces that is unlike those before it: touch-down, fall, splash."""
    for j in range(max(least, 2, len(run) - CLOSING), len(run)):
        mine = run[j].done
        fellows = whole(run[max(0, j - FELLOWS) : j])
        if mine is None or not fellows:
            if run[j].push_end is None:
                return run[:j]
            continue
        odd = ODD_ONE if j == len(run) - 1 else VERY_ODD
        if likeness(mine, run[j].onset.time - run[j - 1].onset.time, fellows, LAST) < odd:
            return run[:j]
    return run


def likeness(cycle: CycleDone, period: float, fellows: list[CycleDone], weights: tuple[float, ...]) -> float:
    """How much a cycle is like the pumps beside it, by its push and its own shape: log-odds.

    Of a last cycle the glide is cut short or stretched, so `period` is then the interval before it, and size and travel
    are left out."""
    bias, interval, height, width, rise, shape = weights
    return (
        bias
        + interval * _ratio(period, [c.period for c in fellows], 0.05)
        + height * _ratio(cycle.peak_g - 0.95, [c.peak_g - 0.95 for c in fellows], 0.02)
        + width * _ratio(cycle.push_end - cycle.onset, [c.push_end - c.onset for c in fellows], 0.02)
        + rise * _ratio(cycle.peak - cycle.onset, [c.peak - c.onset for c in fellows], 0.02)
        + shape * cycle.odds
    )


def _ratio(mine: float, theirs: list[float], least: float) -> float:
    return abs(math.log(max(mine, least) / max(median(theirs), least)))
