"""The phone in outings of `strapped`: strapped over soft tissue that lags behind the body, and the rows it writes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.ndimage import gaussian_filter1d
from scipy.signal import lfilter

from .drawn_motion import PI, Array
from .strapped_rider import FS, GRAVITY, half_sine

RINGS, DAMPED = (7, 18), (0.18, 0.6)
"""[Hz] and ratio of phones on their tissue."""
STEP, RANGE = 0.0024, 78.4
"""[m/s2] of the accelerometer."""
LATEST = 0.02
"""[s] before the motion's end that the rows end."""


@dataclass(frozen=True)
class Motion:
    """Of the trunk, at FS."""

    over: Array
    """Vertical specific force above 1 g [g]; so fore and side, level, the way the rider faces."""
    fore: Array
    side: Array
    pitch: Array
    """[degrees], so roll and yaw."""
    roll: Array
    yaw: Array
    speed: Array
    """[m/s]"""
    wet: Array
    """0-1: how often a splash hits the pouch."""

    @property
    def seconds(self) -> float:
        return len(self.over) / FS


@dataclass(frozen=True)
class Recorder:
    """Which rows the phone writes."""

    rate: float
    """[Hz]"""
    rough: float
    """0-1."""
    gyro: bool
    fixes: bool

    def rows(
        self, r: np.random.Generator, motion: Motion, flights: list[dict[str, Any]]
    ) -> tuple[Array, Array | None, Array | None]:
        """accel, gyro, fixes as `SimulatedOuting` has them."""
        force, turning = borne(r, motion)
        force = strapped(r, force)
        lies = mount(r)
        force = lies @ force * GRAVITY
        _splash(r, force, motion.wet, self.rough)
        accel, times, told = self._accel(r, force)
        gyro = None
        if self.gyro:
            bias = r.normal(0, 0.01, 3)
            values = _sampled(r, lies @ gaussian_filter1d(turning, 4, axis=1), times, (np.ones(3), bias, 0.01))
            gyro = np.column_stack([accel[:, 0], values[told]])
        return accel, gyro, _fixes(r, motion, flights) if self.fixes else None

    def _accel(self, r: np.random.Generator, force: Array) -> tuple[Array, Array, Array]:
        """Rows; when [s] the sensors are read, and which of those times have a row."""
        times, stamps = self._clock(r, force.shape[1] / FS)
        if self.rate < 150:  # the chip's own limit: -3 dB at about 0.42 of the rate
            force = gaussian_filter1d(force, 0.13 / (0.42 * self.rate) * FS, axis=1)
        noise = r.uniform(0.02, 0.12) + 0.15 * self.rough * r.random()
        scale, bias = 1 + r.normal(0, 0.006, 3), r.normal(0, 0.06, 3)
        values = _sampled(r, force, times, (scale, bias, noise))
        values = np.clip(np.round(values / STEP) * STEP, -RANGE, RANGE)
        told = np.concatenate([[True], np.diff(stamps) > 1e-5])
        return np.column_stack([stamps, values])[told], times, told

    def _clock(self, r: np.random.Generator, seconds: float) -> tuple[Array, Array]:
        """When [s] the sensors are read, and what the stamps say; without gaps' rows."""
        u, rate = r.uniform, self.rate
        jitter = u(0, 0.003) if r.random() < 0.7 else u(0, 0.0004)
        even = np.arange(u(0, 0.02), seconds - LATEST, 1 / rate / (1 + r.normal(0, 0.002)))
        late = np.clip(r.normal(0, jitter, len(even)), -0.4 / rate, 0.4 / rate)
        times = np.maximum(even + late, 0)
        wrong = np.clip(r.normal(0, 0.25 * jitter + 1e-5, len(even)), -0.09 / rate, 0.09 / rate)
        stamps = times + wrong
        stamps -= min(0, stamps[0])
        stamps = np.maximum.accumulate(stamps)
        keep = self._kept(r, times, seconds)
        return times[keep], stamps[keep]

    def _kept(self, r: np.random.Generator, times: Array, seconds: float) -> Array:
        """Which times no gap takes; gaps are a second apart."""
        keep = np.ones(len(times), bool)
        gaps: list[float] = []
        for _ in range(r.poisson(seconds * r.choice([0, 0.01, 0.04]))):
            lasts, begins = r.uniform(0.03, 0.34), r.uniform(1, seconds - 1)
            if all(abs(begins - other) > 1 for other in gaps):
                gaps.append(begins)
                # time between rows that are left is no more than lasts
                keep &= ~((times > begins) & (times < begins + lasts - 1.5 / self.rate))
        return keep


def borne(r: np.random.Generator, motion: Motion) -> tuple[Array, Array]:
    """Specific force [g] and turn rate [rad/s] in the axes of the trunk where the phone is, [3, n] each."""
    pitch, roll, yaw = np.radians(motion.pitch), np.radians(motion.roll), np.radians(motion.yaw)
    sp, cp, sr, cr = np.sin(pitch), np.cos(pitch), np.sin(roll), np.cos(roll)
    pitching, rolling, yawing = (np.gradient(angle) * FS for angle in (pitch, roll, yaw))
    turning = np.stack([
        rolling - yawing * sp, pitching * cr + yawing * cp * sr, -pitching * sr + yawing * cp * cr,
    ])  # fmt: skip
    up = 1 + motion.over
    fore, leant = cp * motion.fore - sp * up, sp * motion.fore + cp * up
    force = np.stack([fore, cr * motion.side + sr * leant, -sr * motion.side + cr * leant])
    lever = r.uniform(0.02, 0.12)  # [m] above the axis that the trunk swings about
    force[0] += np.gradient(gaussian_filter1d(turning[1], 8)) * FS * lever / GRAVITY
    force[2] -= turning[1] ** 2 * lever / GRAVITY
    return force, turning


def strapped(r: np.random.Generator, force: Array) -> Array:
    """What the phone feels of the trunk's force [3, n]: along each axis it lags and rings its own way."""
    u = r.uniform
    ring, damping, through = u(*RINGS), u(*DAMPED), u(0, 1)
    felt = np.empty_like(force)
    for axis in range(3):
        hz, ratio = ring, damping
        if axis < 2:
            hz, ratio = np.clip(ring * u(0.8, 1.3), *RINGS), np.clip(damping * u(0.8, 1.3), *DAMPED)
        felt[axis] = lagging(force[axis], hz, ratio, through)
    return felt


def lagging(x: Array, hz: float, damping: float, through: float) -> Array:
    """Through a spring and a damper, of which so much (0-1) is between trunk and phone, the rest between phone and
    world; by the bilinear rule, bent so that the frequency stays; at rest before."""
    w = 2 * PI * hz
    k = w / np.tan(w / 2 / FS)
    swings = 2 * through * damping * w * k
    num = np.array([swings + w * w, 2 * w * w, w * w - swings])
    den = np.array([
        k * k + 2 * damping * w * k + w * w, 2 * w * w - 2 * k * k, k * k - 2 * damping * w * k + w * w,
    ])  # fmt: skip
    return lfilter(num / den[0], den / den[0], x - x[0]) + x[0]


def mount(r: np.random.Generator) -> Array:
    """Any way round: from the trunk's axes to the phone's, by a quaternion."""
    q = r.normal(size=4)
    q /= np.linalg.norm(q)
    a, b, c, d = q
    return np.array([
        [1 - 2 * (c * c + d * d), 2 * (b * c - a * d), 2 * (b * d + a * c)],
        [2 * (b * c + a * d), 1 - 2 * (b * b + d * d), 2 * (c * d - a * b)],
        [2 * (b * d - a * c), 2 * (c * d + a * b), 1 - 2 * (b * b + c * c)],
    ])  # fmt: skip


def _splash(r: np.random.Generator, force: Array, wet: Array, rough: float) -> None:
    """Water hits the pouch now and then, in place [m/s2]."""
    n = force.shape[1]
    for i in r.integers(0, n - 60, r.poisson(n / FS * (0.06 + 0.35 * rough))):
        if r.random() < 0.15 + wet[i]:
            lasts = r.integers(4, 25)
            hit = r.normal(size=3) * r.uniform(2, 9)
            force[:, i : i + lasts] += hit[:, None] * half_sine(lasts)


def _sampled(r: np.random.Generator, true: Array, times: Array, errors: tuple[Array, Array, float]) -> Array:
    """Rows [m, 3] of what there is [3, n], at these times [s]; errors: scale, bias, noise."""
    scale, bias, noise = errors
    t = np.arange(true.shape[1]) / FS
    columns = [
        np.interp(times, t, x) * scale[axis] + bias[axis] + r.normal(0, noise, len(times))
        for axis, x in enumerate(true)
    ]
    return np.stack(columns, 1)


def _fixes(r: np.random.Generator, motion: Motion, flights: list[dict[str, Any]]) -> Array:
    """Speed each second, late by a filter and by waiting; in some outings none while a flight is young."""
    late = r.uniform(0, 2.0)
    slow = 0.4 * late
    some = motion.speed[::50]
    gain = 1 / (1 + slow * 20)
    smooth, _ = lfilter([gain], [1, gain - 1], some, zi=[some[0] * (1 - gain)])
    times = np.arange(r.uniform(0.2, 1.2), motion.seconds - 0.1, 1.0) + r.normal(0, 0.01)
    wrong = lfilter([0.8], [1, -0.6], r.normal(0, 1, len(times))) * 0.2
    told = np.interp(times - (late - slow), np.arange(len(smooth)) * 0.05, smooth) + wrong
    keep = r.random(len(times)) > 0.01
    if r.random() < 0.35:
        for flight in flights:
            if r.random() < 0.5:
                begins = flight["start_s"]
                keep &= ~((times > begins - 1) & (times < begins + r.uniform(5, 15)))
    fixes = np.full((len(times), 6), np.nan)
    fixes[:, 0], fixes[:, 1] = times, np.round(np.clip(told, 0, None), 2)
    return fixes[keep]
