"""The vertical specific force of a stretch of an outing, looked at afterwards.

The live coach may only look back; a review may look both ways, so the mean specific force, which over whole pumps is 1
g straight up, is taken around each sample and not behind it. Where there is a gyroscope the samples are first turned
into one common frame, so that a pitching torso does not leak fore-aft force into "up". The accelerometer is not
normalised before the mean: under 0.2-1.8 g that would pull "up" towards the pushes.
"""

from __future__ import annotations

import numpy as np

from cadence_coach.core.units import G
from cadence_coach.store.outing import Outing

WINDOW_S = 3.0
"""Width of the mean around each sample: four to five pumps."""


def vertical(outing: Outing, start: float, end: float) -> tuple[np.ndarray, np.ndarray]:
    """Times [s] and vertical specific force [g] of the good samples in [start, end], two arrays of one length.

    The mean reaches WINDOW_S / 2 beyond both edges where the outing has samples there.
    """
    t, up, accel = _turned(outing, start - WINDOW_S, end + WINDOW_S)
    inside = (t >= start) & (t <= end)
    return t[inside], np.einsum("ij,ij->i", up, accel)[inside] / G


def up_axes(outing: Outing, start: float, end: float) -> tuple[np.ndarray, np.ndarray]:
    """Times and the direction of "up" in the sensor's own axes (unit vectors [n, 3]) in [start, end]."""
    t, accel = _samples(outing, start - WINDOW_S, end + WINDOW_S)
    inside = (t >= start) & (t <= end)
    return t[inside], _unit(_moving_mean(t, accel)[inside])


def _samples(outing: Outing, start: float, end: float) -> tuple[np.ndarray, np.ndarray]:
    first, last = np.searchsorted(outing.accel[:, 0], [start, end])
    part = outing.accel[first : last + 1]
    part = part[np.isfinite(part).all(axis=1)]
    forward = (
        np.concatenate([[True], np.diff(np.maximum.accumulate(part[:, 0])) > 0.0]) if len(part) else np.zeros(0, bool)
    )
    return part[forward, 0], part[forward, 1:4]


def _turned(outing: Outing, start: float, end: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Times, direction of up and specific force, both in one common frame; shapes [n], [n, 3], [n, 3]."""
    t, accel = _samples(outing, start, end)
    if len(t) < 2:
        return t, np.zeros((len(t), 3)), accel
    if outing.gyro is not None and len(outing.gyro) > 1:
        rate = np.column_stack([np.interp(t, outing.gyro[:, 0], outing.gyro[:, i]) for i in (1, 2, 3)])
        accel = _rotate(_attitudes(t, np.nan_to_num(rate)), accel)
    return t, _unit(_moving_mean(t, accel)), accel


def _moving_mean(t: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Mean over WINDOW_S around each time, by the trapezium so that uneven stamps do not weigh; shape of `values`."""
    if len(t) < 2:
        return values
    step = np.diff(t)[:, None]
    total = np.concatenate([np.zeros((1, 3)), np.cumsum(step * (values[1:] + values[:-1]) / 2.0, axis=0)])
    left, right = np.clip(t - WINDOW_S / 2.0, t[0], t[-1]), np.clip(t + WINDOW_S / 2.0, t[0], t[-1])
    sums = [np.interp(right, t, total[:, i]) - np.interp(left, t, total[:, i]) for i in range(3)]
    return np.column_stack(sums) / (right - left)[:, None]


def _unit(vectors: np.ndarray) -> np.ndarray:
    length = np.linalg.norm(vectors, axis=-1, keepdims=True)
    return vectors / np.where(length > 0.0, length, 1.0)


def _attitudes(t: np.ndarray, rate: np.ndarray) -> np.ndarray:
    """Unit quaternions [n, 4] from the sensor's axes at each time to those at the first: the running product of the
    small turns, by doubling (log2 n passes over whole arrays instead of n steps)."""
    turn = np.concatenate([np.zeros((1, 3)), (rate[1:] + rate[:-1]) / 2.0 * np.diff(t)[:, None]])
    angle = np.linalg.norm(turn, axis=1, keepdims=True)
    q = np.concatenate([np.cos(angle / 2.0), np.sinc(angle / (2.0 * np.pi)) / 2.0 * turn], axis=1)
    shift = 1
    while shift < len(q):
        q = np.concatenate([q[:shift], _times(q[:-shift], q[shift:])])
        shift *= 2
    return q / np.linalg.norm(q, axis=1, keepdims=True)


def _times(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Hamilton product of quaternions [n, 4], scalar first."""
    scalar = a[:, :1] * b[:, :1] - np.sum(a[:, 1:] * b[:, 1:], axis=1, keepdims=True)
    return np.concatenate([scalar, a[:, :1] * b[:, 1:] + b[:, :1] * a[:, 1:] + np.cross(a[:, 1:], b[:, 1:])], axis=1)


def _rotate(q: np.ndarray, v: np.ndarray) -> np.ndarray:
    cross = 2.0 * np.cross(q[:, 1:], v)
    return v + q[:, :1] * cross + np.cross(q[:, 1:], cross)
