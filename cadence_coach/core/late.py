"""Late rows: were they late, or was the clock set back?

A second source whose blocks come behind has rows that are late for as long as such a block. Where they go on for longer
it is the clock that was set back, and none of them is lost: unless they have come before, stamp and value, as a logger
has it that writes its buffer twice.
"""

from __future__ import annotations

from collections.abc import Collection

from .events import ACCEL, Row

NEXT = 1.0
"""A row further than this [s] from the last is believed once another follows it, and so is the first: one wild stamp
moves nothing. Across such a gap nothing is joined: the detector forgets the signal."""
CLOCK_JUMP = 60.0
"""A step back by more than this [s] is a jump of the sensor's clock; less is a late row, unless such rows go on
(`Late`)."""

MOST = 4096
"""So many rows wait at most: a second of two sensors at 2 kHz."""

MARKS = 700
"""So many marks, one each tenth of a second, are over CLOCK_JUMP [s]."""
FEWEST = 3
"""So many marks tell that rows have come before."""

Skipped = list[tuple[str, float]]
"""(fault kind, time)"""


class Late:
    """`add` late acceleration, `turned` the rotation between; `borne_out` or `settle` empties it. Times are own. marks:
    time and first axis of some of the rows that were taken, as `front` keeps them."""

    def __init__(self, marks: Collection[tuple[float, float]] = ()) -> None:
        self._marks = marks
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
        if self._long_enough() and self._came_before():
            skipped += self.settle()
        return skipped

    def turned(self, row: Row) -> bool:
        """Does it wait with them?"""
        waits = 0 < len(self._rows) < MOST
        if waits:
            self._rows.append(row)
        return waits

    def borne_out(self) -> list[Row]:
        """All that wait, once they have gone on for NEXT."""
        if not self._long_enough():
            return []
        rows, self._rows = self._rows, []
        return rows

    def _long_enough(self) -> bool:
        rows = self._rows
        return bool(rows) and (self._last - rows[0][1] >= NEXT or len(rows) >= MOST)

    def _came_before(self) -> bool:
        """Are the rows taken that were marked in this time among them?"""
        first, late = self._rows[0][1], {row[1:3] for row in self._rows}
        there = [mark in late for mark in self._marks if first <= mark[0] <= self._last]
        return len(there) >= FEWEST and all(there)

    def settle(self) -> Skipped:
        """They were late."""
        rows, self._rows = self._rows, []
        return [("backward_time" if kind == ACCEL else "late_rotation", t) for kind, t, *_ in rows]
