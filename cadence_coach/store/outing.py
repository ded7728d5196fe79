"""One outing in memory: the plain value that a file is read into and that every figure is computed from."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import attrs
import numpy as np

from cadence_coach.core import events as ev
from cadence_coach.store.chunks import Rows


@attrs.frozen
class Note:
    """A note by the rider or a coach on the outing (`at_s` None) or a moment [s]; `when_utc` in ISO 8601."""

    uuid: str
    who: str
    when_utc: str
    at_s: float | None
    text: str


FITTED = "fitted"
"""`meta["click_clock"]` of a training whose clicks share no clock with its movements: they lie where they fit best."""


@attrs.frozen
class Command:
    """What the engine was told from outside, between two raw rows: `after_rows` rows had been received,
    at `time` [s]."""

    after_rows: int
    time: float | None
    name: str
    given: dict[str, Any]


@attrs.frozen(eq=False)
class Outing:
    """Times in s from the start of the outing; arrays are float64, one row a sample.

    accel [n, 4]: t_s, specific force in m/s2. gyro [n, 4] in rad/s or None. fixes [n, 8]: arrived, fixed, speed, lat,
    lon, accuracy, heading with NaN for what is not known, plus `used` (0 or 1). kinds [rows] uint8: the order in which
    the rows of all kinds arrived; None when the samples did not come from a file with that order.
    """

    uuid: str
    start_utc: str | None
    meta: dict[str, Any]
    profile: dict[str, Any] | None
    settings: dict[str, Any]
    accel: np.ndarray
    gyro: np.ndarray | None
    fixes: np.ndarray
    cycles: list[ev.CycleDone]
    attempts: list[ev.AttemptEnded]
    flights: list[ev.FlightEnded]
    flight_starts: list[ev.FlightStarted]
    cues: list[ev.Cue]
    held: list[ev.Held]
    clicks: list[ev.Click]
    summaries: list[ev.Summary]
    gaps: list[ev.Gap]
    faults: list[ev.Fault]
    notes: list[Note]
    tags: dict[str, str]
    kinds: np.ndarray | None = None
    commands: list[Command] = attrs.field(factory=list)

    def raw(self) -> Rows:
        """The raw rows in the order of arrival; by time (ties: fix, rotation, acceleration) where that is
        unknown."""
        gyro = np.empty((0, 4)) if self.gyro is None else self.gyro
        fixes = self.fixes[:, :7].reshape(-1, 7)
        kinds = self.kinds
        if kinds is None:
            times = np.concatenate([fixes[:, 0], gyro[:, 0], self.accel[:, 0]])
            order = np.array([ev.FIX, ev.GYRO, ev.ACCEL], dtype=np.uint8)
            each = np.repeat(order, [len(fixes), len(gyro), len(self.accel)])
            kinds = each[np.argsort(times, kind="stable")]
        return Rows(kinds, self.accel, gyro, fixes)

    def rows(self) -> Iterator[ev.Row]:
        """The raw rows one by one, as the engine took them."""
        return iter(self.raw().rows())
