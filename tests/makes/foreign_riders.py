"""How riders of `foreign` pump: five makers of the trunk's vertical specific force that share the stroke's clock alone.

The clock phi counts pumps (a whole number near each onset). A maker has a style, drawn once, and `force(phi, m)` [g]
for m, four courses about 1 by which a pump differs from the style's; it is then made to weigh 1 g over each whole pump.
Truth is read from the finished force (`Burst`), never from what was planned.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import gaussian_filter1d

from cadence_coach.core.units import G

Array = np.ndarray
FS = 1000
"""Samples a second of all motion here."""
PI = np.pi


class Unclean(Exception):
    """A style that makes no burst with one crossing up and one down a pump."""


def noise(r: np.random.Generator, n: int, hz: float, sd: float = 1.0) -> Array:
    """n samples of noise smoothed by a Gaussian, of that cut-off and SD; slow ones are made on a coarse grid."""
    width = FS / (2 * PI * hz)
    step = max(1, int(width / 16))
    width = width / step
    m = n // step + 3
    x = gaussian_filter1d(r.standard_normal(m + 400), width, mode="wrap")[200 : 200 + m]
    x = x * sd * np.sqrt(2 * np.sqrt(PI) * width)
    return x[:n] if step == 1 else np.interp(np.arange(n) / step, np.arange(m), x)


def along(phi: Array, per_pump: Array) -> Array:
    """Values a pump, from the second before the first on, as a smooth course (each holds at phi + 0.4)."""
    k = np.arange(-2, len(per_pump) - 2) + 0.4
    return np.asarray(PchipInterpolator(k, per_pump)(np.clip(phi, k[0], k[-1])))


class Leg:
    """A body on a hardening, damped spring whose rest length the legs change, over a foil that heaves."""

    TRIES = 16

    def __init__(self, r: np.random.Generator) -> None:
        self.w, self.damping = 2 * PI * r.uniform(1.9, 4.5), r.uniform(0.12, 0.45)
        self.hard, self.stroke = r.uniform(0, 9), r.uniform(0.04, 0.22)
        self.second, self.second_at = r.uniform(0, 0.4), r.uniform(-PI, PI)
        self.heave, self.heave_at = r.uniform(0, 0.08), r.uniform(-1.5, 1.5)

    def force(self, phi: Array, m: Sequence[Array]) -> Array:
        turn = 2 * PI * phi
        rest = self.stroke * m[0] * (np.sin(turn) + self.second * m[1] * np.sin(2 * turn + self.second_at))
        rest = rest + self.heave * np.sin(turn + self.heave_at)
        rest = rest - rest[0]
        w2, damp, hard, h = self.w**2, 2 * self.damping * self.w, self.hard, 1 / FS
        still = G / w2  # how far the spring gives at rest [m], by Newton's method
        for _ in range(8):
            still -= (w2 * still * (1 + hard * still) - G) / (w2 * (1 + 2 * hard * still))
        out = np.empty(len(phi))
        y, v = 0.0, 0.0
        for i, (e, rate) in enumerate(zip(rest.tolist(), np.gradient(rest, 1 / FS).tolist(), strict=True)):
            d = still + e - y
            a = w2 * d * (1 + hard * d) if d > 0 else 0.0
            a = max(a + damp * (rate - v), 0.0)
            out[i] = a
            v += (a - G) * h
            y += v * h
        return out / G


class Harmonics:
    """Four harmonics, their phases near those of bouncing gaits (narrow top, long low), free to lean either way."""

    TRIES = 220

    def __init__(self, r: np.random.Generator) -> None:
        self.size = r.uniform(0.3, 1.1)
        self.second, self.second_at = r.uniform(0.0, 0.5), r.uniform(-1.1, 1.1)
        self.third, self.third_at = r.uniform(0, 0.25), r.uniform(-1.8, 1.8)
        self.fourth, self.fourth_at = r.uniform(0, 0.1), r.uniform(-3, 3)

    def force(self, phi: Array, m: Sequence[Array]) -> Array:
        turn = 2 * PI * phi
        return 1 + self.size * m[0] * (
            np.cos(turn)
            + self.second * m[1] * np.cos(2 * turn + self.second_at * m[2])
            + self.third * np.cos(3 * turn + self.third_at * m[3])
            + self.fourth * np.cos(4 * turn + self.fourth_at)
        )


class Pulses:
    """Two muscle pulses on a level glide: hips and knees, then or before them the ankles."""

    TRIES = 220

    def __init__(self, r: np.random.Generator) -> None:
        self.size, self.narrow, self.gap = r.uniform(0.2, 1.9), r.uniform(1, 26), r.uniform(0.08, 0.26)
        self.second, self.second_narrow = r.uniform(0, 0.8), r.uniform(2, 14)
        self.skew, self.way = r.uniform(-0.2, 0.2), r.choice([-1, 1])

    def force(self, phi: Array, m: Sequence[Array]) -> Array:
        turn = 2 * PI * phi
        one, two = self.size * m[0], self.size * self.second * m[0] * m[1]
        first = np.exp(self.narrow * m[3] * (np.cos(turn + self.skew * np.sin(turn)) - 1))
        other = np.exp(self.second_narrow * (np.cos(turn - self.way * 2 * PI * self.gap * m[2]) - 1))
        return np.asarray(1 + one * first + two * other)


def least_jerk(part: Array) -> Array:
    """Acceleration of a straight move of one unit in one unit of time with least jerk; part: of the time gone."""
    t = np.clip(part, 0, 1)
    return 60 * t - 180 * t**2 + 120 * t**3


class Moves:
    """Overlapping moves of least jerk: sink, rise and a late move of the ankles."""

    TRIES = 80

    def __init__(self, r: np.random.Generator) -> None:
        self.stroke, self.up, self.down = r.uniform(0.05, 0.3), r.uniform(0.45, 0.9), r.uniform(0.5, 1.0)
        self.at, self.ankle = r.uniform(0.3, 0.62), r.uniform(0, 0.35)
        self.ankle_lasts, self.ankle_after = r.uniform(0.28, 0.5), r.uniform(0.15, 0.4)
        self.swing = r.uniform(0, 0.35)

    def force(self, phi: Array, m: Sequence[Array]) -> Array:
        period = 1 / np.maximum(np.gradient(phi, 1 / FS), 0.2)
        acc = np.zeros(len(phi))
        for k in range(int(np.floor(phi[0])) - 2, int(np.ceil(phi[-1])) + 2):
            i, end = np.searchsorted(phi, [k - 0.2, k + 2.2])
            if end <= i:
                continue
            p, T = phi[i:end], period[i:end]
            j = np.clip(np.searchsorted(phi, k + 0.5), 0, len(phi) - 1)
            stroke, at, ankle = self.stroke * m[0][j], self.at * m[2][j], self.ankle * m[1][j]
            acc[i:end] += -stroke * least_jerk((p - k) / self.down) / (self.down * T) ** 2
            acc[i:end] += stroke * (1 - ankle) * least_jerk((p - k - at) / self.up) / (self.up * T) ** 2
            late = least_jerk((p - k - at - self.ankle_after) / self.ankle_lasts)
            acc[i:end] += stroke * ankle * late / (self.ankle_lasts * T) ** 2
        return np.asarray(1 + acc / G - self.swing * m[0] * np.cos(2 * PI * (phi - self.at + 0.1)))


class Knots:
    """Drawn by hand through knots: onset, shoulder or none, top, end, low, gathering; each pump moves its own."""

    TRIES = 50

    def __init__(self, r: np.random.Generator) -> None:
        self.share, self.top, self.high = r.uniform(0.16, 0.6), r.uniform(0.3, 0.75), r.uniform(0.35, 1.7)
        self.shoulder, self.late = r.choice([0, r.uniform(0.15, 0.6)]), r.choice([True, False])
        self.low, self.flat, self.blur = r.uniform(0.2, 0.75), r.uniform(0.45, 0.95), r.uniform(0.012, 0.035)

    def force(self, phi: Array, m: Sequence[Array]) -> Array:
        x: list[float] = []
        y: list[float] = []
        for k in np.arange(int(np.floor(phi[0])) - 2, int(np.ceil(phi[-1])) + 3):
            j = np.clip(np.searchsorted(phi, k + 0.4), 0, len(phi) - 1)
            d, high = self.share * m[1][j], self.high * m[0][j]
            top = np.clip(self.top * m[2][j], 0.22, 0.8) * d
            deep = 0.62 * high * d / ((1 - d) * 0.72)
            x += [k, k + top, k + d]
            y += [0, high, 0]
            if self.shoulder:
                x.insert(-1, k + (top + 0.55 * (d - top) if self.late else top * 0.45))
                y.insert(-1, high * self.shoulder)
            rest, low = 1 - d, np.clip(self.low * m[3][j], 0.15, 0.82)
            x += [k + d + rest * low * 0.5, k + d + rest * low, k + d + rest * (low + (1 - low) * 0.5)]
            y += [-deep * self.flat, -deep, -deep * self.flat * 0.8]
        order = np.argsort(np.array(x, float))
        drawn = PchipInterpolator(np.array(x, float)[order], np.array(y, float)[order])(phi)
        period = 1 / np.median(np.gradient(phi, 1 / FS))
        return np.asarray(1 + gaussian_filter1d(drawn, self.blur * period * FS))


Maker = Leg | Harmonics | Pulses | Moves | Knots
MAKERS: tuple[type[Maker], ...] = (Leg, Harmonics, Pulses, Moves, Knots)


def balanced(n: Array, phi: Array, pumps: int) -> Array:
    """n [g] less what each whole pump's mean is off 1 g, taken out smoothly from pump to pump."""
    k = np.arange(-1, pumps + 2)
    for _ in range(3):
        i = np.searchsorted(phi, k)
        c = np.concatenate([[0], np.cumsum(n - 1)])
        long = i[1:] > i[:-1] + 50
        middle, off = (k[:-1] + 0.5)[long], ((c[i[1:]] - c[i[:-1]]) / np.maximum(i[1:] - i[:-1], 1))[long]
        n = n - PchipInterpolator(middle, off, extrapolate=False)(np.clip(phi, middle[0], middle[-1]))
    return n


def passes(n: Array) -> tuple[Array, Array]:
    """Samples before which n goes up through 1 g, and down."""
    return np.flatnonzero((n[:-1] < 1) & (n[1:] >= 1)), np.flatnonzero((n[:-1] >= 1) & (n[1:] < 1))


def crossings(n: Array) -> tuple[Array, Array]:
    """When n goes up through 1 g and when down [s from its beginning], between samples."""
    up, down = ((i + (1 - n[i]) / (n[i + 1] - n[i])) / FS for i in passes(n))
    return up, down


def nearest_turn(n: Array) -> float:
    """How near to 1 g [g] a turning point of n comes: there a crossing would have two readings."""
    turn = np.flatnonzero(np.diff(np.sign(np.diff(n))) != 0) + 1
    return float(np.min(np.abs(n[turn] - 1), initial=np.inf))


class Trunk:
    """How the trunk goes with the stroke: lean and swings in degrees, fore and side in g, phases in radians."""

    def __init__(self, r: np.random.Generator, harsh: float) -> None:
        self.lean = r.uniform(3, 28)
        self.pitch, self.pitch_at = r.uniform(1, 8 + 10 * harsh), r.uniform(-PI, PI)
        self.pitch2, self.pitch2_at = r.uniform(0, 2.5), r.uniform(-PI, PI)
        self.roll, self.roll_at, self.yaw = r.uniform(0, 4), r.uniform(-3, 3), r.uniform(0, 5)
        self.fore, self.fore_at = r.uniform(0.02, 0.16 + 0.16 * harsh), r.uniform(-PI, PI)
        self.fore2, self.fore2_at, self.side = r.uniform(0, 0.07), r.uniform(-PI, PI), r.uniform(0, 0.06)


@dataclass(frozen=True)
class Burst:
    """Pumps without a pause: force [g] and clock from about half a pump before the first onset to a pump after the
    last; onsets, push ends and peaks in s from the beginning, peaks' height in g, median of the last periods in s."""

    n: Array
    phi: Array
    onset: Array
    end: Array
    peak_at: Array
    peak: Array
    period: float


class Rider:
    """A maker with its style (the one drawn that is nearest to a wanted push share and peak), cadence [Hz], scatter."""

    def __init__(self, r: np.random.Generator, maker: type[Maker], harsh: float) -> None:
        self.r = r
        self.cadence = r.uniform(1.1, 1.88)
        self.cv = r.uniform(0.02, 0.065)
        wanted_share, wanted_peak = r.uniform(0.18, 0.55), r.uniform(1.4, 2.6)
        best, nearest = None, 1e9
        while best is None:
            for _ in range(maker.TRIES):
                style = maker(r)
                got = self._cycle(style)
                if got is None:
                    continue
                share, peak, phase = got
                far = abs(share - wanted_share) / 0.1 + abs(peak - wanted_peak) / 0.4
                if far < nearest:
                    best, nearest, self.phase, self.share = style, far, phase, share
        self.style = best
        self.scatter = r.uniform(0.02, 0.09, 4) * np.array([1, 1.2, 0.6, 0.6])
        """SD of size and shape from pump to pump."""
        self.trunk = Trunk(r, harsh)

    def _cycle(self, style: Maker) -> tuple[float, float, float] | None:
        """Push share, peak [g] and phase of the onset when pumping evenly; None where that is no clean pumping."""
        phi = np.arange(-1.6, 7.6, self.cadence / FS)
        n = balanced(style.force(phi, [np.ones(len(phi))] * 4), phi, 6)
        i = (phi > 2) & (phi < 5.999)
        q = n[i]
        up, down = passes(q)
        if not (3 <= len(up) <= 4 and abs(len(up) - len(down)) <= 1):
            return None
        share = (q > 1).mean()
        if not (0.17 < share < 0.56 and 1.38 < q.max() < 2.6 and 0.02 < q.min() < 0.85) or nearest_turn(q) < 0.04:
            return None
        return share, q.max(), phi[i][up[0]] % 1

    def _periods(self, count: int) -> Array:
        """[s] of count pumps, four before and four after."""
        r, total = self.r, count + 8
        slow = np.zeros(total)
        for i in range(1, total):
            slow[i] = 0.6 * slow[i - 1] + 0.8 * r.standard_normal()
        e = self.cv * (np.sqrt(0.55) * r.standard_normal(total) + np.sqrt(0.45) * slow)
        i = np.arange(total) - 4
        drift = r.uniform(-0.07, 0.04) * np.clip(i / max(count, 25), 0, 1)
        hurry = r.uniform(-0.02, 0.09) * np.exp(-np.clip(i, 0, None) / 2.5)
        cadence = self.cadence * (1 + drift + hurry) * r.uniform(0.97, 1.03)
        return np.clip(1 / cadence * (1 + np.clip(e, -2.6 * self.cv, 2.6 * self.cv)), 1 / 2.05, 1 / 0.98)

    def _force(self, count: int, wave: float, calm: float) -> tuple[Array, Array]:
        """Clock, and force [g] with the sea's wave (RMS [g]) under it; calm: share of the usual scatter."""
        r, total = self.r, count + 8
        at = np.concatenate([[0], np.cumsum(self._periods(count))])
        at = at - at[4]
        t = np.arange(at[1], at[-2], 1 / FS)
        phi = np.asarray(PchipInterpolator(at, np.arange(len(at)) - 4)(t))
        i = np.arange(total) - 4
        fade = 1 + r.uniform(0, 0.15) * np.exp(-np.clip(i, 0, None) / 3)
        fade = fade - r.uniform(0, 0.18) * np.clip(i / max(count, 40), 0, 1)
        m = []
        for sd in self.scatter * calm:
            drawn = np.clip(1 + sd * r.standard_normal(total), 1 - 2.2 * sd, 1 + 2.2 * sd)
            m.append(along(phi, np.concatenate([drawn, [1, 1]])))
        m[0] = m[0] * along(phi, np.concatenate([fade, fade[-1:], fade[-1:]]))
        n = balanced(self.style.force(phi + self.phase, m), phi, count + 1)
        begins = -r.uniform(0.3, 0.5)
        over = count - 1 + min(self.share + 0.12, 0.8)
        risen, gone = (phi - begins) / (-0.08 - begins), (phi - over) / (count - 0.03 - over)
        rise, fall = 0.5 - 0.5 * np.cos(PI * np.clip(risen, 0, 1)), 0.5 + 0.5 * np.cos(PI * np.clip(gone, 0, 1))
        swell = sum(np.sin(2 * PI * r.uniform(0.22, 0.75) * t + r.uniform(0, 6.3)) for _ in range(3))
        return phi, 1 + (n - 1) * (rise * fall) + wave * swell / 1.22 * np.clip((phi + 0.6) / 0.4, 0, 1)

    def _told(self, count: int, phi: Array, n: Array) -> Burst | None:
        """What is true of n; None where onsets and push ends could be read in two ways, or nobody pumps like that."""
        ups, downs = crossings(n)
        samples = np.arange(len(n)) / FS
        up_at, down_at = np.interp(ups, samples, phi), np.interp(downs, samples, phi)
        u = ups[(up_at > -0.25) & (up_at < count - 0.35)]
        if len(u) != count:
            return None
        d = downs[(downs > u[0]) & (down_at < count)][:count]
        if len(d) < count or not (np.all(d > u) and np.all(u[1:] > d[:-1])):
            return None
        q = n[int(u[0] * FS) - 30 : int(d[-1] * FS) + 30]
        pushes = [n[int(x * FS) : int(y * FS) + 1] for x, y in zip(u, d, strict=True)]
        peak, periods = np.array([push.max() for push in pushes]), np.diff(u)
        if nearest_turn(q) < 0.02:
            return None
        if count >= 4:
            share = np.median((d[:-1] - u[:-1]) / periods)
            if not (0.17 < share < 0.56 and 1.38 < np.median(peak) < 2.62):
                return None
            if not 1 / 1.97 < np.median(periods) < 1 / 1.03:
                return None
        if count >= 12 and not 0.015 < periods.std() / periods.mean() < 0.078:
            return None
        if (q < 0.02).mean() > 0.04 or q.min() < -0.08 or peak.max() > 3.1 or peak.min() < 1.18:
            return None
        keep = np.flatnonzero((phi > -0.6) & (phi < count + 0.05))
        s = keep[0] / FS
        peak_at = u - s + np.array([push.argmax() for push in pushes]) / FS
        period = float(np.median(periods[-5:])) if count > 1 else 1 / self.cadence
        return Burst(n[keep], phi[keep], u - s, d - s, peak_at, peak, period)

    def burst(self, count: int, wave: float) -> Burst:
        """count pumps, one at least, on a wave of this RMS [g]; raises Unclean where none of 80 drawn is clean."""
        for tried in range(80):
            burst = self._told(count, *self._force(count, wave, max(0.25, 0.97 ** max(tried - 5, 0))))
            if burst:
                return burst
        raise Unclean(f"{type(self.style).__name__}, {count} pumps")
