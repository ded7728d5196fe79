"""The phone in `chained`: how the trunk bears it, what its pouch does to it, and the rows that it writes.

The pouch is a mass on a spring and damper of 7-18 Hz, damping 0.18-0.6, kicked a little at the end of each push and at
every blow; splashes and what shakes of flesh and cloth come on top.
"""

from __future__ import annotations

import numpy as np
from scipy.ndimage import gaussian_filter1d, uniform_filter1d
from scipy.signal import lfilter

from cadence_coach.core.units import G

from .chained_piece import FS, GRAVITY, Chain, band
from .drawn_motion import PI, Array
from .drawn_phone import turned

Columns = dict[str, Array]
Gaps = list[tuple[float, float]]
"""When [s] rows begin to be lost, and for how long."""
UNDER_WATER = 0.6
"""[rad] lean of a chest that few satellites see."""


def recorded(c: Chain, columns: Columns, rate: float) -> tuple[Array, Array | None, Array | None]:
    """accel, gyro, fixes as `SimulatedOuting` has them; columns as `chained.motion_of` returns them, rate [Hz]."""
    r, n = c.r, len(columns["up"])
    force, turning = felt(columns)
    force = in_pouch(r, force, c.kicks)
    _shake(c, force)
    _splash(c, force, columns["wet"])
    lies = turned(r)
    noise, bias, scale = r.uniform(0.008, 0.03) * GRAVITY, r.uniform(-0.2, 0.2, 3), 1 + r.uniform(-0.006, 0.006, 3)
    most = r.choice([4.0, 8.0, 16.0], p=[0.1, 0.5, 0.4]) * G
    gaps: Gaps = []
    if r.random() < 0.6:
        gaps = [(r.uniform(10, n / FS - 10), r.uniform(0.04, 0.35)) for _ in range(int(r.integers(0, 4)))]
    jitter = r.choice([2e-4, 6e-4, 1.5e-3])
    times, told = stamps(r, n, rate, jitter, gaps)
    a = _at(force, times) @ lies.T
    a = a * scale + bias + noise * r.standard_normal(a.shape)
    step = most / 2**15
    accel = np.column_stack([told, np.clip(np.round(a / step) * step, -most, most)])
    gyro = None
    if r.random() < 0.5:
        times, told = stamps(r, n, rate, jitter, gaps)
        w = _at(turning, times) @ lies.T
        w = w + r.uniform(-0.015, 0.015, 3) + r.uniform(0.003, 0.012) * r.standard_normal(w.shape)
        gyro = np.column_stack([told, np.clip(w, -34.9, 34.9)])
    return accel, gyro, _fixes(c, columns) if r.random() < 0.75 else None


# --- what the phone feels ---


def _slow(x: Array, count: int) -> Array:
    """Smoothed over so many samples, three times."""
    for _ in range(3):
        x = uniform_filter1d(x, count, mode="nearest")
    return x


def felt(columns: Columns) -> tuple[Array, Array]:
    """Specific force [m/s2] and rotation rate [rad/s] along the trunk's own forward, left and up, [n, 3] each: level
    axes turned by yaw, then pitch, then roll."""
    up, fore, left = columns["up"], columns["fore"], columns["left"]
    pitch = _slow(columns["lean"], 260) + gaussian_filter1d(columns["swing"], 30)
    roll, turn = _slow(columns["roll"], 160), _slow(columns["turn"], 200)
    cp, sp, cr, sr = np.cos(pitch), np.sin(pitch), np.cos(roll), np.sin(roll)
    pitched = sp * fore + cp * up
    force = np.stack([cp * fore - sp * up, cr * left + sr * pitched, -sr * left + cr * pitched], 1) * GRAVITY
    pitching, rolling = np.gradient(pitch) * FS, np.gradient(roll) * FS
    turning = [rolling - turn * sp, pitching * cr + turn * cp * sr, -pitching * sr + turn * cp * cr]
    return force, np.stack(turning, 1)


def in_pouch(r: np.random.Generator, force: Array, kicks: list[tuple[float, float]]) -> Array:
    """What comes through the pouch [n, 3], which answers a little differently along each axis, and what the kicks
    (when [s], how hard [g]) make of it."""
    blows = np.zeros(len(force))
    for t, size in kicks:
        if 0 <= int(t * FS) < len(force):
            blows[int(t * FS)] += size * GRAVITY
    hz, damping, moved = r.uniform(7, 18), r.uniform(0.18, 0.6), np.empty_like(force)
    for axis, (tuned, kicked) in enumerate(((1, 0.35), (0.9, 0.25), (1.1, 1.0))):
        w, x = 2 * PI * np.clip(hz * tuned, 7, 18), force[:, axis]
        moved[:, axis] = x[0] + lfilter(*spring(w, damping), x - x[0])
        pole = np.exp((-damping * w + 1j * w * np.sqrt(1 - damping * damping)) / FS)
        ring = lfilter([0, abs(pole.imag)], [1, -2 * pole.real, abs(pole) ** 2], blows)
        moved[:, axis] += ring * kicked
    return moved


def spring(w: float, damping: float) -> tuple[Array, Array]:
    """Filter of a mass on a spring and damper whose other end is moved, of natural frequency w [rad/s] and that
    damping ratio: (2 d w s + w2) / (s2 + 2 d w s + w2), by the bilinear transform."""
    k, drags, pulls = 2 * FS, 2 * damping * w, w * w
    b = np.array([drags * k + pulls, 2 * pulls, pulls - drags * k])
    a = np.array([k * k + drags * k + pulls, 2 * pulls - 2 * k * k, k * k - drags * k + pulls])
    return b / a[0], a / a[0]


def _shake(c: Chain, force: Array) -> None:
    """Flesh and cloth."""
    rms = c.u(0.03, 0.058) + 0.010 * c.rough
    for axis in range(3):
        force[:, axis] += GRAVITY * band(c.r, len(force), 3, 14, rms)


def _splash(c: Chain, force: Array, wet: Array) -> None:
    """Short blows on the pouch, by how wet it is."""
    r = c.r
    often = (0.03 + 0.12 * c.rough) * wet + 0.004  # [Hz]
    for first in np.flatnonzero(r.random(len(wet)) < often / FS):
        count = int(r.integers(4, 16))
        hit = force[first : first + count]  # shorter at the very end
        blow = r.standard_normal(3) * r.uniform(0.3, 1.6) * GRAVITY
        hit += blow * np.hanning(count + 2)[1:-1][: len(hit), None]


# --- rows ---


def _at(x: Array, times: Array) -> Array:
    """Columns of x at these times [s]."""
    t = np.arange(len(x)) / FS
    return np.stack([np.interp(times, t, column) for column in x.T], 1)


def stamps(r: np.random.Generator, n: int, rate: float, jitter: float, gaps: Gaps) -> tuple[Array, Array]:
    """When [s] the sensor samples, over n samples of the motion, and what it says that the time was, always in order.
    Either it tells how uneven it is, or it is even and says otherwise."""
    period, skew = 1 / rate, 1 + r.uniform(-2e-4, 2e-4)
    count = int((n / FS - 0.05) * rate / skew)
    even = 0.01 + np.arange(count) * period * skew
    most = min(0.003, 0.45 * period)
    told = even + np.clip(jitter * r.standard_normal(count), -most, most)
    times = told if r.random() < 0.65 else even
    keep = np.ones(count, bool)
    for begins, lasts in gaps:
        keep &= ~((times > begins) & (times < begins + lasts))
    return times[keep], told[keep]


def _fixes(c: Chain, columns: Columns) -> Array:
    """Speed each second, late; now and then none as a flight begins, seldom any in the water."""
    r, n = c.r, len(columns["speed"])
    late, t = r.uniform(0.3, 2.0), np.arange(r.uniform(0.2, 1.2), n / FS - 0.1, 1.0)
    seconds = np.arange(n) / FS
    v = np.interp(t - late, seconds, _slow(columns["speed"], 500)) + 0.2 * r.standard_normal(len(t))
    keep = r.random(len(t)) > 0.02
    for tried in c.attempts:
        if tried.pumps and r.random() < 0.45:
            begins = tried.pumps[0].onset
            keep &= ~((t > begins - 2) & (t < begins + r.uniform(5, 15)))
    under = np.interp(t, seconds, _slow(columns["lean"], 500)) > UNDER_WATER
    keep &= ~(under & (r.random(len(t)) < 0.7))
    fixes = np.full((len(t), 6), np.nan)
    fixes[:, 0], fixes[:, 1] = t, np.maximum(0, v)
    return fixes[keep]
