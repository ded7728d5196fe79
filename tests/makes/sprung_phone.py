"""What a phone in a pouch makes of a body in `sprung`: where it is worn, how the pouch gives, what rows it writes."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.ndimage import gaussian_filter1d
from scipy.signal import butter, lfilter, sosfilt, sosfiltfilt
from scipy.spatial.transform import Rotation

from cadence_coach.core.units import G

from .drawn_motion import PI, Array
from .sprung_body import band, rad
from .sprung_legs import FS

WORN = {"chest": (0.12, 0.32), "hip": (0.05, 0.05), "back": (-0.10, 0.30), "arm": (0.10, 0.22)}
"""[m] before and above the axis that the trunk nods about."""
FASTEST = 34.9
"""[rad/s] that the gyroscope can tell."""
Gaps = list[tuple[float, float]]
"""Begins and ends [s] of stretches without rows."""


def recorded(
    r: np.random.Generator, c: dict[str, Array], flights: list[dict[str, Any]], rough: bool
) -> tuple[Array, Array | None, Array | None]:
    """accel, gyro, fixes as `SimulatedOuting` has them, of a body's columns; rough: chop and a bad phone."""
    u = r.uniform
    force, turning = felt(r, c, rough)
    sensor = Sensor(r, len(force), rough)
    accel, gaps = _accel(r, sensor, force, rough)
    gyro = None
    if r.random() < 0.5:
        scale = 1 + r.normal(0, 0.006, 3)
        gyro = sensor.rows(turning, scale, u(0, 0.012), rad(u(0.05, 0.5)), 0.0002, rad(r.normal(0, 0.6, 3)))
        gyro = gyro[_outside(gyro[:, 0], gaps)]
        gyro[:, 1:] = np.clip(gyro[:, 1:], -FASTEST, FASTEST)
    return accel, gyro, _fixes(r, c, flights) if r.random() < 0.75 else None


def felt(r: np.random.Generator, c: dict[str, Array], rough: bool) -> tuple[Array, Array]:
    """Specific force [m/s2] and turn rate [rad/s] in the phone's axes, [n, 3] each at FS."""
    u, count = r.uniform, len(c["n"])
    place = str(r.choice(tuple(WORN)))
    before, above = WORN[place]
    pitch, roll = gaussian_filter1d(c["pitch"], 0.025 * FS), gaussian_filter1d(c["roll"], 0.025 * FS)
    # the part that carries the phone swings with the force: the trunk nods, an arm more
    swing = rad(u(4, 11) if place == "arm" else u(0.5, 2.5))
    swung = swing * np.clip(gaussian_filter1d(c["n"], 0.09 * FS) - 1, -1, 2)
    pitch = pitch + np.roll(swung, int(u(0.02, 0.09) * FS))
    rate = np.gradient(pitch) * FS
    gain = np.gradient(np.gradient(gaussian_filter1d(pitch, 0.012 * FS))) * FS * FS
    fore = c["fore"] + 5 * np.tanh(gain * above / 5) - rate * rate * before
    up = c["n"] * G - 2.5 * np.tanh(gain * before / 2.5) - 3 * np.tanh(rate * rate * above / 3)
    force = np.stack([fore, c["side"], up], 1)
    rattle = sosfilt(butter(2, [12, 60], "bandpass", fs=FS, output="sos"), r.normal(size=(count, 3)), axis=0) * 2.0
    force = force + rattle * gaussian_filter1d(c["buzz"], 2)[:, None] * G * u(0.5, 1.3)
    if rough:
        force = force + _shaking(r, count, 1.0) * u(0.15, 0.45)
    force = force + _shaking(r, count, 0.8) * G * u(0.004, 0.018)  # cloth, flesh, breath
    force = Rotation.from_euler("ZYX", np.stack([np.zeros(count), pitch, roll], 1)).apply(force, inverse=True)
    _give(r, force)
    lies = _lies(r)
    body = Rotation.from_euler("ZYX", np.stack([np.cumsum(c["yaw"]) / FS, pitch, roll], 1))
    turning = (body[:-1].inv() * body[1:]).as_rotvec() * FS
    turning = np.vstack([turning, turning[-1:]]) + rattle[:, ::-1] * c["buzz"][:, None] * 1.5
    return lies.apply(force, inverse=True), lies.apply(turning, inverse=True)


def _shaking(r: np.random.Generator, count: int, low: float) -> Array:
    """Noise from low to 6 Hz on three axes, SD 1."""
    return np.stack([band(r, count, low, 6) for _ in range(3)], 1)


def _give(r: np.random.Generator, force: Array) -> None:
    """The pouch on a spring and a damper, in place; flesh can overdo it."""
    u = r.uniform
    w, damping = 2 * PI * u(7, 18), u(0.18, 0.6)
    much = u(0.5, 1.5) * np.array([u(0.6, 1.2), u(0.6, 1.2), 1.0])
    k = 2 * FS
    den = np.array([k * k + 2 * damping * w * k + w * w, 2 * w * w - 2 * k * k, k * k - 2 * damping * w * k + w * w])
    num = np.array([2 * damping * w * k + w * w, 2 * w * w, w * w - 2 * damping * w * k])
    for axis in range(3):
        x = force[:, axis]
        swung = lfilter(num / den[0], den / den[0], x - x[0]) + x[0]
        force[:, axis] = x + much[axis] * (swung - x)


def _lies(r: np.random.Generator) -> Rotation:
    """Any way round, or as a pouch is sewn: nearly upright, one of four ways."""
    if r.random() < 0.6:
        return Rotation.from_quat(r.normal(size=4))
    ways = [r.choice([0, 90, 180, 270]) + r.uniform(-12, 12), r.uniform(-20, 20), 90 + r.uniform(-15, 15)]
    return Rotation.from_euler("ZYX", ways, degrees=True)


class Sensor:
    """How rows are taken of what lies in `count` samples at FS, and stamped."""

    def __init__(self, r: np.random.Generator, count: int, rough: bool) -> None:
        self.r, self.t = r, np.arange(count) / FS
        nominal = float(r.choice([50, 100, 200], p=[0.3, 0.45, 0.25]))
        self.rate = nominal * (1 + r.normal(0, 0.004)) if r.random() < 0.8 else nominal * r.uniform(0.96, 1.05)
        """[Hz]"""
        self.filters = bool(r.random() < 0.7)
        self.jitter = r.uniform(0, 0.003) if r.random() < 0.6 or rough else r.uniform(0, 0.0005)
        """[s] at most."""

    @property
    def minutes(self) -> float:
        return self.t[-1] / 60

    def rows(self, true: Array, scale: Array, begins: float, noise: float, step: float, bias: Array) -> Array:
        """[n, 4], stamps [s] first, from begins [s] on; values a multiple of step. Stamps never go back."""
        r = self.r
        if self.filters:
            low = butter(1, min(0.42 * self.rate, 170), fs=FS, output="sos")
            true = sosfiltfilt(low, true, axis=0)
        true = true * scale
        times = np.arange(begins, self.t[-1], 1 / self.rate)
        if r.random() < 0.4:  # the sensor's clock wanders
            times = times + 0.15 / self.rate * np.sin(2 * PI * times / r.uniform(3, 60))
        there = np.stack([np.interp(times, self.t, column) for column in true.T], 1)
        there = there + r.normal(0, noise, there.shape) + bias
        stamps = times + np.clip(r.normal(0, self.jitter / 2, len(times)), -self.jitter, self.jitter)
        stamps = np.maximum.accumulate(stamps)
        late = np.flatnonzero(np.diff(stamps) <= 0) + 1
        stamps[late] = stamps[late - 1] + 5e-5
        return np.column_stack([np.maximum.accumulate(stamps), np.round(there / step) * step])


def _outside(times: Array, gaps: Gaps) -> Array:
    keep = np.ones(len(times), bool)
    for begins, ends in gaps:
        keep &= ~((times > begins) & (times < ends))
    return keep


def _accel(r: np.random.Generator, sensor: Sensor, force: Array, rough: bool) -> tuple[Array, Gaps]:
    """With spikes, gaps and rows that come twice: the same again, or another at the same time."""
    u = r.uniform
    noise = u(0.01, 0.05) * G * (1.6 if rough else 1) * 0.7
    scale, begins, step = 1 + r.normal(0, 0.004, 3), u(0, 0.01), r.choice([0.0012, 0.0024, 0.0048])
    rows = sensor.rows(force, scale, begins, noise, step, r.normal(0, 0.07, 3))
    most = r.choice([8 * G, 8 * G, 16 * G, 4 * G], p=[0.4, 0.3, 0.2, 0.1])
    values = rows[:, 1:]
    np.clip(values, -most, most, out=values)
    gaps: Gaps = []
    for _ in range(r.poisson(sensor.minutes * (1.6 if rough else 0.35))):
        begins = u(1, sensor.t[-1] - 1)
        gaps.append((begins, begins + u(0.03, 0.35)))
    for _ in range(r.poisson(sensor.minutes * (2 if rough else 0.3))):
        row, axis = r.integers(len(rows)), r.integers(3) if r.random() < 0.6 else slice(None)
        values[row, axis] += r.choice([-1, 1]) * u(2, 6) * G
    np.clip(values, -most, most, out=values)
    rows = rows[_outside(rows[:, 0], gaps)]
    if r.random() < 0.5 or rough:
        twice = np.sort(r.choice(len(rows) - 2, r.poisson(sensor.minutes * 2), replace=False) + 1)
        again = rows[twice]
        again[::2, 1:] += r.normal(0, noise, again[::2, 1:].shape)
        rows = np.insert(rows, twice + 1, again, axis=0)
    return rows, gaps


def _fixes(r: np.random.Generator, c: dict[str, Array], flights: list[dict[str, Any]]) -> Array:
    """Speed each second, late; hardly any in the water, none for a while after it, nor in a flight's first seconds,
    or all of it."""
    u, t = r.uniform, np.arange(len(c["speed"])) / FS
    lag, slow = u(0.2, 1.2), u(0.2, 0.9)
    smooth = lfilter([1 / (slow * FS)], [1, -(1 - 1 / (slow * FS))], c["speed"])
    times = np.arange(u(0.1, 1.5), t[-1], 1.0)
    times = times + r.normal(0, 0.01, len(times))
    wrong = lfilter([0.5], [1, -0.7], r.normal(0, u(0.08, 0.35), len(times)))
    told = np.interp(times - lag, t, smooth) + wrong
    told = told + u(-0.4, 0.4) * (np.interp(times, t, c["speed"]) > 2.5)
    keep = r.random(len(times)) > u(0, 0.08)
    keep &= r.random(len(times)) > np.interp(times, t, c["wet"]) * 0.9
    for dry in np.flatnonzero((c["wet"][1:] < 0.5) & (c["wet"][:-1] >= 0.5)) / FS:
        keep &= ~((times > dry) & (times < dry + u(0, 6)))
    for f in flights:
        begins, whole = f["start_s"], r.random() < 0.3
        keep &= ~((times > begins - 3) & (times < (f["end_s"] if whole else begins + u(5, 15))))
    fixes = np.full((len(times), 6), np.nan)
    fixes[:, 0], fixes[:, 1] = times, np.round(np.maximum(told, 0), 2)
    return fixes[keep]
