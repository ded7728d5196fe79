"""From bounces to attempts and flights: which cycles are pumps, how it began, how it ended.

A run is a row of onsets none of which waits longer than max(1.6 s, 2.5 periods) for the next. Each cycle brings its
log-odds of being a pump (`likely`): first by what came before it, then, as more follow, again. The flight is the
stretch of the run with the highest sum, each clipped: adding a step, a jump, a landing before its first pump, or the
fall after its last, would make the sum smaller. Three pumps with a sum high enough start it, and claim back the pumps
before.

Where fixes of the speed say that all of it was on the spot it is none (`ashore`).

A flight ends when no onset has come in time, a small bounce of a level glide being none, or when what came since its
last pump speaks against it as much as four bounces can that are surely none: who steps off and walks on goes on
bouncing. Which was the last pump is known only then, and the way it ended looked up.

        onsets, sum < ENOUGH         FlightStarted                      FlightEnded
    run ---------------------> run ------------------> flight ----------------------------> none
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable, Sequence

from .ashore import Ashore
from .cycles import SHORTEST
from .events import (
    AttemptEnded,
    AttemptStarted,
    CycleDone,
    Event,
    FlightEnded,
    FlightStarted,
    Onset,
    PushEnd,
    SpeedFix,
)
from .flown import Flown, Swing, back_to_like, evidence, glide_height, middle, of_glide, period_of
from .likely import BESIDE
from .motion import EARLY, Motion

LEAST = 3
"""So many pumps make a flight."""
FOR, AGAINST = 4.0, 5.0
"""No cycle counts more than the first for a flight, nor than the second against."""
ENOUGH = 9.0
"""A sum above this makes a flight while the run goes on."""
ENOUGH_LATE = 6.0
"""The same of a run that is over: there is no more to come."""
NEAR_FLIGHT = 1.0
"""Once there is a flight, a doubtful bounce at either end of it is rather its pump: so much is added to each."""
SPENT = 15.0
"""A flight is over when the bounces since its last pump count so much against it: four that are surely none."""
SURE = 5.0
"""A cycle whose log-odds are beyond this at once is not judged again: five of six are, and it costs."""
HINDSIGHT = BESIDE
"""A cycle is judged for good when so many have followed."""
SLOWEST_WAIT, WAIT_PERIODS = 1.6, 2.5
GRACE = 1.5
"""The detector closes a last cycle when it gives up waiting, by a running period of its own; this much later [s] the
run is over without it."""
TUMBLE = math.cos(math.radians(35))
"""The up direction has turned by more than this from what it was in the flight: the rider lies in the water."""
LEAP_BEFORE, LEAP_TIME, SOFT_LANDING_G = 2.2, 0.19, 1.5
"""A leap onto the board: a free fall so little [s] before the first pump, this long [s], longer than a running step's,
and a landing so hard [g]. Without one it was a light glide (630 simulated outings: of seven under 1.4 g none was a
leap, real ones had 1.7 g and more)."""
HOP_TIME, LANDING_G, HARD_LANDING_G = 0.13, 2.2, 2.4
"""A shorter free fall may be a leap or a running step if the landing is so hard [g], and is a leap if it is harder."""
FAILED_TIME, FAILED_LEAP = 6.0, (0.19, 0.6)
"""A failed attempt: its leap is at most this old [s] when the last bounce comes, and a free fall in this range [s]."""
RUN_STEPS = 2
"""So many running steps before a leap make a run-up."""
STEP_OFF = 2.0
"""Steps this little [s] before the first pump and no leap: stepped off."""
GLIDE_CHOP, SHIFT = 0.08, 0.4
"""Roughness [g RMS] of a glide on a rope; of a single weight shift."""
COAST_CHOP, TOUCH = 0.10, 0.25
"""Roughness [g RMS] of a glide without pumping; of the touch-down after it."""
FALL_BLOW, TOUCH_BLOW = 0.48, 0.38
"""Roughness [g RMS] about the time when the next pump was due: a fall hits just then, a touch-down later and softer
(simulated endings: 95 % told apart at 0.42)."""
QUICK = (0.26, 0.45)
"""Periods of running steps [s] (2.2-3.8 Hz; common practice, no source)."""


class FlightFinder:
    """`front` shows grid points (`look`), the engine the detector's events (`receive`); collect from `out`. State is
    bounded."""

    def __init__(self, again: Callable[[int], float | None] = lambda number: None) -> None:
        self._again = again
        self.out: list[Event] = []
        self.flights = 0
        self.attempts = 0
        self._attempted = -math.inf  # end of the last attempt
        self.in_flight = False
        self._run: deque[Swing] = deque(maxlen=64)
        self._flown: Flown
        self._steps: deque[tuple[float, float]] = deque(maxlen=12)  # running steps: (time, period)
        self._up: tuple[float, float, float] | None = None
        self.motion = Motion(self.out)
        self._ashore = Ashore()
        self.now = -math.inf
        """Time of the newest grid point [s]; `front` writes it."""
        self.up = (0.0, 0.0, 0.0)
        """Gravity in the sensor's axes, of any length; `front` writes it before it asks."""
        self.watch = math.inf
        """From this time on [s] `look` must see every grid point."""
        self._patience = SLOWEST_WAIT

    # ---- grid points ----

    def look(self, time: float, known: float) -> None:
        """A grid point: has the run waited too long for its next onset?"""
        run = self._run
        if run and time - run[-1].onset.time > self._patience + GRACE:
            self._over(known, "unknown")
        self.set_watch()

    def set_watch(self) -> None:
        """After anything that happened: from when on must `look` see the points?"""
        run = self._run  # rounding: it looks a little too soon rather than too late
        self.watch = run[-1].onset.time + self._patience + GRACE - EARLY if run else math.inf

    # ---- the detector's events ----

    def receive(self, event: Event) -> None:
        if isinstance(event, Onset):
            run = self._run
            if run and event.time - self._last_pump() > self._patience:
                self._over(event.known, "unknown")
            if run and event.time - run[-1].onset.time < SHORTEST:
                run.pop()
                if self.in_flight:
                    self._flown.recent.pop()
            run.append(Swing(event))
            self._patience = max(SLOWEST_WAIT, WAIT_PERIODS * period_of(list(run)[-6:]))
            if self.in_flight:
                self._flown.add(run[-1])
        elif isinstance(event, PushEnd):
            for bounce in reversed(self._run):
                if bounce.onset.number == event.number:
                    bounce.push_end = event.time
                    break
        elif isinstance(event, CycleDone):
            self._cycle(event)
        elif isinstance(event, SpeedFix):
            self._ashore.fix(event.time, event.speed)
        self.set_watch()

    def _cycle(self, cycle: CycleDone) -> None:
        if cycle.whole and QUICK[0] <= cycle.period <= QUICK[1] and cycle.size_g > 0.3:
            self._steps.append((cycle.time, cycle.period))
        for bounce in reversed(self._run):
            if bounce.onset.number == cycle.number:
                bounce.done, bounce.odds = cycle, clipped(cycle.odds)
                break
        else:
            return
        if not cycle.whole and self._run[-1].onset.number == cycle.number:
            self._over(cycle.known, "unknown")
            return
        run = self._flown.recent if self.in_flight else self._run
        self._look_again(run, HINDSIGHT, HINDSIGHT + 1)
        if self.in_flight:
            if cycle.odds < 0.0:
                self._look_again(run, 0, 1)
                self._while_bouncing(cycle)
        elif cycle.odds > 0.0 and len([b for b in list(run)[-HINDSIGHT:] if b.odds > 0.0]) >= LEAST:
            self._look_again(run, 0, HINDSIGHT)
            odds = [b.odds for b in run if b.done is not None]
            first, _, evidence = best_stretch(odds, to_the_end=True)
            if evidence > ENOUGH and len(odds) - first >= LEAST:
                self._look_again(run, 0, 2 * HINDSIGHT, doubts=True)
                first, _, _ = best_stretch(leaning([b.odds for b in run if b.done is not None]), to_the_end=True)
                first = back_to_like(run, first)
                began = run[first].onset.time
                if not (self._ashore.unclear(began, cycle.known) or self._ashore.stands(began, cycle.known)):
                    self._begin(first, len(run), cycle.known)

    def _while_bouncing(self, cycle: CycleDone) -> None:
        """In a flight, a bounce that is none: is the flight over, long enough after its last pump?"""
        run = self._flown.recent
        odds = evidence(run, NEAR_FLIGHT)
        _, end, _ = best_stretch(odds, from_the_start=True)
        if sum(odds[end:]) <= -SPENT and cycle.time - run[max(end, 1) - 1].onset.time > self._patience:
            self._over(cycle.known, "unknown")

    def _last_pump(self) -> float:
        """Onset of the last bounce of the run that is a pump, or might be [s]: not a small one of a glide."""
        if self.in_flight:
            recent = self._flown.recent
            height = glide_height(recent)
            for bounce in reversed(recent):
                if not of_glide(bounce, height):
                    return bounce.onset.time
        return self._run[-1].onset.time

    def _look_again(self, run: Sequence[Swing], newest: int, oldest: int, doubts: bool = False) -> None:
        """Judge cycles anew by those that followed: the last ones done but `newest`, up to the `oldest` last; doubts:
        those too that were surely none at once, as beside a flight not even that is sure."""
        at = len(run) - 1
        while at >= 0 and run[at].done is None:
            at -= 1
        for k in range(at - newest, max(at - oldest, -1), -1):
            if k >= 0 and (done := run[k].done) is not None and (abs(done.odds) < SURE or (doubts and done.odds < 0.0)):
                odds = self._again(done.number)
                run[k].odds = clipped(done.odds if odds is None else odds)

    def _begin(self, first: int, end: int, known: float) -> None:
        """The bounces first..end of the run are pumps of a flight."""
        run = list(self._run)[first:]
        onset = run[0].onset
        by, landing, start = self._how_begun(onset.time)
        for _ in range(first):
            self._run.popleft()
        self._up = self.up
        self.out.append(AttemptStarted(start, known, self.attempts, by, landing))
        self.out.append(FlightStarted(onset.time, known, self.flights, self.attempts, onset.number, by))
        self._began = (start, by, landing)
        self.in_flight = True
        self._flown = Flown(run[: end - first])

    def _how_begun(self, first: float) -> tuple[str, float | None, float]:
        """Started by, landing peak [g], start of the attempt, its first touch [s]; first: the first onset [s]."""
        motion = self.motion
        steps = [t for t, _ in self._steps if first - 5.0 < t < first + 0.1]
        for off, long in reversed(motion.leaps):
            if first - LEAP_BEFORE < off < first - 0.05:
                _, peak = motion.highest(off - 0.1, min(first, off + 0.4))
                if (long >= LEAP_TIME and peak >= SOFT_LANDING_G) or (long >= HOP_TIME and peak >= LANDING_G):
                    if long < LEAP_TIME and peak < HARD_LANDING_G:
                        return "unknown", peak, min(off, first)
                    return ("run_up" if len(steps) >= RUN_STEPS else "step"), peak, min(off, first)
        calm = motion.roughness(first - 1.2, first - 0.4)
        before = motion.roughness(first - 2.2, first - 1.2)
        if steps and steps[-1] > first - STEP_OFF:
            return "step", None, first
        if calm < GLIDE_CHOP and before < 2.0 * GLIDE_CHOP:
            return "rope", None, first
        if before < 0.5 * GLIDE_CHOP and 1.5 * GLIDE_CHOP < calm < SHIFT:
            return "step", None, first
        return "unknown", None, first

    def _over(self, known: float, how: str) -> None:
        """The run has come to its end."""
        run = self._run
        if not self.in_flight and len(run) >= LEAST:
            self._look_again(run, 0, HINDSIGHT)
            first, end, evidence = best_stretch([b.odds for b in run])
            if evidence > ENOUGH_LATE and end - first >= LEAST:
                self._look_again(run, 0, 2 * HINDSIGHT, doubts=True)
                first, end, _ = best_stretch(leaning([b.odds for b in run]))
                first = back_to_like(run, first)
                began, last = run[first].onset.time, run[end - 1].onset.time
                if not (self._ashore.stood(began, last) or self._ashore.stands(began, last)):
                    self._begin(first, end, known)
        if self.in_flight:
            self._end_flight(known, how)
        elif run:
            self._failed(known, how)
        run.clear()

    def _failed(self, known: float, how: str) -> None:
        """A leap onto the board that became no flight: none, one or two pumps, then the water."""
        motion, swings = self.motion, list(self._run)
        last = swings[-1].onset.time
        for off, long in reversed(motion.leaps):
            if off < max(self._attempted, last - FAILED_TIME) or not FAILED_LEAP[0] <= long <= FAILED_LEAP[1]:
                continue
            steps = [t for t, _ in self._steps if off - 2.0 < t < off + 0.1]
            at, peak = motion.highest(off - 0.1, off + 0.4)
            if len(steps) < RUN_STEPS or peak < LANDING_G or any(t > off + 0.5 for t, _ in self._steps):
                continue
            pumps = [s for s in swings if s.onset.time > at + 0.1 and s.done is not None and s.done.odds > 0.0][:2]
            end = pumps[-1].onset.time + period_of(pumps) if pumps else at
            if how == "unknown":
                how = "fall" if motion.roughness(end, end + 1.0) > FALL_BLOW else "unknown"
            first = pumps[0].onset.time - off if pumps else None
            self.out.append(AttemptStarted(off, known, self.attempts, "run_up", peak))
            self.out.append(AttemptEnded(end, known, self.attempts, off, len(pumps), "run_up", peak, first, how, None))
            self.attempts += 1
            self._attempted = end
            return

    def _end_flight(self, known: float, how: str) -> None:
        flown = self._flown
        swings = flown.recent
        self._look_again(swings, 0, HINDSIGHT)
        least = max(1, LEAST - flown.pumps)
        _, end_at, _ = best_stretch(evidence(swings, NEAR_FLIGHT), from_the_start=True)
        swings = swings[: max(least, end_at)]
        last = swings[-1].onset.number
        flown.close(swings)
        pumps = flown.pumps
        start, by, landing = self._began
        end = min(flown.last_onset + flown.running, known)
        coast = 0.0
        if how == "unknown":
            how, coast = self._how_ended(end)
        self.out.append(
            FlightEnded(
                end, known, self.flights, flown.start, last, pumps, 1.0 / flown.period, middle(flown.shares.kept),
                middle(flown.sizes.kept), flown.steadiness, by, how, coast, tuple(flown.skipped),
            )
        )  # fmt: skip
        first = flown.start - start if landing is not None else None
        self.out.append(AttemptEnded(end, known, self.attempts, start, pumps, by, landing, first, how, self.flights))
        self.flights += 1
        self.attempts += 1
        self.in_flight = False
        self._up = None
        self._attempted = end

    def _how_ended(self, end: float) -> tuple[str, float]:
        """Ended by, and how long [s] the rider stayed aloft without pumping; end: of the last pump's period [s]."""
        motion = self.motion
        after, later = motion.roughness(end, end + 0.6), motion.roughness(end + 0.6, end + 1.2)
        if after < COAST_CHOP and not later > 2.0 * COAST_CHOP:
            rough = motion.first_rough(end + 0.2, TOUCH)
            return "coast_out", (rough if rough < math.inf else self.now) - end
        blow = motion.roughness(end - 0.2, end + 0.3)
        if blow > FALL_BLOW or (blow > TOUCH_BLOW and self._tumbled()):
            return "fall", 0.0
        if blow < TOUCH_BLOW:
            rough = motion.first_rough(end, TOUCH)
            return "touch_down", rough - end if rough < self.now else 0.0
        return "unknown", 0.0

    def _tumbled(self) -> bool:
        """Does the rider lean far from how it was in the flight?"""
        up, now = self._up, self.up
        if up is None:
            return False
        size = math.sqrt(sum(a * a for a in up) * sum(b * b for b in now))
        return size > 0.0 and sum(a * b for a, b in zip(up, now, strict=True)) / size < TUMBLE

    def gap(self, known: float) -> None:
        """The stream was interrupted for long: what ran is over."""
        self._over(known, "gap")
        self.motion.restart(known)
        self.set_watch()

    def end(self, known: float) -> None:
        self._over(known, "end_of_data")


def clipped(odds: float) -> float:
    return max(-AGAINST, min(FOR, odds))


def leaning(odds: Sequence[float]) -> list[float]:
    """Log-odds where a flight is known to be near."""
    return [x + NEAR_FLIGHT for x in odds]


def best_stretch(
    odds: Sequence[float], from_the_start: bool = False, to_the_end: bool = False
) -> tuple[int, int, float]:
    """First, end (one past the last) and sum of the stretch with the highest sum: of all, of those that begin at the
    first, or of those that end with the last; (0, 0, 0) where no sum is above 0."""
    if to_the_end:
        first, end, total = best_stretch(odds[::-1], from_the_start=True)
        return len(odds) - end, len(odds) - first, total
    best, total, first = (0, 0, 0.0), 0.0, 0
    for k, x in enumerate(odds):
        total += x
        if total > best[2]:
            best = (first, k + 1, total)
        if total < 0.0 and not from_the_start:
            total, first = 0.0, k + 1
    return best
