"""From bounces to attempts and flights: which cycles are pumps, how it began, how it ended.

A run is a row of onsets none of which waits longer than max(1.6 s, 2.5 periods) for the next. Each whole cycle brings
its log-odds of being a pump by shape (`shape.pump_odds`); the run's evidence is their sum, each clipped. Three onsets
and enough evidence make a flight, which claims back the pumps before: from the first cycle after the last one that was
clearly none (a step, the jump, the landing).

A flight ends when no onset has come in time, or at a fall: a blow with the rhythm gone. Cycles at its end that are none
(the fall itself, a splash) are left out, since which was the last pump is known only then.

        onsets, evidence < ENOUGH         FlightStarted                      FlightEnded
    run ------------------------> run ------------------> flight ----------------------------> none
"""

from __future__ import annotations

import math
from collections import deque
from statistics import median

from .alike import FELLOWS, Swing, after_odd, before_odd, whole
from .events import (
    AttemptEnded,
    AttemptStarted,
    CycleDone,
    Event,
    FlightEnded,
    FlightStarted,
    Onset,
    PushEnd,
)
from .flown import Flown, middle, period_of
from .gait import carried, legs_evidence
from .motion import EARLY, FREE_FALL_TIME, Motion

CLIP = 4.0
"""No single cycle counts more than this, for or against."""
CLIP_LANDED = 1.5
"""... and against no more than this after a run-up and a leap: weak pumps are weak one and all."""
ENOUGH = 8.0
"""Evidence that makes a flight while the run goes on. With half of it every 15th outing on land alone had a flight;
with half as much again, and walks weighed harder, weak riders lost theirs."""
ENOUGH_LATE = 2.0
"""Evidence that makes a flight of a run that is over: there is no more to come."""
ENOUGH_SHORT = 8.0
"""The same of two whole cycles: two tries and the water that catches the rider look like three pumps."""
LANDED = 5.0
"""Evidence that a leap or a run-up just before is worth."""
LANDED_TIME = 8.0
"""For this long [s] after a leap or run-up a doubtful cycle does not break the run."""
NO_PUMP = -2.0
"""A cycle below this is none: a run not yet a flight begins anew after it."""
LONE, UNBROKEN = 2, 1.4
"""One such cycle does not break a run after so many that look like pumps, unless it is longer by this factor."""
ONE_LEGGED = 1.2
"""A beat less two-legged than this (gait) is not broken by one doubtful cycle either."""
NO_PUMP_LANDED = -5.0
"""The same soon after a leap or running steps."""
TAKE_OFF_ODDS = 1.0
"""The take-off of a leap: a cycle right after a running step, its glide a free fall, its odds below this."""
RUNNING = 0.4
"""... or whatever its odds after several steps, the last shorter than this [s]."""
STRANGE = 3
"""So many cycles in a row below NO_PUMP and with pushes unlike the flight's end it: the rider walks or swims."""
STRANGE_PUSH, STRANGE_SIZE = 0.35, 0.8
"""A push is unlike when the absolute log ratio of its height, or of its size, to the flight's is above this."""
SLOWEST_WAIT, WAIT_PERIODS = 1.6, 2.5
GRACE = 0.3
"""The detector closes a last cycle at about the same time; this much later [s] the run is over without it."""
BLOW_ABOVE = 0.6
"""A last bounce whose blow is this much [g] above the usual peak is the fall, not a pump."""
FALL_G = 3.2
TUMBLE = math.cos(math.radians(35))
"""The up direction has turned by more than this from what it was in the flight: the rider lies in the water."""
LEAP_BEFORE, LEAP_TIME = 2.2, 0.19
"""A leap onto the board: a free fall this long [s], longer than a running step's, so little [s] before the first
pump."""
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

    def __init__(self) -> None:
        self.out: list[Event] = []
        self.flights = 0
        self.attempts = 0
        self._attempted = -math.inf  # end of the last attempt
        self.in_flight = False
        self.legs: dict[int, float] = {}  # gait's number of each recent cycle
        self._walk: deque[Swing] = deque(maxlen=12)  # bounces just before the run that were none
        self._run: deque[Swing] = deque(maxlen=64)
        self._flown: Flown
        self._steps: deque[tuple[float, float]] = deque(maxlen=12)  # running steps: (time, period)
        self._up: tuple[float, float, float] | None = None
        self.motion = Motion(self.out)
        self.now = -math.inf
        """Time of the newest grid point [s]; `front` writes it."""
        self.up = (0.0, 0.0, 0.0)
        """Gravity in the sensor's axes, of any length; `front` writes it before it asks."""
        self.watch = math.inf
        """From this time on [s] `look` must see every grid point."""
        self._patience = SLOWEST_WAIT

    # ---- grid points ----

    def look(self, time: float, known: float) -> None:
        """A grid point: has the run waited too long for its next onset, or was it a fall?"""
        run, blow = self._run, self.motion.blow
        if run:
            waited = time - run[-1].onset.time
            if waited > self._patience + GRACE:
                self._over(known, "unknown")
            elif self.in_flight and blow and blow[0] > run[-1].onset.time and blow[1] > FALL_G:
                push_end = run[-1].push_end
                if push_end is not None and blow[0] > push_end and waited > 1.5 * self._period():
                    self._over(known, "fall")
        self.set_watch()

    def set_watch(self) -> None:
        """After anything that happened: from when on must `look` see the points?"""
        run, blow = self._run, self.motion.blow
        if not run:
            self.watch = math.inf
        elif self.in_flight and blow and blow[0] > run[-1].onset.time and blow[1] > FALL_G:
            self.watch = -math.inf
        else:  # rounding: it looks a little too soon rather than too late
            self.watch = run[-1].onset.time + self._patience + GRACE - EARLY

    def _period(self) -> float:
        return period_of(list(self._run)[-6:])

    def note_legs(self, number: int, legs: float | None) -> None:
        """What `gait` says of a cycle, before the cycle itself."""
        if legs is not None:
            self.legs[number] = legs
        self.legs.pop(number - 128, None)

    # ---- the detector's events ----

    def receive(self, event: Event) -> None:
        if isinstance(event, Onset):
            run = self._run
            if run and event.time - run[-1].onset.time > self._patience:
                self._over(event.known, "unknown")
            run.append(Swing(event, 0.01 * self.motion.light))
            self.motion.light = 0
            self._patience = max(SLOWEST_WAIT, WAIT_PERIODS * self._period())
            if self.in_flight:
                self._flown.add(run[-1])
        elif isinstance(event, PushEnd):
            for bounce in reversed(self._run):
                if bounce.onset.number == event.number:
                    bounce.push_end = event.time
                    break
            self._judge(event.known)
        elif isinstance(event, CycleDone):
            self._cycle(event)
        self.set_watch()

    def _cycle(self, cycle: CycleDone) -> None:
        period = cycle.time - cycle.onset
        if cycle.whole and QUICK[0] <= period <= QUICK[1] and cycle.size_g > 0.3:
            self._steps.append((cycle.time, period))
        for bounce in reversed(self._run):
            if bounce.onset.number == cycle.number:
                bounce.done = cycle
                break
        else:
            return
        if not cycle.whole and self._run[-1].onset.number == cycle.number:
            self._over(cycle.known, "unknown")
            return
        if self.in_flight:
            tail = whole(self._flown.recent[-STRANGE - 8 :])
            if len(tail) > STRANGE:
                before, last = tail[:-STRANGE], tail[-STRANGE:]
                height, size = median(c.peak_g for c in before) - 0.95, median(c.size_g for c in before)
                if all(c.odds < NO_PUMP and _strange(c, height, size) for c in last):
                    self._over(cycle.known, "unknown")
            return
        if cycle.whole and self._is_none(cycle) and not self._alone(cycle):
            if self._judge(cycle.known, broken=cycle.number):
                return
            while self._run and self._run[0].onset.number <= cycle.number:
                self._walk.append(self._run.popleft())
            return
        self._judge(cycle.known)

    def _is_none(self, cycle: CycleDone) -> bool:
        """Is this cycle none for sure, so that a run not yet a flight begins anew after it?"""
        last_step = self._steps[-1][0] if self._steps else -math.inf
        if abs(cycle.onset - last_step) < 0.1 and self._light_of(cycle) > FREE_FALL_TIME:
            running = len(self._steps) >= RUN_STEPS and last_step - self._steps[-RUN_STEPS][0] < 2.0 * QUICK[1]
            if cycle.odds < TAKE_OFF_ODDS or (running and self._steps[-1][1] < RUNNING):
                return True
        landed = cycle.onset - max(self.motion.leap_end, last_step) < LANDED_TIME
        even = self.legs.get(cycle.number, math.inf) < ONE_LEGGED
        return cycle.odds < (NO_PUMP_LANDED if landed or even else NO_PUMP)

    def _alone(self, cycle: CycleDone) -> bool:
        """Is a cycle the first that is none after some that are pumps by their looks? A splash does that."""
        before = whole([b for b in self._run if b.onset.number < cycle.number])[-LONE:]
        return len(before) == LONE and all(c.odds > 0.0 for c in before) and cycle.period < UNBROKEN * before[-1].period

    def _light_of(self, cycle: CycleDone) -> float:
        """How long [s] the body was in free fall in the glide of a cycle."""
        for bounce in reversed(self._run):
            if bounce.onset.number == cycle.number + 1:
                return bounce.light
        return 0.01 * self.motion.light

    def _judge(self, known: float, late: bool = False, broken: int | None = None) -> bool:
        """Is the run a flight by now? Three pumps alike after the last cycle that is none, and the evidence.

        late: the run is over; broken: the number of a cycle that is none."""
        if self.in_flight:
            return False
        run = list(self._run)
        if broken is not None:
            run = [b for b in run if b.onset.number < broken]
        least = 1 if late or broken is not None else FELLOWS
        run = after_odd(run, least)
        if least == 1:
            run = before_odd(run, 0)
        done = whole(run)
        if len(run) < 3 or run[2].push_end is None or len(done) < (2 if least == 1 else FELLOWS + 1):
            return False
        onset = run[0].onset
        by, landing, start = self._how_begun(onset.time)
        against = CLIP_LANDED if by == "run_up" else CLIP
        evidence = sum(max(-against, min(CLIP, c.odds)) for c in done) + (LANDED if by == "run_up" else 0.0)
        before = [b.onset.time for b in (*self._walk, *self._run) if b.onset.number < onset.number]
        evidence += legs_evidence([self.legs.get(c.number) for c in done], [c.period for c in done])
        evidence -= carried(before, [b.onset.time for b in run])
        enough = ENOUGH_LATE if late else ENOUGH
        if evidence < (enough if len(done) > 2 else max(enough, ENOUGH_SHORT)):
            return False
        while self._run[0].onset.number < onset.number:
            self._run.popleft()
        self._up = self.up
        self.out.append(AttemptStarted(start, known, self.attempts, by, landing))
        self.out.append(FlightStarted(onset.time, known, self.flights, self.attempts, onset.number, by))
        self._began = (start, by, landing)
        self.in_flight = True
        self._flown = Flown(run if late else list(self._run))
        return True

    def _how_begun(self, first: float) -> tuple[str, float | None, float]:
        """Started by, landing peak [g], start of the attempt [s]; first: the first onset [s]."""
        motion = self.motion
        steps = [t for t, _ in self._steps if first - 5.0 < t < first + 0.1]
        for off, long in reversed(motion.leaps):
            if first - LEAP_BEFORE < off < first - 0.05:
                at, peak = motion.highest(off - 0.1, min(first, off + 0.4))
                if long >= LEAP_TIME or (long >= HOP_TIME and peak >= LANDING_G):
                    if long < LEAP_TIME and peak < HARD_LANDING_G:
                        return "unknown", peak, min(at, first)
                    return ("run_up" if len(steps) >= RUN_STEPS else "step"), peak, min(at, first)
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
        if not self.in_flight and len(run) >= 3:
            self._judge(known, late=True)
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
            first = pumps[0].onset.time - at if pumps else None
            self.out.append(AttemptStarted(at, known, self.attempts, "run_up", peak))
            self.out.append(AttemptEnded(end, known, self.attempts, at, len(pumps), "run_up", peak, first, how, None))
            self.attempts += 1
            self._attempted = end
            return

    def _end_flight(self, known: float, how: str) -> None:
        flown = self._flown
        swings = flown.recent
        least = max(0, 3 - flown.pumps)
        while len(swings) > max(least, 1) and self._is_blow(swings):
            swings.pop()
        swings = before_odd(swings, least)
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
                end, known, self.flights, flown.start, last, pumps, 1.0 / flown.period, middle(flown.shares),
                middle(flown.sizes), flown.steadiness, by, how, coast, tuple(flown.skipped),
            )
        )  # fmt: skip
        first = flown.start - start if landing is not None else None
        self.out.append(AttemptEnded(end, known, self.attempts, start, pumps, by, landing, first, how, self.flights))
        self.flights += 1
        self.attempts += 1
        self.in_flight = False
        self._up = None
        self._attempted = end

    def _is_blow(self, bounces: list[Swing]) -> bool:
        """Is the last onset the rise of a blow: the body or the board hitting the water?"""
        if self.motion.blow is None:
            return False
        at, peak = self.motion.blow
        usual = median([b.done.peak_g for b in bounces[:-1] if b.done is not None] or [2.0])
        return bounces[-1].onset.time - 0.06 < at < bounces[-1].onset.time + 0.4 and peak > usual + BLOW_ABOVE

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
        self.set_watch()

    def end(self, known: float) -> None:
        self._over(known, "end_of_data")


def _strange(cycle: CycleDone, height: float, size: float) -> bool:
    """Is a cycle's push unlike those of the flight, by its height above 0.95 g or its size [g]?"""
    return (
        abs(math.log(max(cycle.peak_g - 0.95, 0.02) / max(height, 0.02))) > STRANGE_PUSH
        or abs(math.log(max(cycle.size_g, 0.02) / max(size, 0.02))) > STRANGE_SIZE
    )
