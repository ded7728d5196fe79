"""What the phone's Java side hands over, as rows in time order. Pure: bytes in, rows out."""

from __future__ import annotations

import math
import struct
from collections import deque

import numpy as np

from cadence_coach.core.events import ACCEL, FIX, GYRO, Row
from cadence_coach.core.late import NEXT

NS = 1_000_000_000

SENSOR_RECORD = np.dtype([("stamp", "<i8"), ("arrived", "<i8"), ("xyz", "<f4", 3), ("kind", "<i4")])
FIX_RECORD = np.dtype(
    [
        ("arrived", "<i8"),
        ("fixed", "<i8"),
        ("lat", "<f8"),
        ("lon", "<f8"),
        ("speed", "<f4"),
        ("speed_accuracy", "<f4"),
        ("heading", "<f4"),
        ("place_accuracy", "<f4"),
    ]
)
BUTTON_RECORD = np.dtype([("down", "<i8"), ("key", "<i8")])

HOLD_S = 0.03
"""How long acceleration waits, from when it came, for the rotation of the same moment, which may come in the next block
[s]. Not by its stamps: of a burst the first is older than this when it comes."""
QUIET_S = 2.0
"""A sensor without an event for so long is waited for no more [s]."""

EARLY = 64
"""So many records are kept while none is known to be the first."""


def unpack(blob: bytes, record: np.dtype) -> tuple[int, np.ndarray]:
    """A drained ring: how many records it has dropped since the start, and the records that waited in it."""
    return struct.unpack_from("<q", blob)[0], np.frombuffer(blob, record, offset=8)


def from_the_first(records: np.ndarray) -> tuple[int | None, np.ndarray]:
    """Stamp of the first acceleration that another follows within late.NEXT, for a first stamp may be an old one; and
    the records from there on. None, and what may turn out to be the begin, where there is none yet."""
    at = np.flatnonzero(records["kind"] == 0)
    steps = np.diff(records["stamp"][at])
    begins = at[:-1][(steps > 0) & (steps <= NEXT * NS)]
    if not len(begins):
        return None, records[at[-1] :][:EARLY] if len(at) else records[:0]
    first = int(records["stamp"][begins[0]])
    beside = (records["kind"] != 0) & (np.abs(records["stamp"] - first - NS // 2) <= NS // 2)
    kept = np.arange(len(records)) >= begins[0]
    return first, records[np.where(kept, records["stamp"] >= first, beside)]


class RowMerger:
    """Three streams into one: rows leave in time order, each stream in its own order, ties fix, rotation, acceleration.

    A stream whose stamps go back keeps its order, so that the engine sees the fault. Nothing leaves before its time is
    past for every stream that still runs, or the wait is over.
    """

    def __init__(self, rotation: bool) -> None:
        self._waiting: dict[int, deque[Row]] = {FIX: deque(), GYRO: deque(), ACCEL: deque()}
        self._newest: dict[int, float] = {GYRO: -HOLD_S} if rotation else {}
        self._came: deque[tuple[float, float]] = deque()  # at each look of the last HOLD_S: when, the newest stamp
        self._waited = -math.inf  # so far acceleration has waited long enough

    def add(self, rows: list[Row]) -> None:
        """Rows of any kinds, each kind in its own order."""
        for row in rows:
            self._waiting[int(row[0])].append(row)
            self._newest[int(row[0])] = row[1]

    def take(self, now: float) -> list[Row]:
        """Rows whose turn has come at sensor time `now` [s]."""
        return self._until(self._horizon(now))

    def rest(self) -> list[Row]:
        """All that waits, in order."""
        return self._until(float("inf"))

    def _horizon(self, now: float) -> float:
        """Up to here every stream has spoken, or is late by more than it is waited for."""
        spoken = [t for kind, t in self._newest.items() if kind != FIX and now - t < QUIET_S]
        if not spoken:
            return now
        self._came.append((now, max(spoken)))
        while abs(now - self._came[0][0]) >= HOLD_S:  # in the future: before the sensor's clock was set back
            self._waited = self._came.popleft()[1]
        return max(min(spoken), self._waited, now - QUIET_S)

    def _until(self, horizon: float) -> list[Row]:
        out: list[Row] = []
        queues = [q for q in (self._waiting[FIX], self._waiting[GYRO], self._waiting[ACCEL]) if q]
        while queues:
            first = min(queues, key=lambda q: q[0][1])  # the first of equals: the order above
            if first[0][1] > horizon:
                break
            out.append(first.popleft())
            if not first:
                queues.remove(first)
        return out
