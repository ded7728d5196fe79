"""The samples of an outing in the time of its events.

A file keeps each row with the stamp it came with. Where the sensor's clock was set back, the engine's own time, which
all events are in, goes on; a stamp astray is none there. Whoever looks up samples by the time of an event does it here.
"""

from __future__ import annotations

import math
from collections.abc import Collection

import attrs
import numpy as np

from cadence_coach.core.events import ACCEL, FIX, GYRO
from cadence_coach.core.late import CLOCK_JUMP, NEXT
from cadence_coach.store.outing import Outing

SAME = 1e-6
"""Two times [s] are one, but for rounding."""


def in_own_time(outing: Outing) -> Outing:
    """The outing with accel and gyro in own time, without rows that are out of it, and all its fixes in own time; the
    same outing where nothing is to be done. The order of arrival is lost: what goes through the engine again is not
    this."""
    t, kinds = outing.accel[:, 0], outing.kinds
    if kinds is None or len(t) < 2 or _goes_on(t).all():
        return outing
    shift, forward = _shifts(outing)
    own = np.where(forward, t + shift, -np.inf)
    reached = np.maximum.accumulate(own)
    at = np.flatnonzero(kinds == ACCEL)

    def moved(times: np.ndarray, kind: int) -> np.ndarray:
        """Of another sensor, whose clock is the same: by the shift before or behind, whichever puts it beside."""
        after = np.searchsorted(at, np.flatnonzero(kinds == kind))
        before = np.maximum(after - 1, 0)
        one, other = times + shift[before], times + shift[np.minimum(after, len(t) - 1)]
        return np.where(np.abs(one - reached[before]) <= np.abs(other - reached[before]), one, other)

    gyro, fixes = outing.gyro, outing.fixes.copy()
    if gyro is not None:
        turned = moved(gyro[:, 0], GYRO)
        gyro = np.column_stack([turned, gyro[:, 1:]])[_forward(turned)]
    if len(fixes):
        arrived = moved(fixes[:, 0], FIX)
        last = reached[np.maximum(np.searchsorted(at, np.flatnonzero(kinds == FIX)) - 1, 0)]
        arrived = np.where(arrived < last - NEXT, last, arrived)  # as the engine takes it
        fixes[:, 1] += arrived - fixes[:, 0]
        fixes[:, 0] = arrived
    accel = np.column_stack([own, outing.accel[:, 1:]])[forward]
    return attrs.evolve(outing, accel=accel, gyro=gyro, fixes=fixes, kinds=None)


def with_believed(outing: Outing, times: Collection[float]) -> Outing:
    """With a mark on the fixes whose speed was believed: those of these times, which are own."""
    own = in_own_time(outing)
    fixes = outing.fixes.copy()
    fixes[:, 7] = [float(t in times) for t in fixes[:, 1].tolist()]
    if own is not outing and len(times):
        there = np.sort(np.fromiter(times, float, len(times)))
        at = np.searchsorted(there, own.fixes[:, 1] - SAME)
        near = there[np.minimum(at, len(there) - 1)]
        fixes[np.abs(near - own.fixes[:, 1]) <= SAME, 7] = 1.0
    return attrs.evolve(outing, fixes=fixes)


def _goes_on(t: np.ndarray) -> np.ndarray:
    step = np.diff(t)
    return (step > 0.0) & (step <= NEXT)


def _borne_out(t: np.ndarray) -> np.ndarray:
    """Rows that follow another or are followed."""
    near = _goes_on(t)
    return np.concatenate([near, [False]]) | np.concatenate([[False], near])


def _forward(t: np.ndarray) -> np.ndarray:
    """Rows that are later than all before; one far ahead, or the first, if another bears it out, as for the engine."""
    taken = np.zeros(len(t), bool)
    last = -math.inf
    astray: tuple[tuple[float, int], ...] = ()
    for i, (at, there) in enumerate(zip(t.tolist(), np.isfinite(t).tolist(), strict=True)):
        if not there or at <= last:
            continue
        near = [(was, b) for was, b in astray if 0.0 < at - was <= NEXT or was < at <= last + CLOCK_JUMP]
        if at <= last + NEXT or near:
            taken[i] = True
            if at > last + NEXT:
                taken[max(near)[1]] = True
            last, astray = at, ()
        elif all(at != was for was, _ in astray):
            astray = ((at, i), *astray[:1])
    return taken


def _shifts(outing: Outing) -> tuple[np.ndarray, np.ndarray]:
    """Own time less the stamp [s] of each acceleration, and which of them are in own time. A clock that was set back is
    told with the own time of the row that bore it out."""
    t = outing.accel[:, 0]
    good, shift, begin = _borne_out(t), np.zeros(len(t)), 0
    ahead = {gap.known for gap in outing.gaps}
    for fault in outing.faults:
        if fault.kind != "clock_jump" or fault.known in ahead:
            continue
        rows = begin + np.flatnonzero(good[begin:])
        own = t[rows] + shift[rows]
        steps_back = np.flatnonzero((np.diff(own) < 0.0) & (own[:-1] < fault.time))
        if not len(steps_back):
            continue
        last = steps_back[np.argmax(own[steps_back])]  # the nearest to that time
        begin = int(rows[last + 1])
        first_is_lost = own[last] - own[last + 1] > CLOCK_JUMP and last + 2 < len(rows)
        shift[begin:] = fault.time - t[rows[last + 1 + first_is_lost]]
    return shift, _forward(t + shift)
