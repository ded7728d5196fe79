"""What the word after a flight needs, kept while flying in bounded memory, and what is remembered from flight to
flight."""

from __future__ import annotations

import math
from collections import deque
from itertools import pairwise
from statistics import median

from .events import AttemptEnded, CycleDone, FlightEnded, SpeedFix
from .rules import (
    EARLY,
    EVERY_THIRD,
    HELD,
    LATE,
    LATE_LEAVES,
    SIZE_PUMPS,
    SIZE_SHARE,
    SLOW_FIRST_PUSH_S,
    SPEED_FIXES,
    STARTS_LOOKED_AT,
    STEADINESS_PUMPS,
    TWO_CADENCES,
    TWO_OF_THREE,
)
from .word import Flown

SPEED_ENDS = SPEED_FIXES // 2
AFTER_THE_LAST = 14
"""So many bounces after the last pump leave the late window whole: a swim has as many."""
FIXES_AFTER = 120
"""So many fixes after the end leave the last ones whole: it is told up to 11 s late, a watch gives ten a second."""


class Tally:
    """One flight: its pumps and fixes as they come."""

    def __init__(self) -> None:
        self._first: list[CycleDone] = []
        # some may turn out to be no pump of the flight
        self._last: deque[CycleDone] = deque(maxlen=LATE + LATE_LEAVES + AFTER_THE_LAST)
        self._first_fixes: list[SpeedFix] = []
        # some may turn out to be of the time after the flight
        self._last_fixes: deque[SpeedFix] = deque(maxlen=SPEED_ENDS + FIXES_AFTER)
        self._fixes = 0

    def pump(self, e: CycleDone) -> None:
        if len(self._first) < EARLY[1]:
            self._first.append(e)
        self._last.append(e)

    def fix(self, e: SpeedFix) -> None:
        self._fixes += 1
        if len(self._first_fixes) < SPEED_ENDS:
            self._first_fixes.append(e)
        self._last_fixes.append(e)

    def speed(self, end: float) -> float | None:
        """Median of the fixes kept up to the flight's end [m/s]; None with fewer than eight."""
        early, late = self._speeds(end)
        return median(early + late) if early else None

    def _speeds(self, end: float) -> tuple[list[float], list[float]]:
        """The first fixes and the last up to the end [m/s]; none with fewer than eight. The end is told seconds late:
        what came after it is a walk or a swim."""
        last = [f.speed for f in self._last_fixes if f.time <= end]
        if self._fixes - (len(self._last_fixes) - len(last)) < SPEED_FIXES:
            return [], []
        return [f.speed for f in self._first_fixes], last[-SPEED_ENDS:]

    def flown(self, e: FlightEnded, attempt: AttemptEnded | None, needed: float | None, best_today: bool) -> Flown:
        early = late = None
        first = [p for p in self._first if p.number <= e.last_cycle and p.whole]
        last = [p for p in self._last if p.number <= e.last_cycle]
        window = last[: len(last) - LATE_LEAVES][-LATE:]
        if e.pumps >= TWO_CADENCES and len(first) >= EARLY[1] and len(window) == LATE:
            early = 1.0 / median(p.period for p in first[EARLY[0] - 1 : EARLY[1]])
            late = 1.0 / median(p.period for p in window)
        speeds_early, speeds_late = self._speeds(e.time)
        eight = [p.size_g for p in first[:LATE]]
        steps = [
            (b.period - a.period) / a.period
            for row in (first[EARLY[0] - 1 :], window)
            for a, b in pairwise(row)
            if a.whole and b.whole and b.number == a.number + 1
        ]
        return Flown(
            flight=e.flight,
            seconds=e.time - e.start,
            best_today=best_today,
            pumps=e.pumps,
            started_by=e.started_by,
            cadence=e.cadence,
            early=early,
            late=late,
            size=e.size_g,
            size_needed=needed,
            size_first=median(eight) if len(eight) == LATE else None,
            steadiness=e.steadiness if e.pumps >= STEADINESS_PUMPS else None,
            speed_early=median(speeds_early) if speeds_early else None,
            speed_late=median(speeds_late) if speeds_late else None,
            landing_to_push=attempt.landing_to_push_s if attempt is not None else None,
            scatter=math.sqrt(0.5 * sum(x * x for x in steps) / len(steps)) if steps else None,
        )


class Memory:
    """What the rules of the word look back on: the last starts, the last flights, what was said."""

    def __init__(self) -> None:
        self._starts: deque[bool] = deque(maxlen=STARTS_LOOKED_AT)
        self._slow: deque[bool] = deque(maxlen=TWO_OF_THREE[1])
        self._small: deque[bool] = deque(maxlen=TWO_OF_THREE[1])
        self._said: deque[str | None] = deque(maxlen=EVERY_THIRD - 1)
        self._longest = 0.0

    def attempt(self, e: AttemptEnded) -> None:
        """Every attempt, whether it flew or not."""
        if e.ended_by == "gap":  # nobody saw how it went on; what does is seen again after the gap
            return
        self._starts.append(e.pumps >= HELD)
        if e.started_by in ("run_up", "step"):
            late = e.landing_to_push_s
            self._slow.append(late is not None and late > SLOW_FIRST_PUSH_S)

    def longest(self, seconds: float) -> bool:
        """Is this the longest flight so far? The first one is nothing to compare with."""
        best = 0.0 < self._longest < seconds
        self._longest = max(self._longest, seconds)
        return best

    def flight(self, f: Flown) -> None:
        self._small.append(f.pumps >= SIZE_PUMPS and f.size_needed is not None and f.size < SIZE_SHARE * f.size_needed)

    def said(self, sentence: str | None) -> None:
        self._said.append(sentence)

    @property
    def held(self) -> tuple[int, int]:
        """(starts held, of how many looked at)."""
        return sum(self._starts), len(self._starts)

    @property
    def slow_starts(self) -> bool:
        """The last try and two of the last three were slow to the first push."""
        return bool(self._slow) and self._slow[-1] and sum(self._slow) >= TWO_OF_THREE[0]

    @property
    def small_flights(self) -> bool:
        """The last flight and two of the last three were too small."""
        return bool(self._small) and self._small[-1] and sum(self._small) >= TWO_OF_THREE[0]

    @property
    def worn(self) -> frozenset[str]:
        """Sentences said after one of the last two flights."""
        return frozenset(s for s in self._said if s is not None)
