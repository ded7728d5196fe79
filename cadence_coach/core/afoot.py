"""Every bounce, on foot too, judged in hindsight: where nothing hurries, the late view counts better and times better.

Pumps in a flight need their onset within 60 ms (`cycles`). Steps, hops and squats do not, and they are harder: heel
strikes, a phone that swings in a pocket, one leg stronger than the other. Here a third-order 2 Hz low-pass says that
there was a bounce (open walking recordings: steps counted within 0.7 %), and only when the next has begun is the one
before looked up in the unsmoothed points:

    level     mean over the bounce itself (momentum theorem), so that a sensor's own 1 g and a leaning trunk drop out
    edges     crossings of the level by a 70 ms Hann smoother either side of the bounce's peak, if the bounce is big
    and smooth;
              otherwise the low-pass's own crossing, less its delay, is the onset
"""

from __future__ import annotations

import math
from itertools import pairwise

from .events import Bounce, Event
from .filters import hann_weights, stretch, third_order

LOW_HZ = 2.0
LOW_DELAY = 0.16
"""Delay of the low-pass [s] at 1.5-2 Hz (group delay of a third-order Butterworth, 2/w)."""
MEAN_GAIN, OFF = 0.005, 0.15
"""The low-pass is of the vertical less 1 g; where the slow mean (2 s) is further than this [g] from 1 g, as with a
clipped or leaning sensor, less that mean."""
RING = 512
"""Grid points kept."""
WARM = 200
"""Points after which the slow mean has its gain; before, it is the mean of what there is."""
SMOOTH = 4
"""Half width of the smoother in steps: 40 ms either side (open running recordings: push time SD 5.5 ms; 11 ms at 1 g
unsmoothed)."""
SMALLEST, SHARE = 0.02, 0.2
"""The low-pass must dip this far [g], or this share of its running dip, below 1 g before a new bounce."""
REFRACTORY = 0.65
"""No bounce sooner than this share of the running period ..."""
FIRST_PERIOD, SLOWEST = 0.4, 1.5
"""... which starts from this [s]; intervals longer than the second [s] are rests and do not count."""
SHORTEST, STRONG = 0.2, 0.6
"""A bounce refused for coming too soon, though later than the first [s] and with a dip of this share of the running
one, twice in a row: the running period was wrong, not the bounce."""
BIG = 0.3
"""Amplitude [g] of the smoothed bounce from which its own crossings are believed."""


class Afoot:
    """`front` feeds the ring and shows points; collect Bounce from `out`. State is bounded."""

    def __init__(self, step: float) -> None:
        self.out: list[Event] = []
        self.number = -1
        self._step = step
        self._w = hann_weights(SMOOTH)
        self.low = third_order(LOW_HZ, step)
        self.raw = [1.0] * RING
        """The vertical [g]."""
        self.restart()

    def restart(self) -> None:
        """Forget the signal (after a gap)."""
        self.n = 0
        """Grid points so far; `front` writes it before it asks."""
        self.lowest = 0.0
        """The low-pass's lowest since the last bounce; kept by `front` as well."""
        self._time0 = 0.0
        self._armed = False
        self._refused = 0
        self._soon = False
        self._dip_run = 0.1
        self._last = -math.inf
        self._period = FIRST_PERIOD

    def begin(self, time: float) -> None:
        """The first point's time [s]."""
        self._time0 = time

    @property
    def bounds(self) -> tuple[float, float, float]:
        """`lowest`, and which points `point` must see: the low-pass under the second, at the third or above."""
        if self._armed:
            return self.lowest, -math.inf, 0.0
        return self.lowest, -max(SMALLEST, SHARE * self._dip_run), math.inf

    def point(self, time: float, before: float, c: float, known: float) -> None:
        """A grid point: time [s], the low-pass one point before and at it [g]."""
        if not self._armed:
            if -c > SMALLEST and -c > SHARE * self._dip_run:
                self._armed = True
        elif before < 0.0 <= c:
            at = time - self._step * c / (c - before)
            gap = at - self._last
            if gap <= REFRACTORY * self._period and gap > SHORTEST and -self.lowest > STRONG * self._dip_run:
                self._refused += 1
                self._soon = True
                if self._refused > 1:  # as deep as the others, twice: the period was twice too long
                    self._period = gap
            if gap > REFRACTORY * self._period:
                self._refused = self._refused if self._soon else 0
                self._soon = False
                if gap < SLOWEST:
                    bounded = min(max(gap, 0.7 * self._period), 1.4 * self._period)
                    self._period += 0.2 * (bounded - self._period)
                    self._dip_run += 0.2 * (-self.lowest - self._dip_run)
                self._close(at, known)
                self._last = at
                self._armed = False
                self.lowest = 0.0

    def end(self, known: float) -> None:
        """No more points: the last bounce is as long as the running period, or as they last."""
        if self._last > -math.inf:
            self._close(self._last + self._period, known)
            self._last = -math.inf

    def _close(self, at: float, known: float) -> None:
        """The bounce before is over: look it up."""
        if self._last == -math.inf:
            return
        start = self._last - LOW_DELAY
        end = min(at - LOW_DELAY, start + 2.0, known)
        self.number += 1
        step, raw, w = self._step, self.raw, self._w
        period = end - start
        a = max(int((start - self._time0 - 0.3 * period) / step), self.n - RING + SMOOTH, SMOOTH)
        b = min(int((end - self._time0) / step), self.n - 1 - SMOOTH)
        if b - a < 8:
            return
        first = max(int((start - self._time0) / step), a)
        values = stretch(raw, first, b + 1)
        if len(values) < 4:
            return
        level = sum(values) / len(values)
        near = stretch(raw, a - SMOOTH, b + SMOOTH + 1)
        w0, w1, w2, w3, w4 = w[: SMOOTH + 1]  # symmetric, written out: a third of the time
        smooth = [
            w0 * (p + x) + w1 * (q + v) + w2 * (r + u) + w3 * (s + t) + w4 * m
            for p, q, r, s, m, t, u, v, x in zip(*(near[k:] for k in range(2 * SMOOTH + 1)), strict=False)
        ]
        top = max(range(len(smooth) - max(2, (b - first) // 4)), key=smooth.__getitem__)
        i = top
        while i > 0 and smooth[i] >= level:
            i -= 1
        j = top
        while j < len(smooth) - 1 and smooth[j] >= level:
            j += 1
        onset, push_end = start, None
        crossings = len([q for p, q in pairwise(smooth) if p < level <= q])
        if smooth[j] < level <= smooth[j - 1]:
            push_end = self._time0 + step * (a + j - (level - smooth[j]) / (smooth[j - 1] - smooth[j]))
        big = 0.5 * (smooth[top] - min(smooth)) > BIG
        if big and crossings <= 2 and smooth[i] < level:
            onset = self._time0 + step * (a + i + (level - smooth[i]) / (smooth[i + 1] - smooth[i]))
        peak = self._time0 + step * (a + top)
        if push_end is not None and push_end <= onset:
            push_end = None
        self.out.append(Bounce(end, known, self.number, onset, max(peak, onset), push_end, max(values), min(values)))
