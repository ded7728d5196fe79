"""How far a crossing of the level lies from the onset or push end that it stands for, learned.

The crossing alone errs where the signal is flat or bent there: a shoulder at 1 g, the lag and ringing of a pouch, a
trunk that nods. What is around it tells part of that: the vertical either side of it, the pump before (its onset and
its push end show how this pouch answers), the mean of that pump, which is 1 g where the vertical is read rightly, and
whether the onset is early or late for the period. For a push end also where levels a little above and below are
crossed: after a push that rings or has two tops the first crossing need not be the one.

Two small nets (`timing_fit`), a line plus a few tanh units each, say the error in seconds; it is taken off, MOST at
most. Fitted on simulated riders and several makes of others, as much of each, with a loss that grows like the error
itself, so that few wrong crossings do not outvote many right ones; and a little is taken back, since of riders unlike
these they say too much.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from operator import mul

from .filters import dot, squares, stretch
from .timing_fit import ONSET, PUSH_END, Net
from .units import STEP

MOST = 0.03
"""No time is moved further than this [s]: beyond it another crossing is meant, and neither net nor line knows."""
AROUND_ONSET = range(-9, 4)
"""Grid points shown around an onset: no more than three after it, which is when it must be told."""
BEFORE_ONSET, BEFORE_END = range(-4, 15), (-6, -4, -2, 2, 4, 6, 8, 10, 12, 15)
"""... around the onset and the push end before it,"""
AROUND_END = (-40, -33, -27, -22, -18, -15, -12, -10, *range(-8, 9), 10, 12, 15)
"""... and around a push end, which is told later."""
LEVELS = (0.12, 0.06, 0.03, 0.0, -0.03, -0.06, -0.12)
"""Beside the level [g]: where the signal falls through these after the peak."""
LOWEST_HEIGHT = 0.15
"""The vertical is shown by the height of the push, or this [g] if that is less; FARTHEST times that at most."""
FARTHEST = 2.0
LATEST = 120
"""An onset further back than so many points says nothing about this pump."""
EARLY = 0.3
"""An onset earlier or later than this [s] for the period is not of that rhythm."""
USUAL_PERIOD, USUAL_SHARE = 0.65, 0.4
"""What stands for period [s] and push share before the first are known."""
AWAY, NOT_CROSSED = 12.0, 10.0
"""A level's crossing is looked for so many points around the push end; what stands for one that has not come."""


def around(
    ring: Sequence[float], n: int, place: float, offsets: Sequence[int], level: float, height: float
) -> list[float]:
    """The signal over `level` at `place` (a grid index, between points on the straight line) plus each offset, in
    heights; n: points that there are. What has not come yet is as the last that has."""
    size, last, first = len(ring), n - 1, math.floor(place)
    part = place - first
    by = 1.0 / height
    one, two = by * (1.0 - part), by * part
    over = level * by
    if first + offsets[-1] < last:
        out = [one * ring[(first + k) % size] + two * ring[(first + k + 1) % size] - over for k in offsets]
    else:
        end = ring[last % size] * by - over
        out = [
            one * ring[(first + k) % size] + two * ring[(first + k + 1) % size] - over if first + k < last else end
            for k in offsets
        ]
    if max(out) > FARTHEST or min(out) < -FARTHEST:
        return [max(-FARTHEST, min(FARTHEST, y)) for y in out]
    return out


def onset_figures(
    raw: list[float], n: int, place: float, before: float, end: float, period: float, level: float, height: float
) -> list[float]:
    """What the net is shown of an onset. raw: ring of verticals [g], n: points that there are; place: where the onset
    was found, before and end: where onset and push end of the pump before were (grid indices; NaN for none);
    period [s] and height [g] as they run."""
    height = max(height, LOWEST_HEIGHT)
    figures = around(raw, n, place, AROUND_ONSET, level, height)
    known = period == period
    late = STEP * (place - before) - period
    if place - before < LATEST and end - end == 0.0:
        points = stretch(raw, math.ceil(before), math.floor(place) + 1)
        figures += around(raw, n, before, BEFORE_ONSET, level, height)
        figures += around(raw, n, end, BEFORE_END, level, height)
        figures.append(sum(points) / len(points) - level if points else 0.0)
        figures.append(min(STEP * (end - before) / period, 1.0) if known else USUAL_SHARE)
    else:
        figures += [0.0] * (len(BEFORE_ONSET) + len(BEFORE_END) + 1)
        figures.append(USUAL_SHARE)
    figures.append(period if known else USUAL_PERIOD)
    figures.append(late if -EARLY < late < EARLY else 0.0)
    figures.append(level - 1.0)
    return figures


def end_figures(
    raw: list[float], n: int, place: float, onset: float, peak: int, period: float, level: float
) -> list[float]:
    """What the net is shown of a push end found at `place`; peak: grid index of the push's highest point."""
    size = len(raw)
    top = max(raw[k % size] for k in (peak - 1, peak, peak + 1))
    height = max(top - level, LOWEST_HEIGHT)
    figures = around(raw, n, place, AROUND_END, level, height)
    figures += _falls(raw, n, place, peak, level)
    known = period == period
    figures.append(math.log(height))
    figures.append(period if known else USUAL_PERIOD)
    figures.append(min(STEP * (place - onset) / period, 1.0) if known else USUAL_SHARE)
    return figures


def _falls(raw: list[float], n: int, place: float, peak: int, level: float) -> list[float]:
    """Where the signal first falls through each of LEVELS after its peak, in points from `place`."""
    size = len(raw)
    out = []
    k, before = peak, raw[peak % size] - level
    for over in LEVELS:
        while k < n and raw[k % size] - level >= over:
            before = raw[k % size] - level
            k += 1
        if k == n:
            out.append(NOT_CROSSED)
            continue
        y = raw[k % size] - level
        at = k - (over - y) / (before - y) if before >= over else k
        out.append(max(-AWAY, min(AWAY, at - place)))
    return out


class Late:
    """A net, ready to be asked: called with the figures it says how late the found time is [s], at most MOST either
    way."""

    def __init__(self, net: Net) -> None:
        constants, weights, self._counts, (self._constant, *line) = net
        self._units = [(c, w, squares(w)) for c, w in zip(constants, weights, strict=True)]
        self._line = tuple(line)

    def __call__(self, figures: Sequence[float]) -> float:
        x, tanh = tuple(figures), math.tanh
        size = squares(x)
        hidden = [tanh(c + dot(w, x, own + size)) for c, w, own in self._units]
        late = self._constant + sum(map(mul, self._line, x)) + sum(map(mul, self._counts, hidden))
        return float(max(-MOST, min(MOST, late)))


LATE = Late(ONSET), Late(PUSH_END)
