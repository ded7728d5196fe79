"""Speeds that say that nobody flies: a rhythm on the spot, hopping or bending the knees, is no pumping.

A phone's speed is late by up to 2.2 s (Supej and Cuk 2014) and often missing, so it never makes a flight: it only keeps
a rhythm from being taken for one, where there are fixes that belong to it.
"""

from __future__ import annotations

from collections import deque
from itertools import pairwise

SLOW = 1.5
"""Nobody flies over ground so slowly [m/s]: a board that is pumped makes 3 and more (common practice, no source), which
leaves as much again for a current. People on foot on the spot make none."""
LAG = 2.5
"""A fix says something of what was so long [s] before it, no less."""
TOLD = 2
"""So many fixes must agree."""
FRESH = 3.0
"""An older fix [s] is none."""
PATIENCE = LAG + TOLD
"""After so long [s], at one fix a second, enough of them have come to tell."""
AFTER = 1.0
"""The fixes of a run that is over come up to so long [s] after its last onset: it is over half a second later."""
HOLE = 1.6
"""Longer without a fix [s], and one may be lacking that would have shown a flight."""
STUBBORN, FROZEN = 60.0, 20.0
"""Who goes on for so long [s] is believed, whatever the speed: a strong current. After the second already where all
fixes say one and the same, as a receiver does that has stopped (own values)."""


class Ashore:
    """`fix` each believed speed; then ask about a run of bounces. State is bounded."""

    def __init__(self) -> None:
        self._fixes: deque[tuple[float, float]] = deque(maxlen=64)

    def fix(self, time: float, speed: float) -> None:
        """time: when it was so [s]; speed [m/s]."""
        self._fixes.append((time, speed))

    def unclear(self, first: float, now: float) -> bool:
        """Slow by the last fix, and too soon after the run's first onset for it to mean anything: better wait."""
        if not self._fixes or now - first >= PATIENCE:
            return False
        time, speed = self._fixes[-1]
        return now - time <= FRESH and speed < SLOW

    def stands(self, first: float, now: float) -> bool:
        """Do the fixes of a run that has gone on since `first` [s] say that it is on the spot?"""
        told = [speed for time, speed in self._fixes if first + LAG <= time <= now]
        return len(told) >= TOLD and max(told) < SLOW and now - first < _patience(told)

    def stood(self, first: float, last: float) -> bool:
        """The same of a run that is over, from `first` to `last` onset [s]. However late they are, one of the fixes
        from its beginning to a little after its end must show a flight that was longer than they are late."""
        told = [(time, speed) for time, speed in self._fixes if first <= time <= last + AFTER]
        times = [first, *(time for time, _ in told), last + AFTER]
        whole = bool(told) and all(b - a <= HOLE for a, b in pairwise(times))
        speeds = [speed for _, speed in told]
        return whole and max(speeds) < SLOW and LAG <= last - first < _patience(speeds)


def _patience(speeds: list[float]) -> float:
    """How long a run [s] may be that these are held against."""
    return FROZEN if min(speeds) == max(speeds) else STUBBORN
