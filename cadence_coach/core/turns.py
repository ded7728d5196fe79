"""One message at a time: what is said now, what waits its turn, what is held back. The only place where a Cue or
Held is made.

    FIRST    machine faults, answers to a command    at once
    SOON     turn back, time limit, "all right?"     after what is sounding and the silence after a fall or a gap, for
                                                     which it waits SOON_WAITS_S at most
    LATER    milestone, rest over, legs gone         as SOON, and after the word that is owed

A correction never waits: a moment later it would be about another pump.
"""

from __future__ import annotations

from .cuebook import CORRECTIONS, FIRST, GUARD, LATER, MACHINE, RANK, SOON
from .events import Cue, Event, Held
from .rules import CUE_LASTS_S, SOON_WAITS_S, WORDED_LASTS_S
from .units import INFINITY


class Turns:
    """`now` is moved by the coach; `out` collects in the order said."""

    def __init__(self) -> None:
        self.now = 0.0
        self.out: list[Event] = []
        self.busy_until = -INFINITY
        """A message is sounding until then."""
        self.quiet_until = -INFINITY
        """Silence after a fall or a gap until then."""
        self.word_owed = False
        self._waiting: list[tuple[int, int, str, str, float]] = []  # (rank, number, kind, reason, since)
        self._number = 0
        self._held: dict[str, str] = {}

    @property
    def waiting(self) -> bool:
        return bool(self._waiting)

    @property
    def deadline(self) -> float:
        """When the first that waits may sound."""
        if not self._waiting:
            return INFINITY
        rank, _, _, _, since = self._waiting[0]
        if rank == FIRST:
            return self.now
        if rank == LATER and self.word_owed:
            return INFINITY
        quiet_until = min(self.quiet_until, since + SOON_WAITS_S) if rank == SOON else self.quiet_until
        return max(self.now, self.busy_until, quiet_until)

    def say(self, kind: str, reason: str) -> None:
        self.out.append(Cue(self.now, self.now, kind, reason))
        self.busy_until = self.now + (WORDED_LASTS_S if kind in (*GUARD, *MACHINE) else CUE_LASTS_S)
        self._held.pop(kind, None)

    def call(self, kind: str, reason: str) -> None:
        """Say it when it is its turn; the same kind waits only once."""
        if all(kind != waiting[2] for waiting in self._waiting):
            self._number += 1
            self._waiting.append((RANK[kind], self._number, kind, reason, self.now))
            self._waiting.sort()

    def flush(self) -> list[str]:
        """Say what may be said now; the kinds that were."""
        said = []
        while self.deadline <= self.now:
            _, _, kind, reason, _ = self._waiting.pop(0)
            self.say(kind, reason)
            said.append(kind)
        return said

    def hold(self, kind: str, why: str, reason: str = "") -> None:
        """Held back, and why. A correction that is due again and again is noted once for each why, until it is over."""
        if kind in CORRECTIONS:
            if self._held.get(kind) == why:
                return
            self._held[kind] = why
        self.out.append(Held(self.now, self.now, kind, f"{why}; {reason}" if reason else why))

    def over(self, still: set[str]) -> None:
        """Corrections that are no longer due."""
        for kind in set(self._held) - still:
            del self._held[kind]

    def drop(self, why: str, kinds: tuple[str, ...] | None = None) -> None:
        """What waits (of these kinds, or all) is not said."""
        for waiting in [w for w in self._waiting if kinds is None or w[2] in kinds]:
            self._waiting.remove(waiting)
            self.hold(waiting[2], why, waiting[3])
