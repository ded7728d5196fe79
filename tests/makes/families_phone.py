"""The phone in outings of `families`: how it lies, its pouch, and the rows that it writes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d, uniform_filter1d
from scipy.signal import lfilter

from cadence_coach.core.units import G

from .drawn_motion import PI, Array
from .drawn_phone import turned
from .families_between import Day
from .families_track import FLIGHT, FS, samples

LAST = 0.01
"""[s] before the motion's end that the rows end."""


def soft(x: Array, seconds: float) -> Array:
    """Mean over so many seconds of the mean over so many."""
    n = samples(seconds)
    return np.asarray(uniform_filter1d(uniform_filter1d(x, n, mode="nearest"), n, mode="nearest"))


def felt(up: Array, c: dict[str, Array], r: np.random.Generator) -> tuple[Array, Array]:
    """Specific force [g] and turn rate [rad/s] in the phone's axes, [n, 3] each, as it lies on the trunk."""
    fore, side = (gaussian_filter1d(c[k], 6, mode="nearest") for k in ("fore", "side"))
    lean = np.deg2rad(soft(c["lean"], 0.16) + gaussian_filter1d(c["nod"], 15))
    bank = np.deg2rad(soft(c["bank"], 0.16) + gaussian_filter1d(c["rock"], 15))
    yaw = np.deg2rad(gaussian_filter1d(c["yaw"], 15))
    cl, sl, cb, sb = np.cos(lean), np.sin(lean), np.cos(bank), np.sin(bank)
    leant = sl * fore + cl * up
    force = np.stack([cl * fore - sl * up, cb * side + sb * leant, -sb * side + cb * leant], 1)
    leaning, banking = np.gradient(lean, 1 / FS), np.gradient(bank, 1 / FS)
    turns = np.stack([banking - yaw * sl, leaning * cb + yaw * cl * sb, -leaning * sb + yaw * cl * cb], 1)
    lies = turned(r)
    return force @ lies, turns @ lies


@dataclass(frozen=True)
class Pouch:
    """A spring and a damper between trunk and phone."""

    hz: float
    damping: float
    share: float
    """Of the movement that comes through it, 0-1."""

    def moved(self, force: Array, r: np.random.Generator) -> Array:
        """What the phone feels of a force [n, 3]; along each axis the pouch is a little another."""
        return np.stack([self._along(column, r) for column in force.T], 1)

    def _along(self, x: Array, r: np.random.Generator) -> Array:
        """A share of x through w2 / (s2 + 2 z w s + w2), s by the bilinear rule; at rest before."""
        hz = self.hz * r.uniform(0.9, 1.12) if self.hz < 16 else self.hz
        share = self.share * r.uniform(0.7, 1)
        k, w, z = 2 * FS, 2 * PI * hz, self.damping
        first = k * k + 2 * z * w * k + w * w
        b = np.array([w * w, 2 * w * w, w * w]) / first
        a = [1, (2 * w * w - 2 * k * k) / first, (k * k - 2 * z * w * k + w * w) / first]
        return x + share * (lfilter(b, a, x - x[0]) + x[0] - x)

    def swing(self) -> Array:
        """After a knock of 1 at its beginning."""
        z, w, t = min(self.damping, 0.35), 2 * PI * self.hz, np.arange(samples(0.5)) / FS
        return np.exp(-z * w * t) * np.sin(w * np.sqrt(1 - z * z) * t)


def _add_at(force: Array, i: int, x: Array) -> None:
    """Adds x [m, 3] from row i on, as far as there are rows."""
    here = force[i : i + len(x)]
    here += x[: len(here)]


def knock(force: Array, d: Day, pouch: Pouch) -> None:
    """Pouch or buckle knocks when something hits; the phone may ring after each onset and push end. In place."""
    r = d.r
    t = np.arange(samples(0.12)) / FS
    for i in d.knocks:
        if r.random() < 0.7:
            buzz = np.exp(-t / 0.03) * np.sin(2 * PI * r.uniform(18, 40) * t)
            _add_at(force, i, r.normal(0, 0.35, 3) * buzz[:, None])
    if r.random() >= 0.6:
        return
    most, swing, way = r.uniform(0.03, 0.22), pouch.swing(), r.normal(size=3)
    way /= np.linalg.norm(way)
    for one in d.tries:
        if len(one.onsets) < FLIGHT:
            continue
        for onset, push_end in zip(one.onsets, one.push_ends, strict=True):
            for at, part in ((onset + r.uniform(0.01, 0.05), 1.0), (push_end + r.uniform(0, 0.04), 0.6)):
                size = most * part * np.exp(r.normal(0, 0.35)) * r.choice([1, 1, -1])
                _add_at(force, samples(at), (size * swing)[:, None] * (way + r.normal(0, 0.2, 3)))


def _chafing(r: np.random.Generator, t: Array) -> Array:
    """Cloth, water and chop [g] along one axis: noise, straight between 30 draws a second."""
    knots = np.arange(0, t[-1] + 0.1, 1 / 30)
    return np.interp(t, knots, r.normal(0, r.uniform(0.005, 0.03), len(knots)))


def _at(x: Array, t: Array, times: Array) -> Array:
    """Columns of x, sampled at t, at these times [s]."""
    return np.stack([np.interp(times, t, column) for column in x.T], 1)


def recorded(d: Day, up: Array, rough: bool) -> tuple[Array, Array | None, Array | None]:
    """accel, gyro, fixes as `SimulatedOuting` has them. rough: more noise, spikes, gaps and doubled stamps."""
    r, columns = d.r, d.whole()
    t = np.arange(len(up)) / FS
    force, turns = felt(up, columns, r)
    pouch = Pouch(r.uniform(7, 18), r.uniform(0.18, 0.6), r.uniform(0.35, 1.0))
    moved = pouch.moved(force, r)
    shaken = moved - force
    knock(moved, d, pouch)
    moved += np.stack([_chafing(r, t) for _ in range(3)], 1)
    rate = float(r.choice([50, 100, 200], p=[0.3, 0.45, 0.25]))
    off = r.uniform(-0.015, 0.02)
    rate = rate * (1 + r.choice([0, off]))
    if r.random() < 0.6:  # the sensor's own mean over most of a step
        moved = uniform_filter1d(moved, max(1, int(FS / rate * 0.9)), axis=0)
    times = np.arange(0, t[-1] - LAST, 1 / rate)
    a = _at(moved, t, times) * (1 + r.normal(0, 0.006, 3)) + r.normal(0, 0.008, 3)
    a = a + r.normal(0, r.uniform(0.004, 0.03) * (1.6 if rough else 1), a.shape)
    jitter = min(r.uniform(0, 0.003), 0.45 / rate)
    stamps = times + r.uniform(-jitter, jitter, len(times))
    stamps[0] = 0
    a, keep = _spoilt(r, stamps, a, rate, rough)
    gyro = _gyro(r, t, turns, shaken, (rate, jitter, times[~keep])) if r.random() < 0.5 else None
    fixes = _fixes(d, t, columns) if r.random() < 0.75 else None
    return np.column_stack([stamps, a])[keep], gyro, fixes


def _spoilt(r: np.random.Generator, stamps: Array, a: Array, rate: float, rough: bool) -> tuple[Array, Array]:
    """Accelerations [m/s2] with spikes and in steps, within the sensor's range; which rows no gap takes. Some stamps
    come twice (in place)."""
    n, often = len(stamps), 6 if rough else 1.5
    most, step = r.choice([4.0, 8.0, 16.0], p=[0.25, 0.5, 0.25]), r.choice([0.00012, 0.001, 0.004])
    for _ in range(r.poisson(8 if rough else 2)):
        i = int(r.integers(1, n - 1))
        a[i] += r.normal(0, 2.5, 3) * (r.random(3) < 0.6)
    a = np.round(np.clip(a, -most, most) / step) * step * G
    keep = np.ones(n, bool)
    for _ in range(r.poisson(often)):
        i = int(r.integers(10, n - 200))
        keep[i : i + max(1, int(r.uniform(0.03, 0.33) * rate))] = False
    for _ in range(r.poisson(often)):
        i = int(r.integers(5, n - 5))
        stamps[i] = stamps[i - 1]
        if r.random() < 0.5:
            a[i] = a[i - 1]
    return a, keep


def _gyro(r: np.random.Generator, t: Array, turns: Array, shaken: Array, accel: tuple[float, float, Array]) -> Array:
    """[n, 4]; shaken: what the pouch adds [g], which turns the phone, too; accel: rate [Hz] and jitter [s] of the
    accelerometer, times [s] that its gaps take."""
    rate, jitter, lost = accel
    if r.random() >= 0.7:
        rate = float(r.choice([50, 100, 200]))
    times = np.arange(r.uniform(0, 0.004), t[-1] - LAST, 1 / rate)
    w = _at(turns + shaken[:, [1, 2, 0]] * r.uniform(0.1, 0.7, 3), t, times)
    w = w + r.normal(0, 0.012, 3) + r.normal(0, r.uniform(0.002, 0.02), w.shape)
    stamps = times + r.uniform(0, 2 * min(jitter, 0.45 / rate), len(times))
    keep = ~np.isin(np.round(times, 2), np.round(lost, 2))
    return np.column_stack([stamps, w])[keep]


def _fixes(d: Day, t: Array, columns: dict[str, Array]) -> Array | None:
    """[m, 6] of speed alone, each second, late; none under water, in spells drawn at random, and in `blind`."""
    r = d.r
    lag = r.uniform(0.2, 2.0)
    times = np.arange(r.uniform(0, 3), t[-1], 1.0)
    keep = np.interp(times, t, columns["sky"]) > 0.5
    told = np.interp(times - lag, t, np.maximum(0, soft(columns["speed"], 0.5)))
    off = lfilter([0.5], [1, -0.7], r.normal(0, r.uniform(0.06, 0.25), len(times)))
    told = np.maximum(0, told + off)
    for begins, ends in d.blind:
        keep &= ~((times > begins) & (times < ends))
    keep &= ~(times < r.uniform(0, 20))
    for _ in range(r.poisson(2)):
        begins = r.uniform(0, t[-1])
        keep &= ~((times > begins) & (times < begins + r.uniform(2, 25)))
    for j in np.flatnonzero(r.random(len(times)) < 0.004):  # a wild fix
        told[j] += abs(r.normal(0, 3))
    stamps, n = times[keep], int(keep.sum())
    stamps = np.round(stamps + r.uniform(-0.02, 0.02, n), 3)
    if n < 3:
        return None
    return np.column_stack([stamps, np.round(told[keep], 2), np.full((n, 4), np.nan)])
