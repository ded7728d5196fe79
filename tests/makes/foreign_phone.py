"""The phone in outings of `foreign`: its pouch, how it lies, and the rows that it writes of a track."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d
from scipy.signal import bilinear, lfilter

from cadence_coach.core.units import G

from .foreign_motion import D, Track
from .foreign_riders import FS, PI, Array, noise

FASTEST = 2000 * D
"""[rad/s] that the gyroscope can tell."""


class Phone:
    """How good a phone is, and its pouch."""

    def __init__(self, r: np.random.Generator, harsh: float) -> None:
        self.rate = int(r.choice([50, 100, 100, 200]))
        self.jitter = r.uniform(0, 0.003) * (0.4 + 0.6 * harsh)
        """SD [s]."""
        self.uneven = r.choice(["irregular", "stamp"]) == "irregular"
        """Sampled unevenly and stamped truly, or evenly and stamped wrongly."""
        self.noise = r.uniform(0.002, 0.012 + 0.018 * harsh)
        """SD [g]."""
        self.step = r.choice([0.0024, 0.0096, 0.0192, 0.0383])
        """[m/s2] from one value to the next."""
        self.most = int(r.choice([4, 8, 16]))
        """[g] either way."""
        self.gaps_per_min = r.choice([0, 0, r.uniform(0.3, 1 + 2 * harsh)])
        self.twice = r.choice([0, r.uniform(0, 0.004)])
        """Share of rows that come twice."""
        self.spikes = r.uniform(0, 1)
        """Share of splashes that are felt."""
        self.ring_hz, self.ring_damping = r.uniform(7, 18), r.uniform(0.18, 0.6)
        self.gyro, self.turn_noise = bool(r.random() < 0.5), r.uniform(0.003, 0.02)
        self.speed = bool(r.random() < 0.75)
        self.fixes_lost = r.choice([0.02, 0.1, 0.35])


@dataclass(frozen=True)
class Felt:
    """At 1 kHz in the phone's axes, [n, 3] each: specific force with ringing [m/s2], rotation rate [rad/s], the unit
    vector straight up."""

    force: Array
    turning: Array
    up: Array


def felt(t: Track, phone: Phone, c: dict[str, Array]) -> Felt:
    """c: the track's columns as `Track.whole` gives them."""
    r = t.r
    (cy, sy), (cp, sp), (cr, sr) = ((np.cos(c[k]), np.sin(c[k])) for k in ("yaw", "pitch", "roll"))
    body = np.empty((t.length, 3, 3))  # fore, left, up of the body in the world: yaw, then pitch, then roll
    body[:, 0] = np.stack([cy * cp, cy * sp * sr - sy * cr, cy * sp * cr + sy * sr], 1)
    body[:, 1] = np.stack([sy * cp, sy * sp * sr + cy * cr, sy * sp * cr - cy * sr], 1)
    body[:, 2] = np.stack([-sp, cp * sr, cp * cr], 1)
    world = G * np.stack([c["fore"] * cy - c["side"] * sy, c["fore"] * sy + c["side"] * cy, c["n"]], 1)
    force = np.einsum("nji,nj->ni", body, world)
    dy, dp, dr = (np.gradient(c[k], 1 / FS) for k in ("yaw", "pitch", "roll"))
    turning = np.stack([dr - dy * sp, dp * cr + dy * cp * sr, -dp * sr + dy * cp * cr], 1)
    _ring(t, phone, force)
    for k in range(3):
        force[:, k] += G * c["tissue"] * (noise(r, t.length, 6) * 0.7 + noise(r, t.length, 2.5, 0.3))
    q = r.standard_normal(4)
    w, x, y, z = q / np.linalg.norm(q)
    lies = np.array([
        [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
        [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
        [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
    ])  # fmt: skip
    return Felt(force @ lies, turning @ lies, body[:, 2] @ lies)


def _ring(t: Track, phone: Phone, force: Array) -> None:
    """The pouch on a spring and a damper, in place: what is felt through it, and its swing after each knock."""
    r, w, damping = t.r, 2 * PI * phone.ring_hz, phone.ring_damping
    for k, other in enumerate((1, 1.07, 0.93)):
        own = w * other
        b, a = bilinear([2 * damping * own, own * own], [1, 2 * damping * own, own * own], FS)
        force[:, k] = force[0, k] + lfilter(b, a, force[:, k] - force[0, k])
    s = np.arange(int(0.8 * FS)) / FS
    swing = np.exp(-damping * w * s) * np.sin(w * np.sqrt(1 - damping * damping) * s)
    for at, size in t.kicks:
        i = int(at * FS)
        m = min(len(s), t.length - i)
        if m > 0:
            way = np.array([r.uniform(-0.6, 0.6), r.uniform(-0.3, 0.3), r.choice([-1, 1])])
            force[i : i + m] += G * size * way / np.linalg.norm(way) * swing[:m, None]


def _stamps(r: np.random.Generator, samples: int, phone: Phone) -> tuple[Array, Array]:
    """When [s] rows are sampled, and what they say."""
    k, step, jitter = np.arange(int(samples / FS * phone.rate) - 1), 1 / phone.rate, phone.jitter
    most = 0.45 * step if jitter < 0.3 * step else 2.2 * jitter
    off = np.clip(r.standard_normal(len(k)) * jitter, -most, most)
    even = k * step * (1 + r.normal(0, 1e-4))
    moved = np.sort(even + off)
    if phone.uneven:
        r.standard_normal(len(k))  # the maker drew these and used them not: all that follows stays as it was made
        return moved, moved
    return even, moved


def thinned(x: Array, rate: float) -> Array:
    """x at 1 kHz, smoothed as much as rows at rate [Hz] need."""
    return np.asarray(gaussian_filter1d(x, FS / rate * 0.28, axis=0))


def _at(x: Array, times: Array) -> Array:
    """Columns of x, at 1 kHz, at these times [s]."""
    return np.stack([np.interp(times, np.arange(len(x)) / FS, column) for column in x.T], 1)


def _kept(stamps: Array, gaps: list[tuple[float, float]]) -> tuple[Array, Array]:
    """Stamps from 0 on that never go back, and which of their rows are neither in a gap nor at the last one's time."""
    stamps = np.maximum.accumulate(stamps)
    stamps = stamps - min(stamps[0], 0)
    lost = np.zeros(len(stamps), bool)
    for begins, ends in gaps:
        lost |= (stamps > begins) & (stamps < ends)
    return stamps, ~lost & np.concatenate([[True], np.diff(stamps) > 2e-5])


def recorded(t: Track, phone: Phone) -> tuple[Array, Array | None, Array | None]:
    """accel, gyro, fixes as `SimulatedOuting` has them, to the digits that a file would have."""
    r, c = t.r, t.whole()
    got = felt(t, phone, c)
    times, stamps = _stamps(r, t.length, phone)
    a = _at(thinned(got.force, phone.rate), times)
    a = a * (1 + r.normal(0, 0.004, 3)) + r.normal(0, 0.008 * G, 3) + r.normal(0, phone.noise * G, a.shape)
    splashes = np.interp(times, np.arange(t.length) / FS, c["splash"]) * phone.spikes
    for i in np.flatnonzero(r.random(len(times)) < splashes / phone.rate):
        m = r.integers(1, 3)
        a[i : i + m] += r.uniform(0.4, 3.5) * G * r.standard_normal(3) * 0.7
    a = np.clip(np.round(a / phone.step) * phone.step, -phone.most * G, phone.most * G)
    over = (t.length - 1) / FS
    gaps = []
    for _ in range(r.poisson(phone.gaps_per_min * over / 60)):
        begins = r.uniform(2, over - 2)
        gaps.append((begins, begins + r.uniform(0.04, 0.35)))
    stamps, keep = _kept(stamps, gaps)
    rows = np.column_stack([np.round(stamps, 6), np.round(a, 4)])[keep]
    accel = np.repeat(rows, 1 + (r.random(len(rows)) < phone.twice), axis=0)
    return accel, _gyro(t, phone, got, gaps), _fixes(t, phone, c)


def _gyro(t: Track, phone: Phone, got: Felt, gaps: list[tuple[float, float]]) -> Array | None:
    if not phone.gyro:
        return None
    r = t.r
    times, stamps = _stamps(r, t.length, phone)
    w = _at(thinned(got.turning, phone.rate), times)
    w = w + r.normal(0, 0.008, 3) + r.normal(0, phone.turn_noise, w.shape)
    w = np.clip(np.round(w / 0.001) * 0.001, -FASTEST, FASTEST)
    stamps, keep = _kept(stamps, gaps)
    return np.column_stack([np.round(stamps, 6), np.round(w, 4)])[keep]


def _fixes(t: Track, phone: Phone, c: dict[str, Array]) -> Array | None:
    """Speed each second, late; none in the water, for a while after it and after a flight has begun."""
    if not phone.speed:
        return None
    r, seconds = t.r, np.arange(t.length) / FS
    lag, speed = r.uniform(0.5, 2.2), gaussian_filter1d(c["speed"], 500)
    rows = []
    off, dry, needed = 0.0, 0, 0.0
    for s in np.arange(r.uniform(0.2, 1), seconds[-1], 1.0):
        off = 0.7 * off + r.normal(0, 0.15)
        if np.interp(s, seconds, c["wet"]) > 0.5:
            dry, needed = 0, r.uniform(5, 15)
            continue
        dry += 1
        if dry < needed or any(a <= s < b for a, b in t.blind) or r.random() < phone.fixes_lost:
            continue
        at, told = s + r.normal(0, 0.02), max(0, np.interp(s - lag, seconds, speed) + off)
        accuracy = r.uniform(0.3, 1.4) if r.random() < 0.95 else r.uniform(2, 5)
        rows.append((round(at, 3), round(told, 2), np.nan, np.nan, round(accuracy, 2), np.nan))
    return np.array(rows) if rows else None
