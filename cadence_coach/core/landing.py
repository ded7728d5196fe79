"""A landing on the board, and the lull after it before the first push comes.

The coarse view of the detector (`cycles`) is still up from the landing when the first push comes a quarter of a second
later: the two would be one bounce. Here the fine view tells that there was a landing, and when it was over.
"""

from __future__ import annotations

import math

from .filters import stretch

HARD = 2.6
"""The fine view over this [g] is a landing;"""
SOFT, FREE, FREE_POINTS, FREE_WITHIN = 1.9, 0.3, 18, 32
"""... over the first [g] it is one if a leap was right before: the fine view under the second [g] at so many of so many
points (0.18 s). No running step flies for so long (some 0.15 s; common practice, no source); the rest are own values.
"""
LANDED, LULL = 0.35, 9
"""The first push follows within the first [s], after a fine view below the level for so many points: that is longer
than a pouch rings so (7 Hz: 70 ms)."""


class Landing:
    """`over` at each point of the fine view that is SOFT or more, and while it is `fresh`."""

    def __init__(self) -> None:
        self._at = -math.inf
        self._lull = 0

    @property
    def fresh(self) -> bool:
        return self._at > -math.inf

    def over(self, at: float, s: float, level: float, fine: list[float], n: int) -> bool:
        """Has the lull after a landing come? at [s]: where the fine view s [g] stands; fine: the ring with the last of
        n points."""
        if s >= HARD or (s >= SOFT and _leapt(fine, n)):
            self._at = at
        self._lull = self._lull + 1 if s < level else 0
        come = self.fresh and self._lull == LULL
        if come or at - self._at > LANDED:
            self._at = -math.inf
        return come


def _leapt(fine: list[float], n: int) -> bool:
    if fine[(n - FREE_WITHIN // 2) % len(fine)] >= FREE:  # in the midst of any leap: saves the sum in every pump
        return False
    return sum(v < FREE for v in stretch(fine, n - FREE_WITHIN, n)) >= FREE_POINTS
