"""From bounces to attempts and flights: which cycles are pumps, how it began, how it ended.

A run is a row of onsets none of which waits longer than max(1.6 s, 2.5 periods) for the next. Each whole cycle brings its log-odds of
being a pump by shape (`shape.pump_odds`); the run's evidence is their sum, each clipped. Three onsets and enough evidence make a
flight, which claims back the pumps before: from the first cycle after the last one that was clearly none (a step, the jump, the landing).

A flight ends when no onset has come in time, or at a fall: a blow with the rhythm gone. Cycles at its end that are none (the fall itself,
a splash) are left out, since which was the last pump is known only then.

        onsets, evidence < ENOUGH         FlightStarted                      FlightEnded
    run ------------------------> run ------------------> flight ----------------------------> none
"""

from __future__ import annotations

import math
from collections import deque
from statistics import median

from .alike import FELLOWS, Bounce, after_odd, before_odd, whole
from .events import (
    AttemptEnded,
    AttemptStarted,
    Calm,
    CycleDone,
    Event,
    FlightEnded,
    FlightStarted,
    Impact,
    Onset,
    PushEnd,
    Still,
    Stirred,
)
from .upright import Upright

CLIP = 4.0
"""No single cycle counts more than this, for or against."""
ENOUGH = 4.0
"""Evidence that makes a flight while the run goes on."""
ENOUGH_BROKEN = 6.0
"""The same where a cycle that is none has come."""
ENOUGH_LATE = 2.0
"""Evidence that makes a flight of a run that is over: there is no more to come."""
LANDED = 5.0
"""Evidence that a leap or a run-up just before is worth."""
LANDED_TIME = 8.0
"""For this long [s] after a leap or run-up a doubtful cycle does not break the run."""
NO_PUMP = -2.0
"""A cycle below this is none: a run not yet a flight begins anew after it."""
NO_PUMP_LANDED = -5.0
"""The same soon after a leap or running steps."""
TAKE_OFF_ODDS = 1.0
"""The take-off of a leap: a cycle right after a running step, its glide a free fall, its odds below this."""
STRANGE = 3
"""So many cycles in a row below NO_PUMP and with pushes unlike the flight's end it: the rider walks or swims."""
STRANGE_PUSH = 0.35
"""A push is unlike when the absolute log ratio of its height to the flight's is above this."""
SLOWEST_WAIT, WAIT_PERIODS = 1.6, 2.5
GRACE = 0.3
"""The detector closes a last cycle at about the same time; this much later [s] the run is over without it."""
FREE_FALL_G, FREE_FALL_TIME = 0.4, 0.10
"""A leap: magnitude below this [g] for this long [s]."""
BLOW_G = 2.8
"""A blow: magnitude above this [g] on the 10 ms grid."""
BLOW_ABOVE = 0.6
"""A last bounce whose blow is this much [g] above the usual peak is the fall, not a pump."""
FALL_G = 3.2
TUMBLE = math.cos(math.radians(35))
"""The up direction has turned by more than this from what it was in the flight: the rider lies in the water."""
CALM_G, CALM_TIME, STILL_G, STILL_TIME = 0.25, 3.0, 0.04, 20.0
QUICK = (0.26, 0.45)
"""Periods of running steps [s] (2.2-3.8 Hz; common practice, no source)."""


class FlightFinder:
    """Feed grid points (`step`) and the detector's events (`receive`); collect from `out`. State is bounded."""

    def __init__(self) -> None:
        self.out: list[Event] = []
        self.flights = 0
        self.attempts = 0
        self.in_flight = False
        self._run: deque[Bounce] = deque(maxlen=64)
        self._flight: list[Bounce] = []
        self._older: list[CycleDone] = []
        self._steps: deque[tuple[float, float]] = deque(maxlen=12)  # running steps: (time, period)
        self._falling_since = math.nan
        self._leap_end = -math.inf
        self._landing: tuple[float, float] | None = None
        self._blow: tuple[float, float] | None = None
        self._blow_open = False
        self._calm_since = math.nan
        self._still_since = math.nan
        self._calm_said = self._still_said = False
        self._hi = self._lo = 1.0
        self._up: tuple[float, float, float] | None = None
        self._range_g = math.inf
        self._light = 0
        self._upright = Upright(0.01)
        self._patience = SLOWEST_WAIT

    # ---- grid points ----

    def step(self, time: float, v: float, n: float, known: float, upright: Upright) -> None:
        """One grid point: vertical and magnitude of the specific force [g], and which way is up."""
        self._upright = upright
        # leap and landing
        if n < FREE_FALL_G:
            self._light += 1
            if self._falling_since != self._falling_since:
                self._falling_since = time
            elif time - self._falling_since >= FREE_FALL_TIME:
                self._leap_end = time
        else:
            self._falling_since = math.nan
        # blows
        if n > BLOW_G:
            if not self._blow_open or (self._blow and n > self._blow[1]):
                self._blow = (time, n)
            self._blow_open = True
        elif self._blow_open:
            self._blow_open = False
            at, peak = self._blow or (time, n)
            self.out.append(Impact(at, known, peak, peak >= self._range_g))
        # calm and stillness: leaky envelope of the magnitude
        d = abs(n - 1.0)
        self._hi += 0.5 * (d - self._hi) if d > self._hi else 0.01 * (d - self._hi)
        if self._hi > CALM_G:
            if self._calm_said:
                self.out.append(Stirred(time, known))
            self._calm_since, self._calm_said = math.nan, False
        elif self._calm_since != self._calm_since:
            self._calm_since = time
        elif not self._calm_said and time - self._calm_since >= CALM_TIME:
            self._calm_said = True
            self.out.append(Calm(time, known))
        if self._hi > STILL_G:
            self._still_since, self._still_said = math.nan, False
        elif self._still_since != self._still_since:
            self._still_since = time
        elif not self._still_said and time - self._still_since >= STILL_TIME:
            self._still_said = True
            self.out.append(Still(time, known))
        run = self._run
        if run:
            waited = time - run[-1].onset.time
            if waited > self._patience + GRACE:
                self._over(known, "unknown")
            elif self.in_flight and self._blow and self._blow[0] > run[-1].onset.time and self._blow[1] > FALL_G:
                push_end = run[-1].push_end
                if push_end is not None and self._blow[0] > push_end and waited > 1.5 * self._period():
                    self._over(known, "fall")

    def _period(self) -> float:
        onsets = [b.onset.time for b in list(self._run)[-6:]]
        gaps = [b - a for a, b in zip(onsets, onsets[1:], strict=False)]
        return median(gaps) if gaps else 0.6

    # ---- the detector's events ----

    def receive(self, event: Event) -> None:
        if isinstance(event, Onset):
            run = self._run
            if run and event.time - run[-1].onset.time > self._patience:
                self._over(event.known, "unknown")
            run.append(Bounce(event, 0.01 * self._light))
            self._light = 0
            self._patience = max(SLOWEST_WAIT, WAIT_PERIODS * self._period())
            if self.in_flight:
                self._flight.append(run[-1])
        elif isinstance(event, PushEnd):
            for bounce in reversed(self._run):
                if bounce.onset.number == event.number:
                    bounce.push_end = event.time
                    break
            self._judge(event.known)
        elif isinstance(event, CycleDone):
            self._cycle(event)

    def _cycle(self, cycle: CycleDone) -> None:
        period = cycle.time - cycle.onset
        if cycle.whole and QUICK[0] <= period <= QUICK[1] and cycle.size_g > 0.3:
            self._steps.append((cycle.time, period))
        for bounce in reversed(self._run):
            if bounce.onset.number == cycle.number:
                bounce.done = cycle
                bounce.odds = cycle.odds
                break
        else:
            return
        if not cycle.whole and self._run[-1].onset.number == cycle.number:
            self._over(cycle.known, "unknown")
            return
        if self.in_flight:
            tail = whole(self._flight[-STRANGE - 8 :])
            if len(tail) > STRANGE:
                usual = math.log(max(median(c.peak_g for c in tail[:-STRANGE]) - 0.95, 0.02))
                last = tail[-STRANGE:]
                if all(
                    c.odds < NO_PUMP and abs(math.log(max(c.peak_g - 0.95, 0.02)) - usual) > STRANGE_PUSH for c in last
                ):
                    self._over(cycle.known, "unknown")
            return
        if cycle.whole and self._is_none(cycle):
            if self._judge(cycle.known, broken=cycle.number):
                return
            while self._run and self._run[0].onset.number <= cycle.number:
                self._run.popleft()
            return
        self._judge(cycle.known)

    def _is_none(self, cycle: CycleDone) -> bool:
        """Is this cycle none for sure, so that a run not yet a flight begins anew after it?"""
        last_step = self._steps[-1][0] if self._steps else -math.inf
        if cycle.odds < TAKE_OFF_ODDS and abs(cycle.onset - last_step) < 0.1 and self._light_of(cycle) > FREE_FALL_TIME:
            return True
        landed = cycle.onset - max(self._leap_end, last_step) < LANDED_TIME
        return cycle.odds < (NO_PUMP_LANDED if landed else NO_PUMP)

    def _light_of(self, cycle: CycleDone) -> float:
        """How long [s] the body was in free fall in the glide of a cycle."""
        for bounce in reversed(self._run):
            if bounce.onset.number == cycle.number + 1:
                return bounce.light
        return 0.01 * self._light

    def _judge(self, known: float, late: bool = False, broken: int | None = None) -> bool:
        """Is the run a flight by now? Three pumps alike after the last cycle that is none, and the evidence. late: the run is
        over; broken: the number of a cycle that is none."""
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
        evidence = sum(max(-CLIP, min(CLIP, c.odds)) for c in done) + (LANDED if by == "run_up" else 0.0)
        if evidence < (ENOUGH_LATE if late else ENOUGH if broken is None else ENOUGH_BROKEN):
            return False
        while self._run[0].onset.number < onset.number:
            self._run.popleft()
        self._up = self._up_now()
        self.out.append(AttemptStarted(start, known, self.attempts, by, landing))
        self.out.append(FlightStarted(onset.time, known, self.flights, self.attempts, onset.number, by))
        self._began = (start, by, landing)
        self.in_flight = True
        self._flight = run if late else list(self._run)
        return True

    def _how_begun(self, first: float) -> tuple[str, float | None, float]:
        """Started by, landing peak [g], start of the attempt [s]."""
        landing = self._blow if self._blow and first - 2.5 < self._blow[0] < first + 0.05 else None
        steps = [t for t, _ in self._steps if first - 5.0 < t < first]
        if len(steps) >= 2 or (landing and first - 2.5 < self._leap_end < first):
            at = landing[0] if landing else first
            return "run_up", landing[1] if landing else None, at
        return "unknown", None, first

    def _over(self, known: float, how: str) -> None:
        """The run has come to its end."""
        run = self._run
        if not self.in_flight and len(run) >= 3:
            self._judge(known, late=True)
        if self.in_flight:
            self._end_flight(known, how)
        run.clear()

    def _end_flight(self, known: float, how: str) -> None:
        bounces = self._flight
        while len(bounces) > 3 and self._is_blow(bounces):
            bounces.pop()
        bounces = before_odd(bounces, 3)
        onsets = [b.onset.time for b in bounces]
        gaps = [b - a for a, b in zip(onsets, onsets[1:], strict=False)]
        period = median(gaps) if gaps else 0.6
        running = median(gaps[-5:]) if gaps else 0.6
        whole = [b.done for b in bounces if b.done is not None and b.done.whole]
        share = median([c.push_share for c in whole]) if whole else math.nan
        size = median([c.size_g for c in whole]) if whole else math.nan
        mean = sum(gaps) / len(gaps) if gaps else math.nan
        spread = math.sqrt(sum((g - mean) ** 2 for g in gaps) / (len(gaps) - 1)) / mean if len(gaps) > 1 else math.nan
        start, by, landing = self._began
        end = onsets[-1] + running
        if how == "unknown":
            how = self._how_ended(onsets[-1], end)
        self.out.append(
            FlightEnded(
                end, known, self.flights, onsets[0], bounces[-1].onset.number, len(bounces), 1.0 / period, share, size,
                spread, by, how, 0.0,
            )
        )  # fmt: skip
        self.out.append(
            AttemptEnded(
                end, known, self.attempts, start, len(bounces), by, landing, onsets[0] - start if landing else None, how,
                self.flights,
            )
        )  # fmt: skip
        self.flights += 1
        self.attempts += 1
        self.in_flight = False
        self._flight = []
        self._up = None

    def _is_blow(self, bounces: list[Bounce]) -> bool:
        """Is the last onset the rise of a blow: the body or the board hitting the water?"""
        if self._blow is None:
            return False
        at, peak = self._blow
        usual = median([b.done.peak_g for b in bounces[:-1] if b.done is not None] or [2.0])
        return bounces[-1].onset.time - 0.06 < at < bounces[-1].onset.time + 0.4 and peak > usual + BLOW_ABOVE

    def _how_ended(self, last_onset: float, end: float) -> str:
        if self._blow and last_onset < self._blow[0] < end + 1.5 and self._blow[1] > FALL_G:
            return "fall"
        up, now = self._up, self._up_now()
        if up is not None:
            dot = sum(a * b for a, b in zip(up, now, strict=True))
            size = math.sqrt(sum(a * a for a in up) * sum(b * b for b in now))
            if size > 0.0 and dot / size < TUMBLE:
                return "fall"
        return "coast_out" if self._hi < 0.12 else "unknown"

    def _up_now(self) -> tuple[float, float, float]:
        u = self._upright
        return (u.mx, u.my, u.mz)

    def gap(self, known: float) -> None:
        """The stream was interrupted for long: what ran is over."""
        self._over(known, "gap")

    def end(self, known: float) -> None:
        self._over(known, "end_of_data")
