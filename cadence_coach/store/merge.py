"""Two streams of rows as one in time order, a block at a time."""

from __future__ import annotations

from collections.abc import Iterator

from cadence_coach.core.events import Row
from cadence_coach.store.columns import BLOCK


class _Steady:
    """Time [s] of one stream with the clock's jumps back taken out: only for comparing it with another stream, so that
    a clock set back by an hour does not pull an hour of the one before the other."""

    NEAR = 1.0
    HOLE = 60.0
    """So long [s] one of two may have been without rows where their clock was set back."""

    def __init__(self) -> None:
        self.last = float("-inf")
        self.offset = self.before = 0.0
        self.jumped = False

    def __call__(self, t: float) -> float:
        u = t + self.offset
        if abs(u - self.last) <= self.NEAR:
            self.last = u
        elif abs(t + self.before - self.last) <= self.NEAR:  # a single row was astray: back to the old count
            self.offset, self.before = self.before, self.offset
            self.jumped = False
            self.last = u = t + self.offset
        elif u < self.last:
            self.before, self.offset = self.offset, self.last - t
            self.jumped = True
            u = self.last
        elif u > self.last:
            self.last = u
        return u

    def follow(self, other: _Steady, t: float) -> float:
        """Both have jumped: it was one clock. How long the jump took shows the acceleration best, which has no holes;
        gives back the time t [s] by that."""
        self.jumped = other.jumped = False
        if abs(other.offset - self.offset) <= self.HOLE:
            self.offset = other.offset
            self.last = t + self.offset
        return t + self.offset


def merged(first: Iterator[Row], blocks: Iterator[list[Row]]) -> Iterator[list[Row]]:
    """Two streams as one in time order, in lists; where times are equal `first` goes first.

    A row without a time goes out as soon as it is its turn and pulls nothing of the other stream with it.
    """
    ours, theirs = _Steady(), _Steady()
    head = next(first, None)
    due = ours(head[1]) if head else 0.0
    for block in blocks:
        out: list[Row] = []
        for row in block:
            t = theirs(row[1])
            if ours.jumped and theirs.jumped and head is not None:
                due = ours.follow(theirs, head[1])
            while head is not None and (due <= t or due != due):
                out.append(head)
                head = next(first, None)
                due = ours(head[1]) if head else 0.0
                if ours.jumped and theirs.jumped and head is not None:
                    due = ours.follow(theirs, head[1])
            out.append(row)
        yield out
    while head is not None:
        out = [head]
        for head in first:
            out.append(head)
            if len(out) == BLOCK:
                break
        yield out
        head = next(first, None)
