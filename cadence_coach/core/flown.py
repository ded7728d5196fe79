"""The pumps of the flight that is on: the last ones whole, of the earlier ones only the figures its end needs."""

from __future__ import annotations

import math
from array import array
from collections import deque
from collections.abc import Sequence
from itertools import pairwise
from statistics import median

from .events import CycleDone, Onset

RECENT = 32
"""So many bounces are kept whole: more than either end looks at."""
MOST = 4096
"""No more figures of a kind are kept (45 min of pumping)."""
MOST_SKIPPED = 1024
"""So many numbers of bounces that are none."""
NONE, NONE_IN_TIME = -1.0, -2.5
"""A bounce between others with log-odds under the first is none: one in a level glide, a splash. One that comes in time
after the bounce before it, and the next after it, needs the second: all but one of ten such were pumps (simulated,
drawn and foreign outings, 5700 pumps)."""
IN_TIME = 0.25
"""In time: off the usual period by no more than this share."""
GLIDING, GLIDE, CHOP = -1.0, 0.5, 1.5
"""A bounce of a flight under the first, its push under the second as a share of the flight's usual one, is chop in a
level glide: the wait for the next pump began before it, and it speaks against more pumps by the third at most."""
LIKE, LIKE_THESE = 1.15, 5
"""A bounce before the first pump is one too if its period, size, push share and height are off the medians of so many
pumps from there on by no more than this factor: riders of a kind that the nets do not know begin with pumps like the
rest."""
FEWEST = 3
"""... where there are so many whole ones,"""
SURELY_NONE = -4.5
"""... but not one with log-odds under this."""
GOING_ON = 0.5
NO_BEAT = 1.6
"""An interval over so many medians is no beat of its flight: a pump that was not heard makes one of two, a swell gives
a rest. Counted as a period, one such interval in a hundred doubles the steadiness of a rider who is good. The uneven
keep theirs: with a scatter of 15 % the edge is four of it away."""


class Swing:
    """What is known of one cycle so far. odds: clipped log-odds that it is a pump; while it goes on, a little for."""

    __slots__ = ("done", "odds", "onset", "push_end")

    def __init__(self, onset: Onset) -> None:
        self.onset = onset
        self.push_end: float | None = None
        self.done: CycleDone | None = None
        self.odds = GOING_ON


class Figures:
    """Figures of a kind: all, then every second, every fourth ... of them, so that each part of a flight weighs the
    same however long it is."""

    __slots__ = ("_every", "_passed", "kept")

    def __init__(self) -> None:
        self.kept = array("d")
        self._every, self._passed = 1, 0

    def append(self, figure: float) -> None:
        if self._passed % self._every == 0:
            self.kept.append(figure)
            if len(self.kept) > MOST:
                del self.kept[1::2]
                self._every *= 2
        self._passed += 1


class Flown:
    """`add` each bounce; the last of `recent` may be taken away again; `close`, then ask for the figures."""

    def __init__(self, swings: list[Swing]) -> None:
        self.recent = list(swings)
        self.skipped = [n for pair in pairwise(swings) for n in _taken_back(*pair)]
        self.pumps = 0  # of those no longer in `recent`
        self._before = math.nan
        self.gaps, self.shares, self.sizes = Figures(), Figures(), Figures()
        self._last_gaps: deque[float] = deque(maxlen=5)
        self.start = swings[0].onset.time

    def add(self, swing: Swing) -> None:
        self._skip(_taken_back(self.recent[-1], swing))
        self.recent.append(swing)
        if len(self.recent) > 2 * RECENT:
            done = self.recent[:RECENT]
            none = _none(self.recent, self._first, RECENT)
            del self.recent[:RECENT]
            self._count([s for s in done if s.onset.number not in none])
            self._skip(none)

    def _skip(self, numbers: Sequence[int]) -> None:
        self.skipped = [*self.skipped, *numbers][-MOST_SKIPPED:]

    def _count(self, swings: list[Swing]) -> None:
        self.pumps += len(swings)
        for swing in swings:
            if self._before == self._before:
                gap = swing.onset.time - self._before
                self.gaps.append(gap)
                self._last_gaps.append(gap)
            self._before = swing.onset.time
            if swing.done is not None and swing.done.whole:
                self.shares.append(swing.done.push_share)
                self.sizes.append(swing.done.size_g)

    def close(self, swings: list[Swing]) -> None:
        """The flight is over; swings: what is left of `recent`."""
        none = _none(swings, self._first, len(swings))
        self._count([s for s in swings if s.onset.number not in none])
        self._skip(none)

    @property
    def _first(self) -> int:
        """Index in `recent` of the first bounce that may be none: the flight's own first is judged elsewhere."""
        return 0 if self._before == self._before else 1

    @property
    def last_onset(self) -> float:
        return self._before

    @property
    def period(self) -> float:
        return median(self.gaps.kept) if self.gaps.kept else 0.6

    @property
    def running(self) -> float:
        """Median of the last five intervals [s]."""
        return median(self._last_gaps) if self._last_gaps else 0.6

    @property
    def steadiness(self) -> float:
        """Coefficient of variation (n - 1) of the beats; NaN under two."""
        gaps = beats(self.gaps.kept)
        if len(gaps) < 2:
            return math.nan
        mean = sum(gaps) / len(gaps)
        return math.sqrt(sum((g - mean) ** 2 for g in gaps) / (len(gaps) - 1)) / mean


def beats(gaps: Sequence[float]) -> list[float]:
    """Those intervals [s] of a flight that are beats, in order: see NO_BEAT."""
    longest = NO_BEAT * median(gaps) if gaps else 0.0
    return [gap for gap in gaps if gap <= longest]


def _taken_back(before: Swing, after: Swing) -> range:
    """Numbers of the bounces between, which the detector told and then took back."""
    return range(before.onset.number + 1, after.onset.number)


def middle(figures: array[float]) -> float:
    return median(figures) if figures else math.nan


def glide_height(swings: Sequence[Swing]) -> float:
    """No push of a level glide's chop is higher [g]."""
    return GLIDE * (median(s.done.peak_g for s in swings if s.done is not None) - 1.0)


def of_glide(swing: Swing, height: float) -> bool:
    """Is it chop in a level glide? height: as `glide_height` has it."""
    return swing.done is not None and swing.odds <= GLIDING and swing.done.peak_g - 1.0 <= height


def evidence(swings: Sequence[Swing], lean: float) -> list[float]:
    """What each bounce counts for the flight to have gone on until then: its log-odds and `lean`."""
    height = glide_height(swings)
    return [max(s.odds + lean, -CHOP) if of_glide(s, height) else s.odds + lean for s in swings]


def period_of(swings: list[Swing]) -> float:
    """Median of the last five intervals [s]; 0.6 s, a usual pump, where there is none."""
    gaps = [b.onset.time - a.onset.time for a, b in pairwise(swings[-6:])]
    return median(gaps) if gaps else 0.6


def back_to_like(run: Sequence[Swing], first: int) -> int:
    """Index of the first of those bounces before the pump `first` that are, one after the other, like the pumps from
    there on."""
    row = list(run)
    while first > 0 and row[first - 1].odds >= SURELY_NONE:
        mine = row[first - 1].done
        pumps = [s.done for s in row[first : first + LIKE_THESE] if s.done is not None and s.done.whole]
        if mine is None or not mine.whole or len(pumps) < FEWEST or not _alike(mine, pumps):
            break
        first -= 1
    return first


def _alike(one: CycleDone, others: list[CycleDone]) -> bool:
    usual = [median(figure) for figure in zip(*map(_looks, others), strict=True)]
    return all(u <= LIKE * x and x <= LIKE * u for x, u in zip(_looks(one), usual, strict=True))


def _looks(cycle: CycleDone) -> tuple[float, float, float, float]:
    return cycle.period, cycle.size_g, cycle.push_share, cycle.peak_g - 1.0


def _none(swings: list[Swing], first: int, until: int) -> list[int]:
    """Numbers of the bounces from index `first` up to `until` that are none; the last of all is judged elsewhere."""
    return [
        swings[k].onset.number
        for k in range(first, min(until, len(swings) - 1))
        if swings[k].odds < NONE and (swings[k].odds < NONE_IN_TIME or not _in_time(swings, k))
    ]


def _in_time(swings: list[Swing], k: int) -> bool:
    """Are the bounces on either side of the k-th, neither the first nor the last, as far off as usual?"""
    gaps = [b.onset.time - a.onset.time for a, b in pairwise(swings)]
    usual = median(gaps)
    return k > 0 and all(abs(gap - usual) <= IN_TIME * usual for gap in gaps[k - 1 : k + 1])
