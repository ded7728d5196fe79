"""Rows on their way into the engine: on the file's grid of times, and in short pieces."""

from __future__ import annotations

import math
import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import chain, pairwise, takewhile

from cadence_coach.core import events as ev
from cadence_coach.store.chunks import FARTHEST_S, to_grid

STEP_S = 0.05
"""Rows go to the engine in pieces of at most this much sensor time; a source that has `poll` is asked so often."""
SOON_S = 0.02
"""... and this long after a deadline, when its rows should be there: a click that is decided on late is none. Never
sooner after the last time, either."""


class VirtualClock:
    """The sensor's time as a clock, for a sink that must go as fast as the source."""

    def __init__(self) -> None:
        self.t = 0.0

    def __call__(self) -> float:
        return self.t


def on_grid(rows: Sequence[ev.Row]) -> Sequence[ev.Row]:
    """The rows with their times as the outing file will give them back."""
    for row in rows:
        t = row[1]
        # as to_grid has it: a call for each row would take twice as long, and nearly all are on the grid
        if row[0] == ev.FIX or not -FARTHEST_S < t < FARTHEST_S or round(t * 1e9) / 1e9 != t:
            return [_row_on_grid(r) for r in rows]
    return rows


def _row_on_grid(row: ev.Row) -> ev.Row:
    at = to_grid(row[1])
    return (row[0], at, to_grid(row[2]), *row[3:]) if row[0] == ev.FIX else (row[0], at, *row[2:])


def last_time(rows: Sequence[ev.Row]) -> float:
    return max((row[1] for row in rows if row[1] == row[1]), default=0.0)


def first_time(rows: Sequence[ev.Row]) -> float:
    return next((row[1] for row in rows if row[1] == row[1]), -math.inf)


def pieces(rows: Sequence[ev.Row]) -> Iterator[Sequence[ev.Row]]:
    """Rows cut where STEP_S of time has passed since the piece's first one."""
    if rows and abs(rows[-1][1] - rows[0][1]) < STEP_S:  # a device's list: in order, but for what is reported anyway
        yield rows
        return
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


def ask_at(asked: float, due: float) -> float:
    """When a source is asked that was asked last at `asked`, with a deadline at `due`; all by one clock [s]."""
    return min(asked + STEP_S, max(asked, due) + SOON_S)


def paced(
    lists: Iterable[Sequence[ev.Row]], began: float | None, clock: Callable[[], float], over: threading.Event
) -> Iterator[Sequence[ev.Row]]:
    """The lists as they come; those of a recording (began: when its time 0 is, by the clock [s]) in pieces, each at the
    time it happened, but no later than the next one bears out: a stamp astray is waited for by nobody. Ends when it is
    over."""
    if began is None:
        yield from takewhile(lambda _: not over.is_set(), lists)
        return
    for piece, after in pairwise(chain((piece for rows in lists for piece in pieces(rows)), [()])):
        wait = began + min(last_time(piece), first_time(after)) - clock()
        if over.wait(wait) if wait > 0 else over.is_set():
            return
        yield piece
