"""The phone in outings of `stitched`: where it is worn, what its pouch does to it, and the rows that it writes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d, uniform_filter1d
from scipy.signal import lfilter
from scipy.spatial.transform import Rotation

from cadence_coach.core.units import G

from .drawn_motion import PI, Array
from .stitched_piece import DT, GRAVITY, Generator, Piece, wander
from .stitched_try import Try


@dataclass(frozen=True)
class Place:
    """Somewhere on the body. Of ranges a phone's own value is drawn."""

    lever: tuple[float, float, float]
    """[m] fore, left and up from the axis that the hips turn about."""
    follows: float
    """Share of the trunk's quick pitching."""
    ring_hz: tuple[float, float]
    damping: tuple[float, float]
    """Ratio."""
    loose: tuple[float, float]
    """Share of the force that comes through the pouch's spring and damper."""


PLACES = {
    "chest": Place((0.11, 0.0, 0.36), 1.0, (9, 18), (0.25, 0.6), (0.4, 0.85)),
    "back": Place((-0.10, 0.02, 0.06), 0.55, (8, 15), (0.22, 0.55), (0.5, 0.9)),
    "hip": Place((0.05, 0.16, -0.03), 0.7, (7, 12), (0.18, 0.45), (0.6, 1.0)),
    "arm": Place((0.02, 0.2, 0.40), 1.0, (8, 16), (0.25, 0.6), (0.5, 0.9)),
}


def recorded(r: Generator, motion: Piece, tries: list[Try], pumping: Array) -> tuple[Array, Array | None, Array | None]:
    """accel, gyro, fixes as `SimulatedOuting` has them; pumping: 1 while riders pump, else 0, at each sample."""
    worn = str(r.choice(list(PLACES)))
    force, turning = felt(r, motion, worn, gaussian_filter1d(pumping, 60))
    rate = float(r.choice([50, 100, 200], p=[0.3, 0.45, 0.25]))
    jitter = 0.0 if r.random() < 0.25 else r.uniform(0.0005, min(0.003, 0.3 / rate))
    accel, gaps = _accel(r, force, rate, jitter)
    gyro = _gyro(r, turning, rate, jitter, gaps) if r.random() < 0.5 else None
    return accel, gyro, _fixes(r, motion, tries) if r.random() < 0.75 else None


def _smooth(x: Array | float, sd: float = 12) -> Array:
    """sd: in samples."""
    return np.asarray(gaussian_filter1d(x, sd))


def _borne(r: Generator, motion: Piece, worn: str, pumping: Array) -> tuple[Rotation, Array]:
    """How the place is turned at each sample, and where it is [n, 3] from the hips' axis [m]."""
    place, m = PLACES[worn], len(motion.n)
    breath = 0.012 * np.sin(2 * PI * np.cumsum(0.42 + 0.08 * wander(r, m, 0.03)) * DT) if worn == "chest" else 0
    pitch, roll, yaw = _smooth(motion.pitch), _smooth(motion.roll), _smooth(motion.yaw, 20)
    slow = uniform_filter1d(uniform_filter1d(pitch, 300), 300)
    trunk = slow + place.follows * (pitch - slow) + breath
    if worn == "hip":  # the thigh pushes the belt when the legs fold
        trunk = trunk + r.uniform(-0.1, 0.12) * (_smooth(motion.n - 1, 18) * pumping)
    if worn == "back":
        trunk = trunk - r.uniform(0, 0.08) * _smooth(motion.n - 1, 18) * pumping
    turned = Rotation.from_euler("ZYX", np.stack([yaw, trunk, roll], 1))
    at = turned.apply(np.array(place.lever) * r.uniform(0.8, 1.15))
    if worn == "arm":
        turned = turned * Rotation.from_euler("Y", -(_smooth(motion.arm) + r.uniform(0, 0.3))[:, None])
        at = at + turned.apply(np.array([0, 0.03, -r.uniform(0.1, 0.17)]))
    return turned, at


def felt(r: Generator, motion: Piece, worn: str, pumping: Array) -> tuple[Array, Array]:
    """Specific force [m/s2] and rotation rate [rad/s] in the phone's axes, [n, 3] each."""
    m, place = len(motion.n), PLACES[worn]
    turned, at = _borne(r, motion, worn, pumping)
    swung = np.zeros((m, 3))
    swung[1:-1] = (at[2:] - 2 * at[1:-1] + at[:-2]) / DT**2
    swung = gaussian_filter1d(swung, 5, axis=0)
    more = 1 + r.uniform(-0.05, 0.06)  # the trunk moves a little more or less than the centre of mass
    faces = Rotation.from_euler("Z", _smooth(motion.yaw, 20)[:, None])
    force = faces.apply(np.stack([motion.fore, motion.side, np.zeros(m)], 1)) * GRAVITY
    force[:, 2] = (1 + more * (motion.n - 1)) * GRAVITY
    force += swung
    loose, hz, damping = r.uniform(*place.loose), r.uniform(*place.ring_hz), r.uniform(*place.damping)
    force = (1 - loose) * force + loose * _sprung(force, hz, damping)
    force = turned.apply(force, inverse=True)
    ring = _ring(r, motion, hz, damping)
    way = r.normal(size=3)
    way /= np.linalg.norm(way)
    force += ring[:, None] * way * GRAVITY * r.uniform(0.25, 0.9) * (1.7 if r.random() < 0.3 else 1)
    lies = Rotation.random(random_state=int(r.integers(1 << 31)))
    rate = (turned[:-1].inv() * turned[1:]).as_rotvec() / DT
    rate = np.vstack([rate, rate[-1:]]) + ring[:, None] * r.normal(0, 0.8, 3)
    return lies.apply(force), lies.apply(rate)


def _sprung(x: Array, hz: float, damping: float) -> Array:
    """What is felt through a spring and a damper of what the skin does: the slow without delay; after blows it rings.
    As the bilinear transform has them, its sums written out."""
    w, k = 2 * PI * hz, 2 / DT
    b = np.array([2 * damping * w * k + w * w, 2 * w * w, w * w - 2 * damping * w * k])
    a = np.array([k * k + 2 * damping * w * k + w * w, 2 * w * w - 2 * k * k, k * k - 2 * damping * w * k + w * w])
    return np.asarray(lfilter(b / a[0], a / a[0], x - x[:1], axis=0) + x[:1])


def _ring(r: Generator, motion: Piece, hz: float, damping: float) -> Array:
    """The pouch swings free after knocks, of size about 1, its own way."""
    m, w = len(motion.n), 2 * PI * hz
    blows = np.zeros(m)
    for i, size in motion.knocks:
        blows[i] += size * r.uniform(0.5, 1.4)
    t = np.arange(int(0.6 / DT)) * DT
    swing = np.exp(-damping * w * t) * np.sin(w * np.sqrt(1 - damping * damping) * t)
    return np.convolve(blows, swing)[:m]


# --- rows ---

Gaps = list[tuple[float, float]]
"""From when till when [s] rows are lost."""


def _stamps(r: Generator, count: int, rate: float, jitter: float) -> tuple[Array, Array]:
    """When [s] rows are sampled of so many samples, and what they say."""
    rate = rate * (1 + r.normal(0, 0.002))
    rows = int((count - 2) * DT * rate) - 2
    times = r.uniform(0, 1 / rate) + np.arange(rows) / rate
    stamps = times + np.clip(r.normal(0, jitter, rows), -0.003, 0.003) if jitter else times
    return times, np.maximum.accumulate(np.maximum(stamps, 0))


def _at(x: Array, times: Array) -> Array:
    """Columns of x at these times [s]."""
    return np.stack([np.interp(times, np.arange(len(x)) * DT, column) for column in x.T], 1)


def _kept(times: Array, gaps: Gaps) -> Array:
    """Which rows are not in a gap."""
    keep = np.ones(len(times), bool)
    for begins, ends in gaps:
        keep &= ~((times > begins) & (times < ends))
    return keep


def _accel(r: Generator, force: Array, rate: float, jitter: float) -> tuple[Array, Gaps]:
    times, stamps = _stamps(r, len(force), rate, jitter)
    a = _at(force, times)
    a = a * (1 + r.normal(0, 0.004, 3)) + r.normal(0, 0.012 * GRAVITY, 3)
    a = a + r.normal(0, r.uniform(0.008, 0.05) * GRAVITY, a.shape)
    most = r.choice([8, 16, 16]) * G
    for _ in range(r.poisson(2.5)):  # spikes
        a[r.integers(len(a)), r.integers(3)] += r.choice([-1, 1]) * r.uniform(2, 14) * GRAVITY
    a = np.clip(np.round(a / 0.0048) * 0.0048, -most, most)
    gaps: Gaps = []
    for _ in range(r.poisson(2)):
        begins, long = r.uniform(0, times[-1]), r.uniform(0.04, 0.345)
        gaps.append((begins, begins + long))
    keep = _kept(times, gaps)
    stamps, a = np.round(stamps[keep], 6), a[keep]
    for _ in range(r.poisson(2)):  # a time that comes twice, with the same values or the ones before
        i = int(r.integers(1, len(stamps) - 1))
        stamps, a = np.insert(stamps, i, stamps[i]), np.insert(a, i, a[i] if r.random() < 0.6 else a[i - 1], 0)
    return np.column_stack([stamps, a.astype(np.float32)]), gaps


def _gyro(r: Generator, turning: Array, rate: float, jitter: float, gaps: Gaps) -> Array:
    times, stamps = _stamps(r, len(turning), rate, jitter)
    w = _at(turning, times) + r.normal(0, 0.012, 3)
    w = w + r.normal(0, r.uniform(0.002, 0.02), (len(times), 3))
    # its gaps are those of the accelerometer, to the millisecond
    keep = _kept(times, [(round(begins, 3), round(ends, 3)) for begins, ends in gaps])
    return np.column_stack([np.round(stamps[keep], 6), np.round(np.clip(w[keep], -34.9, 34.9), 5)])


def _fixes(r: Generator, motion: Piece, tries: list[Try]) -> Array | None:
    """Speed each second, 0.3-2 s late; none in the water and for a while after it, seldom as a try begins, none in
    some flights."""
    seconds = np.arange(len(motion.n)) * DT
    late = r.uniform(0.3, 2.0)
    t = np.arange(r.uniform(0, 1), len(motion.n) * DT, 1.0)
    v = np.interp(np.clip(t - late, 0, None), seconds, gaussian_filter1d(np.abs(motion.speed), 150))
    noise = r.uniform(0.1, 0.4)
    # the wander is of 0.12 Hz: rows are a second apart
    v = np.abs(v + noise * (0.6 * r.normal(size=len(t)) + 0.8 * wander(r, len(t), 0.12 / DT)))
    there = _received(r, t, np.interp(t, seconds, np.asarray(motion.wet, float)) > 0.5)
    for tried in tries:
        begins = tried.begins * DT
        if r.random() < 0.85:
            there &= ~((t > begins - 1) & (t < begins + r.uniform(5, 15)))
        if tried.flies and r.random() < 0.4:
            begins, ends = tried.pumps_from * DT, tried.pumps_until * DT
            there &= ~((t > begins - 4) & (t < ends + 2))
    for _ in range(r.poisson(4)):
        begins = r.uniform(0, t[-1])
        there &= ~((t > begins) & (t < begins + r.uniform(1, 12)))
    for i in np.flatnonzero(r.random(len(t)) < 0.01)[1:]:  # the last one again
        v[i] = v[i - 1]
    rows = np.full((int(there.sum()), 6), np.nan)
    rows[:, 0] = np.round(t[there] + r.normal(0, 0.01, len(rows)), 3)
    rows[:, 1] = np.round(v[there], 2)
    return rows if len(rows) else None


def _received(r: Generator, t: Array, wet: Array) -> Array:
    """Which of the fixes at t [s] the water leaves."""
    there, back = np.ones(len(t), bool), -99.0
    for i, now in enumerate(t):
        if wet[i] and r.random() < 0.93:
            back = max(back, now + r.uniform(1, 8))
        there[i] = now > back and not (wet[i] and r.random() < 0.97)
    return there
