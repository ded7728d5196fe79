"""Rows on their way into the engine: on the file's grid of times, and in short pieces."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from cadence_coach.core import events as ev
from cadence_coach.store.chunks import to_grid

STEP_S = 0.05
"""Rows go to the engine in pieces of at most this much sensor time."""


class VirtualClock:
    """The sensor's time as a clock, for a sink that must go as fast as the source."""

    def __init__(self) -> None:
        self.t = 0.0

    def __call__(self) -> float:
        return self.t


def on_grid(rows: Sequence[ev.Row]) -> list[ev.Row]:
    """The rows with their times as the outing file will give them back."""
    out = []
    for row in rows:
        t = row[1]
        at = to_grid(t)
        if row[0] == ev.FIX:
            row = (row[0], at, to_grid(row[2]), *row[3:])
        elif at != t:
            row = (row[0], at, *row[2:])
        out.append(row)  # nearly all are: a sensor's stamps are whole nanoseconds
    return out


def last_time(rows: Sequence[ev.Row]) -> float:
    return max((row[1] for row in rows if row[1] == row[1]), default=0.0)


def pieces(rows: Sequence[ev.Row]) -> Iterator[Sequence[ev.Row]]:
    """Rows cut where STEP_S of time has passed since the piece's first one."""
    start, first = 0, None
    for at, row in enumerate(rows):
        t = row[1]
        if first is None or not abs(t - first) < STEP_S:
            if at > start:
                yield rows[start:at]
                start = at
            first = t if t == t else first
    if start < len(rows):
        yield rows[start:]
