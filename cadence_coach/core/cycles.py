"""The cycle detector: vertical specific force on a fixed grid to onsets, push ends and whole cycles.

Two views of the same signal share the work:

    coarse   a 2.5 Hz low-pass, late but blind to heel strikes, shoulders and the ringing of a pouch: it says *that*
             there is a new bounce. It arms when it has dipped below 1 g after having been above: one arming, one onset
             at most. Chop may spend it in the hollow before a push: a hollow that goes deeper arms anew.
    fine     a three-point smoother, 10 ms late: it says *when*. Armed, its next upward crossing of the level is the
             onset, interpolated and back-dated by the smoother's delay.

         fine          _                    _
                     _/ \\_               _/ \\
        1 g --------/-----\\~-~---------/-----   ~ ringing: not armed, so no onset
                   onset   push end   |armed
                                      onset

The push end is looked up once the coarse view has dipped: the first downward crossing after the main peak, so that
the dip between a landing shoulder and the push is not one.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from .crossing import fall, rise
from .events import CycleDone, Event, Onset, PushEnd
from .filters import hann_weights, second_order, stretch
from .gait import Gait
from .landing import SOFT, Landing
from .level import level_after
from .likely import Likely
from .shape import middle_of_low, shape_of, travel_of
from .timing import end_figures, onset_figures
from .units import STEP

Teller = Callable[[list[float]], float]
"""From figures to how late something was found [s]."""
RING = 1024
"""Grid points kept (10.24 s): the longest cycle that can be looked back on is far shorter."""
FINE_DELAY = 1
"""Delay of the fine view in steps: 10 ms of the 60 ms from onset to known."""
COARSE_HZ = 2.5
COARSE_DELAY = 0.100
"""Delay of the coarse view [s] at 1-2 Hz, where it must give the onset by itself (below)."""
LONGEST = 2.2
"""A cycle longer than this [s] is two bounces with a rest between: the first one is closed as open-ended."""
SHORTEST = 0.18
"""No two onsets closer than this [s]: fast running has 0.3 s, from a landing to the first push it may be 0.2 s."""
REFRACTORY, LONGEST_REFRACTORY = 0.65, 0.6
"""... nor closer than this share of the running period, or the second [s] if that is less: chop while gliding comes
every 1.5 s, the first pump after it sooner."""
SMALLEST_DIP = 0.02
"""The coarse view must go this far [g] below the level to arm: quiet standing and floating stay silent."""
DIP_SHARE = 0.2
"""... or this share of the running dip, if that is more,"""
DEEP_ENOUGH = 0.06
"""... but never more than this [g]: weak first pumps follow the deep dips of a run-up."""
DEEPER, NEAR, HOLLOW = 0.06, 0.05, 10
"""An onset that lifts the coarse view only so far that it stays below 1 g was chop or a splash before the push, if then
the hollow comes: the coarse view this much [g] below where it was when that onset was found, or below the second [g] if
it has come nearer to 1 g than that, and the fine view below the level for so many points. It arms without having been
above, and that onset is none of the beat. After one that was refused (REFRACTORY) the second [g] is deep enough."""
OUTGROWN = 4.0
"""A push that rises over so many times the running height ends the rhythm before it, that of chop on a rope."""
RISE, RISE_SHARE, RISE_MOST = 0.05, 0.15, 0.1
"""Fine view this far over the level [g], or this share of the running height if more, or the third [g] at most."""
RISE_DUE, RISE_DUE_SHARE = 0.025, 0.08
"""... and this far when the onset is due: two like periods behind and 60 % of one gone."""
HELD, RISE_HELD, TIMELY = 0.025, 0.025, 0.92
"""... or only the second [g] once it has stayed above the level for the first [s], if the third of a period is gone:
shoulders are flat."""
HOVER, SHOULDER_DIP, SHOULDER_TIME = 0.04, 0.06, 0.2
"""After a first crossing the fine view may fall back below the level: less than the first [g] above it was hovering,
and the next crossing counts; more was a landing shoulder, and the first crossing stands while the dip is less than
the second [g] and the shoulder younger than the third [s]."""
SOONEST = 0.035
"""Asked how late it is, an onset is told no sooner than this [s] after its crossing: what is asked is shown some points
after it, and a splash in the glide has mostly fallen back by then."""
PENDING = 0.08
"""An onset that came in time is told a little later: the cycle waits so long [s] for it."""
SLOW_RISE = 0.06
"""A rise that takes longer than this [s] to confirm began by hovering about 1 g: its onset is extrapolated from its
steep end."""
JUMP, JUMP_POINTS = 0.8, 3
"""A step of the vertical of more than this [g] between grid points is taken for a splash until it has lasted this
many."""
SPLASH, HABIT = 0.07, 15
"""An onset in a rhythm that rises no further than SMALL and is below the level again (SHOULDER_DIP) within the first
[s] was a splash: if another follows within SHORTEST, that is the push. Where so few bounces ago was one like it, it is
how this rider lands."""
SMALL = 0.4
"""A push that rises no more than this share of the running height was chop if the next comes too soon (REFRACTORY):
that one is not refused, and the chop's onset is none of the beat."""


class CycleDetector:
    """Feed grid points (time, vertical g); collect Onset, PushEnd and CycleDone from `out`. State is bounded.

    late: say how late onsets and push ends are found (`timing.LATE`); without them the crossings stand."""

    def __init__(self, likely: Likely | None = None, late: tuple[Teller, Teller] | None = None) -> None:
        self.likely = likely or Likely(Gait())
        self.late = late
        self.out: list[Event] = []
        self.number = -1
        self.coarse = second_order(COARSE_HZ, STEP)
        self.weights = hann_weights(FINE_DELAY)
        self.raw = [1.0] * RING
        self.fine = [1.0] * RING
        self.restart()

    def restart(self) -> None:
        """Forget the signal (after a gap): the next point starts a new history. Numbers go on."""
        self.n = 0
        """Grid points so far; `front` writes it before it asks."""
        self.lowest = 0.0
        """The coarse view's lowest since it armed, less 1 g; kept by `front` as well."""
        self._armed = self._up_seen = False
        self._hollow = self._young = -math.inf
        self._landing = Landing()
        self._dip_run = 0.0
        self._onset = self._beat = math.nan
        """The last onset, and the last that stands."""
        self._before_it = (math.nan, math.nan, 0, 0.0, 0.0)
        self._give_up = math.inf
        self._onset_found = self._end_found = self._push_end = self._peak = math.nan
        self._end_known = False
        self.period = math.nan
        self._like = self._refused = 0
        self._refused_here = False
        self._height = self._top = 0.0
        self._small = False
        self._splashed = -RING
        self._instead = math.inf
        """Until then [s] a push may come in place of the splash."""
        self._before = -RING
        self._crossing = self._low_crossing = math.nan
        self._shoulder = False
        self.level = 1.0
        self._whole = 0
        self._time0 = 0.0

    def begin(self, time: float, v: float) -> None:
        """The first point of a history stands for all before it."""
        self.raw[:] = [v] * RING
        self.fine[:] = [v] * RING
        self._time0 = time

    @property
    def rhythm(self) -> tuple[float, float] | None:
        """How many points the last bounce began after the one before, and the running period; None while there is
        none."""
        begun = self._beat - self._before_it[0]
        return (begun / STEP, self.period / STEP) if self._like and begun == begun else None

    @property
    def bounds(self) -> tuple[float, float, float, float, float]:
        """`lowest`, and which points `point` must see: the coarse view under the second or over the third, the fine
        view at the fourth or above, a time after the fifth. At all others nothing changes but `lowest`."""
        below, above, fine_from = -math.inf, math.inf, math.inf
        if not self._armed:
            fine_from = SOFT
            if self._landing.fresh or self._young > -math.inf:
                above = -math.inf
            elif self._up_seen:
                below = -max(SMALLEST_DIP, min(DEEP_ENOUGH, DIP_SHARE * self._dip_run))
            else:
                below, above = self._hollow, -NEAR if self._hollow < -NEAR - DEEPER else 0.0
        elif self._crossing == self._crossing:
            above = -math.inf
        else:
            above, fine_from = 0.0, self.level
        return self.lowest, below, above, fine_from, min(self._give_up, self._instead)

    # ---- one grid point ----

    def point(self, time: float, before: float, s: float, c: float, known: float) -> None:
        """A grid point: time [s], the fine view one point before and at it [g], the coarse view less 1 g."""
        level = self.level
        at = time - FINE_DELAY * STEP  # where the fine view stands
        rising = before < level <= s
        if at > self._instead and self._crossing != self._crossing:
            self._armed, self._instead = False, math.inf
        landing = not self._armed and (s >= SOFT or self._landing.fresh)
        if landing and self._landing.over(at, s, level, self.fine, self.n):
            self._like = 0  # the rhythm, that of the run-up, is over
            self._arm(at, c, known, none=False)
        if not self._armed and self._young > -math.inf:
            self._while_young(at, s)
        if not self._armed:
            if c > 0.0:
                self._up_seen = True
            elif self._up_seen:
                if -c > SMALLEST_DIP and (-c > DEEP_ENOUGH or -c > DIP_SHARE * self._dip_run):
                    self._arm(at, c, known, none=False)
            elif c > -NEAR:
                self._hollow = max(self._hollow, -NEAR - DEEPER)
            elif c < self._hollow and max(stretch(self.fine, self.n - HOLLOW, self.n)) < level:
                self._arm(at, c, known, none=True)
        else:
            if rising and self._crossing != self._crossing:
                self._crossing = at - STEP * (s - level) / (s - before)
                self._top = 0.0
                self._shoulder = False
            if s < level:
                self._shoulder = self._top >= HOVER
                if not self._shoulder or s < level - SHOULDER_DIP or at - self._crossing > SHOULDER_TIME:
                    self._crossing = math.nan
            elif self._crossing == self._crossing:
                if s - level > self._top:
                    self._top = s - level
                elif self._top >= HOVER and s - level < self._top - 0.02:
                    self._shoulder = True
                if self._like >= 2 and self._crossing - self._onset > 0.6 * self.period:
                    held = at - self._crossing > HELD and self._crossing - self._onset > TIMELY * self.period
                    rise = RISE_HELD if held else max(RISE_DUE, RISE_DUE_SHARE * self._height)
                else:
                    rise = max(RISE, min(RISE_MOST, RISE_SHARE * self._height))
                third = level + rise / 3.0
                if before < third <= s or (rising and s >= third):
                    self._low_crossing = at - STEP * (s - third) / (s - before)
                if s - level >= rise and (not self.late or known - self._crossing >= SOONEST):
                    guess = self._crossing
                    if at - guess > SLOW_RISE and not self._shoulder:
                        top = at - STEP * (s - level - rise) / (s - before) if s > before else at
                        guess = max(guess, self._low_crossing - 0.5 * (top - self._low_crossing))
                    else:
                        guess = self._bent(guess)
                    self._found(guess, c, known)
            elif c > 0.0:
                self._found(time - COARSE_DELAY, c, known)
        if at > self._give_up and not (self._crossing <= self._give_up and at < self._give_up + PENDING):
            self._abandon(at, known)

    # ---- what follows from it ----

    def _while_young(self, at: float, s: float) -> None:
        """After an onset: is it a splash?"""
        self._top = max(self._top, s - self.level)
        if at > self._young or self._top > SMALL * self._height:
            self._young = -math.inf
        elif s < self.level - SHOULDER_DIP:
            self._young = -math.inf
            if self.number - self._splashed > HABIT:
                self._armed, self._instead = True, self._onset + SHORTEST
            self._splashed = self.number

    def _arm(self, at: float, c: float, known: float, none: bool) -> None:
        """Ready for the next onset; none: the last one was none."""
        self._armed = True
        self.lowest = c
        self._crossing = math.nan
        if not self._end_known and not math.isnan(self._onset):
            height = self._close_push(at, known)
            running = self._before_it[4]
            self._small = height <= SMALL * running
            if none:
                self._take_back()
            elif height > OUTGROWN * running > 0.0:
                self._like = 0

    def _take_back(self) -> None:
        """The last onset is none of the beat."""
        self._beat, self.period, self._like, self._dip_run, self._height = self._before_it

    def _found(self, found: float, coarse: float, known: float) -> None:
        last = self._onset
        onset = self._better_onset(found) if self.late else found
        self._crossing = math.nan
        self._armed = self._up_seen = False
        self._hollow = coarse - DEEPER
        gap = onset - self._beat
        if self._instead < math.inf or (self._small and self._too_soon(gap)):
            self._take_back()
            self._instead = math.inf
            gap = onset - self._beat
        if gap < SHORTEST:
            return
        if gap > self._wait:  # nothing but chop since
            self.period, self._like = math.nan, 0
        self._before_it = self._beat, self.period, self._like, self._dip_run, self._height
        if not math.isnan(last):
            if self._too_soon(gap):
                self._refused = self._refused + 1 if -self.lowest > 0.5 * self._dip_run else 0
                self._refused_here = True
                if self._refused < 2:
                    self._hollow = -NEAR  # the push is to come, if there is a hollow still
                    return
                self.period = gap  # as deep a dip between as at the ends, three times: the period was twice too long
            self._close_cycle(onset, known, whole=True)
            if math.isnan(self.period):
                self.period = gap if gap <= LONGEST else math.nan
            else:
                self._like = self._like + 1 if abs(gap - self.period) < 0.25 * self.period else 0
                self.period += 0.25 * (min(max(gap, 0.7 * self.period), 1.4 * self.period) - self.period)
        self._refused = self._refused if self._refused_here else 0
        self._refused_here = False
        self.number += 1
        self.out.append(Onset(onset, known, self.number))
        self._onset, self._beat, self._onset_found = onset, onset, found
        self._give_up = onset + self._wait
        dip = max(0.0, -self.lowest)
        self._dip_run = dip if self._dip_run == 0.0 else self._dip_run + 0.3 * (dip - self._dip_run)
        self._end_known = False
        self._small = False
        low = self._like >= 2 and self._top <= SMALL * self._height
        self._young = onset + SPLASH if low else -math.inf

    def _too_soon(self, gap: float) -> bool:
        return self._like >= 2 and gap < min(REFRACTORY * self.period, LONGEST_REFRACTORY)

    def _bent(self, guess: float) -> float:
        """An onset half-way between the crossing of the fine view and that of two straight lines."""
        here = math.floor(self._index(guess)) + FINE_DELAY  # last point before the crossing
        place = rise(self.fine, here, self.n - 1, self.level)
        return 0.5 * (guess + self._time0 + STEP * (place - FINE_DELAY)) if place == place else guess

    def _better_onset(self, found: float) -> float:
        """An onset less its error (`timing`): not in the push before, nor later than the newest point."""
        assert self.late
        before = self._index(self._onset_found) if self._onset == self._onset else math.nan
        place, end = self._index(found), self._index(self._end_found)
        figures = onset_figures(self.raw, self.n, place, before, end, self.period, self.level, self._height)
        onset = min(found - self.late[0](figures), self._time0 + STEP * (self.n - 1))
        return max(onset, self._push_end) if self._onset == self._onset else onset

    def _better_end(self, found: float, peak: int) -> float:
        """A push end less its error: not before the peak, nor later than the newest point."""
        assert self.late
        place, onset = self._index(found), self._index(self._onset_found)
        figures = end_figures(self.raw, self.n, place, onset, peak, self.period, self.level)
        return min(max(found - self.late[1](figures), self._time0 + STEP * peak), self._time0 + STEP * (self.n - 1))

    @property
    def _wait(self) -> float:
        """How long after an onset the next one may come [s], so that the ring still holds the cycle."""
        return LONGEST if math.isnan(self.period) else min(max(1.6, 2.5 * self.period), 0.8 * RING * STEP)

    def _index(self, time: float) -> float:
        """Grid index (as a real number) of a time: index n - 1 is the last point."""
        return (time - self._time0) / STEP

    def _close_push(self, at: float, known: float) -> float:
        first = math.ceil(self._index(self._onset)) + FINE_DELAY
        top, where, place = fall(self.fine, first, self.n - 1, self.level)
        end = self._time0 + STEP * (place - FINE_DELAY) if place == place else at
        height = top - self.level
        self._height = height if self._height == 0.0 else self._height + 0.3 * (height - self._height)
        self._end_known = True
        self._end_found = end
        if self.late:
            end = self._better_end(end, where - FINE_DELAY)
        self._push_end = end
        self._peak = self._time0 + STEP * (where - FINE_DELAY)
        self.out.append(PushEnd(end, known, self.number))
        return height

    def _close_cycle(self, end: float, known: float, whole: bool) -> None:
        onset = self._onset
        if not self._end_known:
            self._close_push(end, known)
        raw = self.raw
        a, b = self._index(onset), self._index(end)
        first, last = math.ceil(a), math.floor(b)
        if end - onset < SHORTEST or last - first < 5:
            self.likely.passed(onset, end)
            return
        count = last - first + 1
        values = stretch(raw, first, last + 1)
        shape = shape_of(values)
        start = self._before if 0 < first - self._before < 2 * (last - first) else first  # does the one before join?
        travel = travel_of(stretch(raw, start, last + 1), first - start)
        self._before = first
        peak_g = max(values[: max(3, int((self._push_end - onset) / STEP) + 2)])
        end_index = max(0, min(count - 2, int((self._push_end - onset) / STEP)))
        lowest = min(values[end_index:])
        share = (self._push_end - onset) / (end - onset)
        odds = self.likely.add(self.number, onset, end, whole, peak_g, share, shape, first, values)
        self.out.append(
            CycleDone(
                end, known, self.number, onset, self._peak, self._push_end,
                max(self._push_end, self._time0 + STEP * (first + middle_of_low(values, end_index, self.level))),
                peak_g, lowest, shape.size, travel, whole, odds,
            )
        )  # fmt: skip
        if whole and self._like >= 1 and self._beat == onset:
            self._whole += 1
            self.level = level_after(self.level, self._whole, shape.mean)

    def _abandon(self, at: float, known: float) -> None:
        """No onset has come: close the last cycle as open-ended, its push in it, and forget the rhythm."""
        if not self._end_known:
            self._close_push(at, known)
        end = self._onset + (self.period if not math.isnan(self.period) else LONGEST / 2.0)
        self._close_cycle(max(self._push_end, min(end, at)), known, whole=False)
        self._onset = self._beat = self.period = math.nan
        self._give_up = math.inf
        self._like = 0
        self._dip_run = 0.0
