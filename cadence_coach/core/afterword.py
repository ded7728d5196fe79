"""From the end of a flight to its word: what is owed, when it may be said, and making it."""

from __future__ import annotations

from .events import AttemptEnded, FlightEnded, Summary
from .rules import COAST_AT_MOST_S, WORD_AFTER_S, WORD_EXPIRES_S
from .settings import Settings
from .tally import Memory, Tally
from .turns import Turns
from .units import INFINITY
from .word import Past, speech_seconds, word


class Afterword:
    """One word at most is owed at a time; every flight gets its Summary, said or only shown."""

    def __init__(self, turns: Turns) -> None:
        self.calm = False
        """Motion is calm now."""
        self._turns = turns
        self._memory = Memory()
        self._owed: tuple[FlightEnded, Tally, float | None] | None = None
        self._attempt: AttemptEnded | None = None
        self._from = INFINITY
        self._last: Summary | None = None

    def flight_over(self, e: FlightEnded, tally: Tally, needed: float | None, attempt_open: bool) -> None:
        """`needed`: size needed at the flight's cadence and speed. The attempt may still coast on: its end is
        waited for."""
        self._owed = e, tally, needed
        self._attempt = None
        self._from = max(e.time + WORD_AFTER_S, e.known + COAST_AT_MOST_S if attempt_open else e.known)
        self._turns.word_owed = True

    def attempt_over(self, e: AttemptEnded) -> None:
        self._memory.attempt(e)
        if self._owed is not None:
            self._attempt = e
            self._from = max(self._owed[0].time, e.time) + WORD_AFTER_S

    @property
    def owed_since(self) -> float | None:
        """When the flight's end was known; None when no word is owed."""
        return None if self._owed is None else self._owed[0].known

    @property
    def deadline(self) -> float:
        if self._owed is None:
            return INFINITY
        if self.calm:
            return max(self._turns.now, self._from, self._turns.busy_until, self._turns.quiet_until)
        return self._owed[0].known + WORD_EXPIRES_S

    def speak(self, settings: Settings, unsaid: str = "") -> None:
        """Make the word that is owed; `unsaid`: why it is only shown."""
        if self._owed is None:
            return
        e, tally, needed = self._owed
        self._owed = None
        self._turns.word_owed = False
        memory, turns = self._memory, self._turns
        flown = tally.flown(e, self._attempt, needed, memory.longest(e.time - e.start))
        memory.flight(flown)
        past = Past(memory.held, memory.slow_starts, memory.small_flights, memory.worn, settings.own_best_cadence)
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
