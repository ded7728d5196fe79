"""Late rows: were they late, or was the clock set back?

A logger that writes its buffer twice, or a second source whose blocks come behind, has rows that are late for as long
as such a block. Where they go on for longer it is the clock that was set back, and none of them is lost.
"""

from __future__ import annotations

from .events import ACCEL, Row

NEXT = 1.0
"""A row further than this [s] from the last is believed once another follows it, and so is the first: one wild stamp
moves nothing. Across such a gap nothing is joined: the detector forgets the signal."""
CLOCK_JUMP = 60.0
"""A step back by more than this [s] is a jump of the sensor's clock; less is a late row, unless such rows go on
(`Late`)."""

MOST = 4096
"""So many rows wait at most: a second of two sensors at 2 kHz."""

Skipped = list[tuple[str, float]]
"""(fault kind, time)"""


class Late:
    """`add` late acceleration, `turned` the rotation between; `borne_out` or `settle` empties it. Times are own."""

    def __init__(self) -> None:
        self._rows: list[Row] = []
        self._last = 0.0

    def __bool__(self) -> bool:
        return bool(self._rows)

    def add(self, row: Row) -> Skipped:
        """One that does not follow those that wait says that they were late."""
        t, skipped = row[1], []
        if self and t == self._last:
            return [("repeated_time", t)]
        if self and not self._last < t <= self._last + NEXT:
            skipped = self.settle()
        self._rows.append(row)
        self._last = t
        return skipped

    def turned(self, row: Row) -> bool:
        """Does it wait with them?"""
        waits = 0 < len(self._rows) < MOST
        if waits:
            self._rows.append(row)
        return waits

    def borne_out(self) -> list[Row]:
        """All that wait, once they have gone on for NEXT."""
        rows = self._rows
        if not rows or (self._last - rows[0][1] < NEXT and len(rows) < MOST):
            return []
        self._rows = []
        return rows

    def settle(self) -> Skipped:
        """They were late."""
        rows, self._rows = self._rows, []
        return [("backward_time" if kind == ACCEL else "late_rotation", t) for kind, t, *_ in rows]
