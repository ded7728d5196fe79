"""The cycle detector: vertical specific force on a fixed grid to onsets, push ends and whole cycles.

Two views of the same signal share the work:

    coarse   a 3 Hz low-pass, late but blind to heel strikes, shoulders and the ringing of a pouch: it says *that* there is a new
             bounce. It arms when it has dipped below 1 g after having been above: one arming, one onset at most.
    fine     a five-point smoother, 20 ms late: it says *when*. Armed, its next upward crossing of the level is the onset,
             interpolated, back-dated by the smoother's delay and refined by `edges`.

         fine          _                    _
                     _/ \\_               _/ \\
        1 g --------/-----\\~-~---------/-----   ~ ringing: not armed, so no onset
                   onset   push end   |armed
                                      onset

The push end is looked up once the coarse view has dipped: the first downward crossing after the main peak, so that the dip
between a landing shoulder and the push is not one.
"""

from __future__ import annotations

import math

from .events import CycleDone, Event, Onset, PushEnd
from .filters import hann_weights
from .units import G

STEP = 0.01
"""Grid step [s]: 100 Hz."""
RING = 1024
"""Grid points kept (10.24 s): the longest cycle that can be looked back on is far shorter."""
FINE_DELAY = 2
"""Delay of the fine view in steps: 20 ms, what the 60 ms from onset to known leave room for."""
COARSE_HZ = 2.5
COARSE_DELAY = 0.100
"""Delay of the coarse view [s] at 1-2 Hz, where it must give the onset by itself (below)."""
LONGEST = 2.2
"""A cycle longer than this [s] is two bounces with a rest between: the first one is closed as open-ended."""
SHORTEST = 0.2
"""No two onsets closer than this [s]: fast running has 0.3 s."""
REFRACTORY = 0.65
"""... nor closer than this share of the running period."""
SMALLEST_DIP = 0.02
"""The coarse view must go this far [g] below the level to arm: quiet standing and floating stay silent."""
DIP_SHARE = 0.2
"""... or this share of the running dip, if that is more."""
ROUGH = 1.2
"""Upward crossings of the fine view about an onset, running mean: above this the signal is rough (heel strikes, a phone swinging
in a pocket) and the coarse crossing is the better onset (open walking recordings: F1 0.93 against 0.88)."""
ABOUT_ONSET = 0.12
"""Crossings count as about an onset from the arming until this long [s] after it."""
RISE = 0.06
"""Fine view this far above the level [g] confirms an onset out of rhythm."""
RISE_IN_RHYTHM = 0.02
"""... and this far when the onset is due: two like periods behind and 60 % of one gone."""


class CycleDetector:
    """Feed grid points (time, vertical g); collect Onset, PushEnd and CycleDone from `out`. State is bounded."""

    def __init__(self) -> None:
        self.out: list[Event] = []
        self.number = -1
        k = math.tan(math.pi * COARSE_HZ * STEP)
        norm = 1.0 / (1.0 + math.sqrt(2.0) * k + k * k)
        self._b = k * k * norm  # second-order Butterworth, bilinear (scipy.signal.butter(2, 3, fs=100) gives the same)
        self._a1 = 2.0 * (k * k - 1.0) * norm
        self._a2 = (1.0 - math.sqrt(2.0) * k + k * k) * norm
        self._w = hann_weights(FINE_DELAY)
        self.raw = [1.0] * RING
        self.fine = [1.0] * RING
        self.restart()

    def restart(self) -> None:
        """Forget the signal (after a gap): the next point starts a new history. Numbers go on."""
        self.n = 0
        self._z1 = self._z2 = 0.0
        self._c = 0.0
        self._armed = False
        self._up_seen = False
        self._crossings = 0
        self._seen_since_arming = False
        self._rough = 1.0
        self._dip = 0.0
        self._dip_run = 0.0
        self._crossing = math.nan
        self._onset = math.nan
        self._end_known = False
        self._push_end = math.nan
        self._peak = math.nan
        self.period = math.nan
        self._like = 0
        self._refused = 0
        self._refused_here = False
        self.level = 1.0

    # ---- one grid point ----

    def push(self, time: float, v: float, known: float) -> None:
        n = self.n
        raw, fine = self.raw, self.fine
        if n == 0:
            for i in range(RING):
                raw[i] = fine[i] = v
            self._z1 = self._z2 = 0.0
            self._time0 = time
        raw[n % RING] = v
        w = self._w
        s = w[2] * raw[(n - 2) % RING] + w[1] * (raw[(n - 1) % RING] + raw[(n - 3) % RING])
        s += w[0] * (v + raw[(n - 4) % RING])
        fine[n % RING] = s
        # coarse view, relative to 1 g so that it starts at rest
        x = v - 1.0
        b = self._b
        c = b * x + self._z1
        self._z1 = 2.0 * b * x - self._a1 * c + self._z2
        self._z2 = b * x - self._a2 * c
        level = self.level
        self.n = n + 1
        at = time - FINE_DELAY * STEP  # where the fine view stands
        before = fine[(n - 1) % RING]
        rising = before < level <= s
        if rising and (self._armed or at - self._onset < ABOUT_ONSET):
            self._crossings += 1
        if not self._armed:
            if c > 0.0:
                self._up_seen = True
            elif self._up_seen and -c > SMALLEST_DIP and -c > DIP_SHARE * self._dip_run:
                self._armed = True
                self._up_seen = False
                self._dip = -c
                self._crossing = math.nan
                self._close_push(at, known)
                if self._seen_since_arming:
                    self._rough += 0.2 * (self._crossings - self._rough)
                self._crossings = 0
                self._seen_since_arming = True
        else:
            if -c > self._dip:
                self._dip = -c
            if rising and math.isnan(self._crossing):
                self._crossing = at - STEP * (s - level) / (s - before)
            if self._rough > ROUGH:
                if c >= 0.0 > self._c:
                    self._found(time - COARSE_DELAY - STEP * c / (c - self._c), known)
            elif s < level:
                self._crossing = math.nan
            elif not math.isnan(self._crossing):
                due = self._like >= 2 and self._crossing - self._onset > 0.6 * self.period
                if s - level >= (RISE_IN_RHYTHM if due else RISE):
                    self._found(self._crossing, known)
            elif c > 0.0:
                self._found(time - COARSE_DELAY, known)
        self._c = c
        if not math.isnan(self._onset) and at - self._onset > self._longest():
            self._abandon(at, known)

    def _longest(self) -> float:
        return LONGEST if math.isnan(self.period) else max(1.6, 2.5 * self.period)

    # ---- what follows from it ----

    def _found(self, onset: float, known: float) -> None:
        last = self._onset
        self._crossing = math.nan
        self._armed = False
        self._up_seen = False
        if not math.isnan(last):
            gap = onset - last
            if gap < SHORTEST:
                return
            if self._like >= 2 and gap < REFRACTORY * self.period:
                self._refused = self._refused + 1 if self._dip > 0.5 * self._dip_run else 0
                self._refused_here = True
                if self._refused < 2:
                    return
                self.period = gap  # as deep a dip between as at the ends, three times: the period was twice too long
            self._close_cycle(onset, known, whole=True)
            if math.isnan(self.period):
                self.period = gap
            else:
                self._like = self._like + 1 if abs(gap - self.period) < 0.25 * self.period else 0
                self.period += 0.25 * (min(max(gap, 0.7 * self.period), 1.4 * self.period) - self.period)
        self._refused = self._refused if self._refused_here else 0
        self._refused_here = False
        self.number += 1
        self.out.append(Onset(onset, known, self.number))
        self._onset = onset
        self._dip_run = self._dip if self._dip_run == 0.0 else self._dip_run + 0.3 * (self._dip - self._dip_run)
        self._end_known = False

    def _index(self, time: float) -> float:
        """Grid index (as a real number) of a time: index n - 1 is the last point."""
        return (time - self._time0) / STEP

    def _close_push(self, at: float, known: float) -> None:
        if math.isnan(self._onset) or self._end_known:
            return
        first = int(math.ceil(self._index(self._onset))) + FINE_DELAY
        last = self.n - 1
        fine = self.fine
        top, where = -1.0, first
        for i in range(first, last + 1):
            if fine[i % RING] > top:
                top, where = fine[i % RING], i
        level = self.level
        end = at
        for i in range(where + 1, last + 1):
            s = fine[i % RING]
            if s < level:
                before = fine[(i - 1) % RING]
                end = self._time0 + STEP * (i - FINE_DELAY - (level - s) / (before - s))
                break
        self._end_known = True
        self._push_end = end
        self._peak = self._time0 + STEP * (where - FINE_DELAY)
        self.out.append(PushEnd(end, known, self.number))

    def _close_cycle(self, end: float, known: float, whole: bool) -> None:
        onset = self._onset
        if not self._end_known:
            self._close_push(end, known)
        raw = self.raw
        a, b = self._index(onset), self._index(end)
        first, last = int(math.ceil(a)), min(int(math.floor(b)), self.n - 1)
        if last - first < 5 or self.n - first > RING:
            return
        count = last - first + 1
        values = [raw[i % RING] for i in range(first, last + 1)]
        mean = sum(values) / count
        span = (b - a) * STEP
        # once-per-cycle part
        w = 2.0 * math.pi / (count * STEP)
        re = im = 0.0
        for j, y in enumerate(values):
            phase = w * j * STEP
            re += y * math.cos(phase)
            im += y * math.sin(phase)
        size = 2.0 / count * math.hypot(re, im)
        # travel: twice integrated, drift of speed and of place taken out
        speed = place = 0.0
        path = [0.0]
        gain = G * STEP
        speeds = [0.0]
        for y in values:
            speed += (y - mean) * gain
            speeds.append(speed)
        drift = sum(speeds) / len(speeds)
        for u in speeds[1:]:
            place += (u - drift) * STEP
            path.append(place)
        slope = path[-1] / count
        path = [p - slope * i for i, p in enumerate(path)]
        travel = max(path) - min(path)
        peak_g = max(values[: max(3, int((self._push_end - onset) / STEP) + 2)])
        end_index = max(0, min(count - 2, int((self._push_end - onset) / STEP)))
        lowest = min(values[end_index:])
        low = self._middle_of_low(values, end_index, first)
        self.out.append(
            CycleDone(
                end, known, self.number, onset, self._peak, self._push_end, low, peak_g, lowest, size, travel, whole
            )
        )
        if whole and span > 0.0:
            self.mean = mean

    def _middle_of_low(self, values: list[float], start: int, first: int) -> float:
        """Middle of the time the glide spends in its lower half."""
        glide = values[start:]
        floor = min(glide)
        half = 0.5 * (self.level + floor)
        low = [i for i, y in enumerate(glide) if y <= half]
        middle = 0.5 * (low[0] + low[-1]) if low else 0.5 * len(glide)
        return self._time0 + STEP * (first + start + middle)

    def _abandon(self, at: float, known: float) -> None:
        """No onset has come: close the last cycle as open-ended and forget the rhythm."""
        end = self._onset + (self.period if not math.isnan(self.period) else LONGEST / 2.0)
        self._close_cycle(min(end, at), known, whole=False)
        self._onset = math.nan
        self.period = math.nan
        self._like = 0
        self._dip_run = 0.0
