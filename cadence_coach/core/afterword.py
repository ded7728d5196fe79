"""From the end of a flight to its word: what is owed, when it may be said, and making it."""

from __future__ import annotations

from .events import AttemptEnded, FlightEnded, Summary
from .motion import CALM_TIME
from .rules import COAST_AT_MOST_S, WORD_AFTER_S, WORD_EXPIRES_S
from .settings import Settings
from .tally import Memory, Tally
from .turns import Turns
from .units import INFINITY
from .word import Past, speech_seconds, word

STILL_GLIDING_S = 0.1
"""A coast that was seen to last until this little before the flight's end was known goes on."""
LATE_CALM_S = 1.0
"""A glide is calm by then, after the flight's end was known."""


class Afterword:
    """One word at most is owed at a time; every flight gets its Summary, said or only shown."""

    def __init__(self, turns: Turns) -> None:
        self.calm = False
        """Motion is calm now."""
        self._turns = turns
        self._memory = Memory()
        self._owed: tuple[FlightEnded, Tally, float | None] | None = None
        self._gliding = False
        self._attempt: AttemptEnded | None = None
        self._from = INFINITY
        self._last: Summary | None = None

    def flight_over(self, e: FlightEnded, tally: Tally, needed: float | None, attempt_open: bool) -> None:
        """`needed`: size needed at the flight's cadence and speed. The attempt may still coast on: its end is
        waited for, and that of a glide, which a stir ends."""
        self._owed = e, tally, needed
        self._attempt = None
        landed = e.time + e.coast_s
        self._gliding = e.ended_by == "coast_out" and landed > e.known - STILL_GLIDING_S
        open_ = attempt_open or self._gliding
        self._from = max(landed + WORD_AFTER_S, e.known + COAST_AT_MOST_S if open_ else e.known)
        self._turns.word_owed = True

    def attempt_over(self, e: AttemptEnded) -> None:
        self._memory.attempt(e)
        if self._owed is not None:
            self._attempt = e
            if not self._gliding:
                self._from = max(self._owed[0].time + self._owed[0].coast_s, e.time) + WORD_AFTER_S

    def moved(self, time: float, calm: bool) -> None:
        """Motion is calm, or no longer: then a glide is over. So it is where the calm came late: rough between."""
        self.calm = calm
        over = time - CALM_TIME if calm else time
        if self._gliding and self._owed is not None and over > self._owed[0].known + (LATE_CALM_S if calm else 0.0):
            self._gliding = False
            self._from = over + WORD_AFTER_S

    @property
    def deadline(self) -> float:
        if self._owed is None:
            return INFINITY
        if self.calm:
            return max(self._turns.now, self._from, self._turns.busy_until, self._turns.quiet_until)
        return self._owed[0].known + WORD_EXPIRES_S

    def speak(self, settings: Settings, unsaid: str = "", tired: bool = False) -> None:
        """Make the word that is owed; `unsaid`: why it is only shown; tired: the legs are gone, so "same again" is
        no advice."""
        if self._owed is None:
            return
        e, tally, needed = self._owed
        self._owed = None
        self._turns.word_owed = self._gliding = False
        memory, turns = self._memory, self._turns
        best = settings.start != "rope_drill" and memory.longest(e.time - e.start)  # a drill is no flight on one's own
        flown = tally.flown(e, self._attempt, needed, best)
        if e.ended_by != "gap":
            memory.flight(flown)
        worn = memory.worn | {"clean"} if tired else memory.worn
        past = Past(memory.held, memory.slow_starts, memory.small_flights, worn, settings.own_best_cadence)
        said = word(flown, past, settings.focus)
        memory.said(None if unsaid else said.sentence)
        self._last = Summary(turns.now, turns.now, e.flight, said.figures, said.spoken, said.sentence)
        if unsaid:
            turns.out.append(Summary(turns.now, turns.now, e.flight, said.figures, (), said.sentence))
            turns.hold("word", unsaid)
            return
        turns.out.append(self._last)
        turns.busy_until = turns.now + speech_seconds(said.spoken)

    def again(self) -> None:
        """Say the last word again, unless something is sounding or a newer one is owed."""
        last, turns = self._last, self._turns
        if last is None or self._owed is not None or turns.now < turns.busy_until:
            return
        turns.out.append(Summary(turns.now, turns.now, last.flight, last.figures, last.spoken, last.sentence))
        turns.busy_until = turns.now + speech_seconds(last.spoken)
