"""The click: a train of its own that is drawn towards the predicted onset, gently enough not to be noticed.

The predictor (predict.py) runs free. The train has a tempo and a last click; each next click is decided on a while
before it sounds:

    onset    |        |         |  missed  |        |
    click    .   |        |         |          |        |          next = last + tempo + shift
    decided    ^        ^         ^          ^        ^            at last + 0.97 interval - ahead

    tempo    goes to the aim by at most 3 % in any 4 beats
    shift    towards the predicted onset, at most 2.5 % of the tempo
    interval differs from the one before by at most 2.5 %

so neither a missed pump nor a change of tempo makes a click double or drop out: a train has one click a beat,
whatever the rider does.

lead      aim of the tempo                  where the onset may lie without a shift
rider     the rider's period                80 ms before to 20 ms after the click: people act early, never chase
own_best  own best, within 2.5 % of that    an eighth of a period to either side: the click pulls, never swaps
target    the model's, within 2.5 %

The train stops when no onset has come for 2.5 periods, at the end of a flight, at a gap, and at a hard blow until a
pump follows it; it starts in phase with the rider.
"""

from __future__ import annotations

import math
from collections import deque

from .cycles import SHORTEST
from .events import Click, Event, Gap, Onset
from .predict import Predictor
from .rules import (
    ACTS_AFTER_S,
    ACTS_BEFORE_S,
    CLAIMABLE,
    CLICK_FADES_S,
    CLICK_WITHIN,
    FADE_BEATS,
    FREE_RUN,
    LEAD_AHEAD,
    LEAD_TEMPO,
    PHASE_GAIN,
    PHASE_STEP,
    PUMPS_AFTER_ROUTE,
    PUSH_SHARE,
    TEMPO_BEATS,
    TEMPO_STEP,
)
from .units import INFINITY

DECIDED_AT = 0.97
"""Share of the last interval after which the next click is decided on, less the time ahead: no interval can be
shorter."""
IN_RHYTHM = 1.0 / 3.0
"""Pumping goes on after a blow if the next period is no further off than this: after a fall none comes, or a splash
does."""
APART = 0.7
"""A new train begins no sooner than this share of a period after the last click of the old one."""


class Beat:
    """Onsets and gaps in, Click out. The coach says when a flight is on (`begin`, `stop`) and what to go with."""

    def __init__(self, lead: str = "rider", ahead: float = 0.3, *, land: bool = False) -> None:
        self.lead = lead
        self.goal: float | None = None
        """Cadence [Hz] that a leading click goes to; None: with the rider."""
        self.push_share = PUSH_SHARE
        self.muted = False
        self.deadline = INFINITY
        self.predictor = Predictor()
        self._ahead = ahead
        self._land = land
        self._riding = land
        self._onsets: deque[tuple[int, float]] = deque(maxlen=CLAIMABLE)
        self._out: list[Event] = []
        self._in_band_since: float | None = None
        self._level = 1.0
        self._wait = 0
        self._held = False
        self._last_click = -INFINITY  # the train's, heard or not
        self._interval = math.nan
        self._tempos: deque[float] = deque(maxlen=TEMPO_BEATS)

    # ---- what the coach says ----

    def begin(self, first_cycle: int, known: float) -> None:
        """A flight is on; its first pump is cycle `first_cycle`."""
        self.stop()
        self._riding = True
        self._in_band_since, self._level = None, 1.0
        for number, t in self._onsets:
            if number >= first_cycle:
                self.predictor.onset(t)
        self._start(known)

    def stop(self) -> None:
        """The flight is over, or cannot be followed any more."""
        self._riding = self._land
        self._held = False
        self.deadline = INFINITY
        self.predictor.restart()

    def hold(self) -> None:
        """The rider may be falling: no click until `go_on`; the predictor listens on."""
        self._held = True
        self.deadline = INFINITY

    def go_on(self, known: float) -> None:
        """It was no fall."""
        if self._held:
            self._held = False
            self._start(known)

    def in_band(self, since: float | None) -> None:
        """In band without a break since then, or None while out of it (the click comes back whole)."""
        self._in_band_since = since
        if since is None:
            self._level = 1.0

    def in_rhythm(self, period: float) -> bool:
        """Is this a period of the flight that is on, no more than a third off? Before there is a rhythm, always."""
        running = self.predictor.period
        return math.isnan(running) or abs(period - running) < IN_RHYTHM * running

    def route_changed(self) -> None:
        """The sound takes another way out from here on."""
        self._wait = PUMPS_AFTER_ROUTE

    # ---- the part protocol ----

    def receive(self, event: Event) -> None:
        if isinstance(event, Onset):
            if self._onsets and event.time - self._onsets[-1][1] < SHORTEST:  # a splash, and now the push (`cycles`)
                self._onsets.pop()
                self.predictor.take_back()
            self._onsets.append((event.number, event.time))
            if self._wait:
                self._wait -= 1
            if self._riding:
                self.predictor.onset(event.time)
                if self.deadline == INFINITY and not self._held:
                    self._start(event.known)
        elif isinstance(event, Gap):
            self._onsets.clear()
            self.predictor.restart()
            self.deadline = INFINITY

    def advance(self, now: float) -> None:
        while self.deadline <= now:
            self._next(self.deadline)

    def events(self) -> list[Event]:
        out, self._out = self._out, []
        return out

    # ---- the train ----

    def _start(self, known: float) -> None:
        rider = self.predictor
        if rider.spread() > CLICK_WITHIN:
            return
        click, period = rider.next, rider.period
        while click - self._ahead < known or click < self._last_click + APART * period:
            click += period
        self._interval = period
        self._tempos.clear()
        self._tempos.append(period)
        self._place(click, period, known)

    def _next(self, known: float) -> None:
        rider = self.predictor
        if not rider.period > 0.0:  # the rhythm was lost while a click was out
            self.deadline = INFINITY
            return
        tempo = self._tempo()
        interval = tempo + self._shift(self._last_click + tempo, tempo)
        interval = _clamp(interval, self._interval * (1.0 - PHASE_STEP), self._interval * (1.0 + PHASE_STEP))
        click = self._last_click + interval
        bridged = FREE_RUN + math.floor(self._ahead / rider.period)
        if click - rider.last > bridged * rider.period:
            self.deadline = INFINITY  # the next steady onset starts a new train
            return
        self._interval = interval
        self._tempos.append(tempo)
        self._place(click, tempo, known)

    def _tempo(self) -> float:
        """The next tempo [s]: the aim, within what may change in four beats and in one."""
        # ... and so that the interval can stay within a phase step of both the tempo and the interval before
        reach = (1.0 + PHASE_STEP) / (1.0 - PHASE_STEP)
        lo = max(max(self._tempos) * (1.0 - TEMPO_STEP), self._interval / reach)
        hi = min(min(self._tempos) * (1.0 + TEMPO_STEP), self._interval * reach)
        return _clamp(self._aim(), lo, hi)

    def _aim(self) -> float:
        """The rider's period; leading, up to 2.5 % from it towards the goal, less the further ahead the click is
        already: a rider who does not follow has it an eighth of a period ahead, at his own tempo."""
        rider = self.predictor.period
        if not self._leads:
            return rider
        goal = 1.0 / self.goal if self.goal else rider
        towards = 1.0 if goal < rider else -1.0
        ahead = towards * self._off(self._last_click + self._interval) / (LEAD_AHEAD * rider)
        pulled = rider * (1.0 - towards * LEAD_TEMPO * _clamp(1.0 - ahead, -2.0, 1.0))
        return max(goal, pulled) if towards > 0.0 else min(goal, pulled)

    @property
    def _leads(self) -> bool:
        return self.lead in ("own_best", "target") and self.goal is not None

    def _off(self, click: float) -> float:
        """How long after a click at this time the nearest onset is expected [s]; negative: before it."""
        return math.remainder(self.predictor.next - click, self.predictor.period)

    def _shift(self, click: float, tempo: float) -> float:
        """How far to move a click that would fall at `click` [s]."""
        if self._leads:
            before = after = LEAD_AHEAD * self.predictor.period
        else:
            before, after = ACTS_BEFORE_S, ACTS_AFTER_S
        off = self._off(click)
        beyond = off - _clamp(off, -before, after)
        return _clamp(PHASE_GAIN * beyond, -PHASE_STEP * tempo, PHASE_STEP * tempo)

    def _place(self, click: float, tempo: float, known: float) -> None:
        self._last_click = click
        self.deadline = click + DECIDED_AT * self._interval - self._ahead
        since = self._in_band_since
        if since is not None and not self._land and known - since >= CLICK_FADES_S:
            self._level = max(0.0, self._level - 1.0 / FADE_BEATS)
        if self.lead == "silent" or self.muted or self._wait or self._level <= 0.0:
            return
        self._out.append(Click(click, known, "click", tempo, self.lead, self._level))
        if self._land:
            self._out.append(Click(click + self.push_share * tempo, known, "tick", tempo, self.lead, self._level))


def _clamp(x: float, lo: float, hi: float) -> float:
    return lo if x < lo else hi if x > hi else x
