"""Which fixes are heard, and when they came: a receiver has its own lateness, and a clock that may be set back."""

from __future__ import annotations

import math

from .events import Event, Place, Row, SpeedFix
from .late import CLOCK_JUMP, NEXT

OLDEST_FIX, WORST_FIX = 2.0, 1.0
"""A fix older than this [s], or with a stated accuracy worse than this [m/s], is not believed."""


class Fixes:
    """`take` each row. State is bounded."""

    def __init__(self) -> None:
        self._at = -math.inf  # when the last one arrived that was heard [s]
        self._astray = (math.nan, math.nan)  # when one far ahead arrived, the last row before it

    def take(self, row: Row, shift: float, last: float, now: float) -> Event | None:
        """A speed that is believed, else a place, else None. shift: own time less the sensor's; last: when the newest
        sample was taken, NaN before the first; now: nothing is told as known before it [s]."""
        _, arrived, fixed, speed, lat, lon, accuracy, heading = row
        believed = speed >= 0.0 and not accuracy > WORST_FIX  # False for NaN
        placed = lat - lat == 0.0 and lon - lon == 0.0
        if arrived - fixed > OLDEST_FIX or not (believed or placed):
            return None
        arrived, fixed = arrived + shift, fixed + shift
        if not (math.isfinite(fixed) and math.isfinite(arrived)) or not self._in_reach(arrived, last):
            return None
        self._at = arrived
        known = max(arrived, now) if last == last else arrived
        if arrived < last - NEXT:  # its clock was set back: it has come now, and is as old as it says
            fixed = min(fixed + known - arrived, known)
        if not believed:
            return Place(fixed, known, lat, lon)
        return SpeedFix(fixed, known, speed, _known(lat), _known(lon), _known(accuracy), _known(heading))

    def _in_reach(self, arrived: float, last: float) -> bool:
        """Whether a fix may have arrived at this time [s]: not far beyond all that has come, the accelerometer being
        silent or not, unless another one bears it out, and no sample meanwhile says that its clock is off."""
        if not arrived > max(last, self._at) + CLOCK_JUMP:  # nor before the first sample
            return True
        before, since = self._astray
        self._astray = (arrived, last)
        return since == last and before < arrived <= before + CLOCK_JUMP


def _known(value: float) -> float | None:
    return value if value - value == 0.0 else None
