"""How often may the coach correct? One correction loop, a ceiling that fades, and never more than half of the off-
band looks."""

from __future__ import annotations

from collections import deque

from .rules import (
    CEILING,
    CEILING_FLOOR,
    FADING_S,
    GAP_PUMPS,
    GAP_S,
    RELAPSE_PUMPS,
    SHARE_OF_LOOKS,
)
from .units import INFINITY

MINUTE = 60.0


class Pace:
    """`look` once a pump, `why_not` before a correction, `spoke` after one. Counts go on through the outing."""

    def __init__(self, level: str) -> None:
        self.level = level
        self._pumps = 0
        self._spoke_at = -INFINITY
        self._spoke_pump = -GAP_PUMPS
        self._times: deque[float] = deque(maxlen=max(CEILING.values()))
        self._in_band = 0.0  # collected since the last relapse [s]
        self._spell = 0  # pumps out of band without a break
        self._off_looks = 0
        self._spoken = 0

    def pump(self) -> None:
        self._pumps += 1

    def start(self) -> None:
        """A new flight: how many looks were off and answered counts for one flight."""
        self._off_looks = self._spoken = self._spell = 0

    def look(self, off: bool, period: float) -> None:
        """One look: `off` when there is something to correct. A look in band adds a period to the time in band."""
        if off:
            self._off_looks += 1
            self._spell += 1
            if self._spell >= RELAPSE_PUMPS:
                self._in_band = 0.0
        else:
            self._spell = 0
            self._in_band += period

    @property
    def ceiling(self) -> int:
        """Corrections a minute now."""
        whole = CEILING[self.level]
        return min(whole, max(CEILING_FLOOR, whole >> min(8, int(self._in_band / FADING_S))))

    def why_not(self, now: float) -> str:
        """What holds a correction back at this time, or ""."""
        if self._pumps - self._spoke_pump <= GAP_PUMPS:
            return f"within {GAP_PUMPS} pumps of the last correction"
        if now - self._spoke_at < GAP_S:
            return f"within {GAP_S:g} s of the last correction"
        if sum(now - t < MINUTE for t in self._times) >= self.ceiling:
            return f"the ceiling of {self.ceiling} a minute"
        if self._spoken + 1 > SHARE_OF_LOOKS * self._off_looks:
            return "half of the looks that were off are answered"
        return ""

    def spoke(self, now: float) -> None:
        self._spoke_at, self._spoke_pump = now, self._pumps
        self._times.append(now)
        self._spoken += 1
