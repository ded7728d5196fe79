"""The hot path once more, to be read and to be compared with: one function a step, one sample at a time.

`core/front.py` has all of it in one loop that shows a part only the points that can matter to it. Here every part is
shown every point. `PlainFront` stands in for `Front` in an engine; both must give the same bits (test_front.py), so
that what is tested of these steps holds for the loop.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from cadence_coach.core import afoot as late
from cadence_coach.core import cycles as fast
from cadence_coach.core import front, motion, upright
from cadence_coach.core.afoot import Afoot
from cadence_coach.core.cycles import STEP, CycleDetector
from cadence_coach.core.events import ACCEL, GYRO, Row
from cadence_coach.core.flights import FlightFinder
from cadence_coach.core.gait import Gait
from cadence_coach.core.motion import Motion
from cadence_coach.core.slaps import SlapFinder
from cadence_coach.core.units import G
from cadence_coach.core.unseen import carried_on, points_until


class Resampler:
    """Irregular samples to a fixed grid (see core/filters)."""

    def __init__(self, step: float) -> None:
        self.step = step

    def restart(self, t: float, x: float, y: float, z: float) -> None:
        self.before = (t, x, y, z)
        self.origin = t
        self.index = 1
        self.edge = t + self.step
        self.cell = [0.0, 0.0, 0.0]

    def push(self, t: float, x: float, y: float, z: float) -> list[tuple[float, float, float, float]]:
        """Take a sample later than the last; give the grid points (time, x, y, z) that it completes."""
        t0, *a = self.before
        b, h = [x, y, z], self.step
        out = []
        tb, ab = t0, a
        while t >= self.edge:
            ends = [p + (q - p) / (t - t0) * (self.edge - t0) for p, q in zip(a, b, strict=True)]
            half = 0.5 * (self.edge - tb)
            means = [(u + (p + q) * half) / h for u, p, q in zip(self.cell, ab, ends, strict=True)]
            out.append((self.edge - 0.5 * h, *means))
            self.cell = [0.0, 0.0, 0.0]
            tb, ab = self.edge, ends
            self.index += 1
            self.edge = self.origin + self.index * h
        half = 0.5 * (t - tb)
        self.cell = [u + (p + q) * half for u, p, q in zip(self.cell, ab, b, strict=True)]
        self.before = (t, x, y, z)
        return out  # type: ignore[return-value]


class Upright:
    """Grid samples [m/s2] and rotation rates [rad/s] to the vertical specific force [g] (see core/upright)."""

    def __init__(self) -> None:
        self.rate: tuple[float, float, float] | None = None
        self.held = 0
        self.count = 0
        self.first = [0.0, 0.0, 0.0]
        self.mean = [0.0, 0.0, 0.0]
        """Gravity in the sensor's axes [m/s2]."""

    def turned(self, *rate: float) -> None:
        self.rate, self.held = rate, 0  # type: ignore[assignment]

    def vertical(self, *a: float) -> float:
        if self.rate is not None and self.held < upright.RATE_HOLD:
            self.held += 1
            self.first, self.mean = self._turned(self.first), self._turned(self.mean)
        else:
            self.rate = None
        gain = upright.GAIN
        if self.count < upright.COLD:
            self.count += 1
            gain = max(gain, 1.0 / self.count)
        self.first = [m + gain * (x - m) for m, x in zip(self.first, a, strict=True)]
        self.mean = [m + gain * (x - m) for m, x in zip(self.mean, self.first, strict=True)]
        x, y, z = self.mean
        size = math.sqrt(x * x + y * y + z * z)
        if size < upright.SMALLEST:
            return magnitude(*a)
        scale = 1.0 / (size * G)
        return a[0] * (x * scale) + a[1] * (y * scale) + a[2] * (z * scale)

    def _turned(self, v: list[float]) -> list[float]:
        assert self.rate is not None
        wx, wy, wz = (w * STEP for w in self.rate)
        x, y, z = v
        return [x - (wy * z - wz * y), y - (wz * x - wx * z), z - (wx * y - wy * x)]


def magnitude(x: float, y: float, z: float) -> float:
    return math.sqrt(x * x + y * y + z * z) / G


class Cycles:
    """Feeds a CycleDetector: `push` a grid point, events in `out`."""

    def __init__(self, detector: CycleDetector | None = None) -> None:
        self.detector = detector or CycleDetector()
        self.out = self.detector.out
        self.restart()

    def restart(self) -> None:
        self.n = self.held = 0
        self.z1 = self.z2 = 0.0

    def push(self, time: float, v: float, known: float) -> None:
        d = self.detector
        if self.n == 0:
            d.begin(time, v)
            self.one = self.two = self.s = v
        if abs(v - self.one) > fast.JUMP and self.held < fast.JUMP_POINTS:
            self.held += 1
            v = self.one
        else:
            self.held = 0
        d.raw[self.n % fast.RING] = v
        before, self.s = self.s, d.weights[1] * self.one + d.weights[0] * (v + self.two)
        d.fine[self.n % fast.RING] = self.s
        self.two, self.one = self.one, v
        b, a1, a2 = d.coarse
        x = v - 1.0
        c = b * x + self.z1
        self.z1 = 2.0 * b * x - a1 * c + self.z2
        self.z2 = b * x - a2 * c
        d.lowest = min(d.lowest, c)
        self.n = d.n = self.n + 1
        d.point(time, before, self.s, c, known)


class Late:
    """Feeds an Afoot: `push` a grid point, bounces in `out`; `c` is the low-pass [g]."""

    def __init__(self, afoot: Afoot | None = None) -> None:
        self.afoot = afoot or Afoot(STEP)
        self.out = self.afoot.out
        self.restart()

    def restart(self) -> None:
        self.n = 0
        self.mean = 1.0
        self.x = self.u = self.z1 = self.z2 = self.c = 0.0

    def push(self, time: float, v: float, known: float) -> None:
        a = self.afoot
        if self.n == 0:
            a.begin(time)
        a.raw[self.n % late.RING] = v
        self.mean += (late.MEAN_GAIN if self.n > late.WARM else 1.0 / (self.n + 10)) * (v - self.mean)
        p, q, b, a1, a2 = a.low
        x = v - 1.0 if abs(self.mean - 1.0) < late.OFF else v - self.mean
        self.u = p * (x + self.x) - q * self.u
        self.x = x
        before, self.c = self.c, b * self.u + self.z1
        self.z1 = 2.0 * b * self.u - a1 * self.c + self.z2
        self.z2 = b * self.u - a2 * self.c
        a.lowest = min(a.lowest, self.c)
        self.n = a.n = self.n + 1
        a.point(time, before, self.c, known)


class Magnitude:
    """Feeds a Motion: `push` a grid point's magnitude [g]."""

    def __init__(self, of: Motion) -> None:
        self.motion, self.high = of, 1.0
        self.restart()

    def restart(self) -> None:
        self.square, self.top, self.count = 0.0, 0.0, 0

    def push(self, time: float, n: float, known: float) -> None:
        off = n - 1.0
        self.square += off * off
        self.top = max(self.top, n)
        self.motion.extreme(time, n, known)
        self.count += 1
        if self.count == motion.BLOCK:
            self.motion.block(time, self.square, self.top)
            self.square, self.top, self.count = 0.0, 0.0, 0
        gain = motion.HI_RISES if abs(off) > self.high else motion.HI_FALLS
        self.high += gain * (abs(off) - self.high)
        self.motion.settle(time, self.high, known)


class Points:
    """Feeds a FlightFinder: `step` a grid point's magnitude [g]."""

    def __init__(self, finder: FlightFinder) -> None:
        self.finder = finder
        self.magnitude = Magnitude(finder.motion)

    def step(self, time: float, n: float, known: float) -> None:
        self.finder.now = time
        self.magnitude.push(time, n, known)
        self.finder.look(time, known)


class PlainFront:
    """Stands in for core.front.Front."""

    def __init__(
        self,
        host: front.Host,
        cycles: CycleDetector,
        afoot: Afoot,
        gait: Gait,
        flights: FlightFinder,
        slaps: SlapFinder,
    ) -> None:
        self.host, self.gait, self.slaps = host, gait, slaps
        self.grid, self.upright = Resampler(STEP), Upright()
        self.cycles, self.late, self.points = Cycles(cycles), Late(afoot), Points(flights)
        self.last = self.moved = self.slow_since = math.nan
        self.axes = self.since = (math.nan, math.nan, math.nan)
        self.grid_time, self.interval, self.usual, self.settling = 0.0, 0.01, 0.01, front.SETTLED
        self.stuck = False
        self.marks: list[tuple[float, float]] = []

    def begin(self, t: float, x: float, y: float, z: float) -> None:
        self.last = self.moved = t
        self.axes = (x, y, z)
        self.restart(t, x, y, z)

    def restart(self, t: float, x: float, y: float, z: float) -> None:
        self.grid.restart(t, x, y, z)
        self.cycles.restart()
        self.late.restart()
        self.points.magnitude.restart()

    def run(self, rows: Iterator[Row], shift: float, reach: float) -> Row | None:
        for row in rows:
            t, numbers = row[1] + shift, row[2:5]
            good = all(map(math.isfinite, (t, *numbers)))
            follows = self.last < t <= self.last + reach
            slow = good and sum(v * v for v in numbers) <= front.TURN_RANGE**2
            if row[0] == GYRO and slow and not t < self.last:
                self.upright.turned(*numbers)
            elif row[0] == ACCEL and good and follows and max(map(abs, numbers)) <= front.RANGE:
                self._row(t, *numbers)
            else:
                return row
        return None

    def _row(self, t: float, x: float, y: float, z: float) -> None:
        host, before = self.host, self.last
        if t >= host.due:
            host.fire(t, before)
        self.since = tuple(  # type: ignore[assignment]
            t if a != b else since for a, b, since in zip((x, y, z), self.axes, self.since, strict=True)
        )
        if (x, y, z) != self.axes:
            self.moved, self.stuck = t, False
        elif not self.stuck and t - self.moved > front.STUCK_TIME:
            self.stuck = True
            host.fault("stuck", t)
        same = [a for a, b in zip((x, y, z), self.axes, strict=True) if a == b]
        if len(same) < 3 and any(abs(a) >= front.RAIL for a in same):
            self.points.finder.motion.railed = t
        self.axes, self.last = (x, y, z), t
        unseen = []
        detector, gait = self.cycles.detector, self.gait
        if self._rate(before, t) and detector.rhythm is not None:
            count = points_until(t, self.grid.edge)
            unseen = carried_on((gait.x, gait.y, gait.z), self.cycles.n, count, detector.rhythm, (x, y, z))
        for g, *point in self.grid.push(t, x, y, z):
            self._point(g, *(unseen.pop() if unseen else point), t)
        self.slaps.look(t, t - before, magnitude(x, y, z))
        if self.slaps.found:
            host.hear(self.slaps.found)

    def _rate(self, before: float, t: float) -> bool:
        """Was there a gap?"""
        dt, old = t - before, self.interval
        if dt >= front.GAP:
            self.interval = old + 0.02 * (min(dt, 4.0 * old) - old)
            if dt > 4.0 * old:
                self.host.missed(before, t)
            return dt > 4.0 * old
        self.interval = old + 0.02 * (dt - old)
        slow = self.interval > front.HALVED * self.usual
        if self.interval < self.usual or self.settling:
            self.usual = self.interval
            self.settling = max(0, self.settling - 1)
            self.slow_since = math.nan
        elif not slow:
            self.usual += front.USUAL * (self.interval - self.usual)
            self.slow_since = math.nan
        elif math.isnan(self.slow_since):
            self.slow_since = t
        elif t - self.slow_since > front.HALVED_TIME:
            self.usual, self.slow_since = self.interval, math.nan
            self.host.fault("rate_halved", t)
        return False

    def _point(self, g: float, ax: float, ay: float, az: float, t: float) -> None:
        host, finder, gait = self.host, self.points.finder, self.gait
        v = self.upright.vertical(ax, ay, az)
        at = self.cycles.n % late.RING
        gait.x[at], gait.y[at], gait.z[at] = ax, ay, az
        self.grid_time = g
        finder.up = tuple(self.upright.mean)  # type: ignore[assignment]
        self.cycles.push(g, v, t)
        if self.cycles.out:
            host.hear(self.cycles.out)
        self.late.push(g, v, t)
        if self.late.out:
            host.bounced(self.late.out)
        self.points.step(g, magnitude(ax, ay, az), t)
        if self.points.magnitude.count == 0:
            self.marks.append((t, self.axes[0]))
        if finder.out:
            host.hear(finder.out)
