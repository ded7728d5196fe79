"""The hot path: rows to everything that is computed at each grid point, in one loop.

    row -> axes that move, interval -> [ grid point: mean of its cell -> upright -> vertical -> filters of cycles and
                                         afoot -> magnitude for motion and flights ]* -> slaps

Python takes longer to call a function than to step a filter, and a phone has one slow core to spare: so what is plain
arithmetic stands here, in local variables that are written back when a list of rows ends or somebody is about to look.
Nothing is decided here. The parts that decide say beforehand, as bounds, from which values on they want to see a point;
between these a point costs them a comparison each. tests/core/plain.py has the same as one function a step, with every
point shown to every part: it gives the same bits.

A row that does not simply follow (the first, late, far ahead, broken, a fix) ends the loop and goes back to the engine.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterator
from typing import Protocol

from .afoot import MEAN_GAIN, OFF, WARM, Afoot
from .afoot import RING as SHORT_RING
from .cycles import JUMP, JUMP_POINTS, RING, CycleDetector
from .events import ACCEL, GYRO, Event, Row
from .flights import FlightFinder
from .gait import Gait
from .late import MARKS
from .motion import BLOCK, BLOW_G, FREE_FALL_G, HI_FALLS, HI_RISES, RAIL_G
from .slaps import MEAN_S, MOST, RESTLESS, SlapFinder
from .units import STEP, G
from .unseen import carried_on, points_until
from .upright import COLD, GAIN, RATE_HOLD, SMALLEST

GAP = 0.1
"""No sample for this long [s], and four intervals, is a gap that is reported."""
RAIL = RAIL_G * G
RANGE = 40.0 * G
"""No phone's accelerometer reads beyond this [m/s2]: such rows are broken."""
TURN_RANGE = 40.0
"""Nor its gyroscope beyond this [rad/s] (they end at 2000 degrees a second, 34.9 rad/s: common practice, no source).
One such row would turn up over for seconds."""
STUCK_TIME = 1.0
"""All three axes the same for this long [s] is a stuck sensor."""
SETTLED, HALVED, HALVED_TIME = 200, 1.7, 2.0
"""After so many rows the interval (running mean of 50) is the usual one; that much longer for that long [s], and half
of the samples are missing."""
USUAL = 2e-4
"""Gain with which the usual interval grows: it takes on a new rate within some 5000 rows. It shrinks at once."""


class Host(Protocol):
    """Who hears of what the loop comes across: the engine."""

    @property
    def due(self) -> float:
        """The next deadline while rows keep coming [s]."""

    def fire(self, now: float, last: float) -> None:
        """Deadlines are due: the next row is of `now`, the one before was of `last` [s]."""

    def hear(self, events: list[Event]) -> None:
        """Events for everybody. Empties the list."""

    def bounced(self, events: list[Event]) -> None:
        """Bounces, in which nobody inside is interested. Empties the list."""

    def missed(self, start: float, end: float) -> None:
        """A gap [s]."""

    def fault(self, kind: str, at: float) -> None:
        """Something is wrong with the sensor at a time [s]."""


class Front:
    """`run` takes rows, `restart` begins anew with a first sample; the parts hear of it by themselves."""

    def __init__(
        self, host: Host, cycles: CycleDetector, afoot: Afoot, gait: Gait, flights: FlightFinder, slaps: SlapFinder
    ) -> None:
        self._host = host
        self._cycles, self._afoot, self._gait, self._flights, self._slaps = cycles, afoot, gait, flights, slaps
        self.last = math.nan
        """Time of the last row [s], NaN before the first."""
        self.axes = (math.nan, math.nan, math.nan)
        """The last row's acceleration."""
        self.since = (math.nan, math.nan, math.nan)
        """Since when each axis has read the same [s]."""
        self.grid_time = 0.0
        """Time of the newest grid point [s]."""
        self.interval = 0.01
        """Between rows [s], running mean."""
        self.marks: deque[tuple[float, float]] = deque(maxlen=MARKS)
        """Time and first axis of a row each tenth of a second."""
        self.moved = math.nan
        self._stuck = False
        self._rate = (0.01, SETTLED, math.nan)  # usual interval, rows until it counts, slow since
        self._up = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0)  # two low-passes of each axis, points so far
        self._turn = (0.0, 0.0, 0.0, 0)  # angle a step about each axis, steps for which it holds
        self._motion = (0.0, 0.0, 0, 1.0)  # of the block: squares, top, points; envelope
        self.restart(0.0, 0.0, 0.0, 0.0)

    def begin(self, t: float, x: float, y: float, z: float) -> None:
        """The very first row."""
        self.last = self.moved = t
        self.axes = (x, y, z)
        self.restart(t, x, y, z)

    def restart(self, t: float, x: float, y: float, z: float) -> None:
        """Begin the grid anew with a first sample at t [s]; its first cell ends a step later. Which way is up is not
        forgotten."""
        self._origin = t
        self._before = (t, x, y, z)
        self._cell = (0.0, 0.0, 0.0, t + STEP, 1)  # integrals of the cell so far, its end, its number
        self._n = 0
        self._fine = (1.0, 1.0, 1.0, 0)  # last two verticals, last smoothed one, points held back
        self._coarse = (0.0, 0.0)
        self._slow = (1.0, 0.0, 0.0, 0.0, 0.0, 0.0)  # mean, then input and states of the sections of afoot's filter
        self._motion = (0.0, 0.0, 0, self._motion[3])

    def run(self, rows: Iterator[Row], shift: float, reach: float) -> Row | None:
        """Take rows; give back the first that does not simply follow, None when all did.

        shift: what their times are off [s]; reach: how far ahead of the last a row may lie [s] (NEXT).
        """
        host, cycles, afoot, flights, slaps = self._host, self._cycles, self._afoot, self._flights, self._slaps
        motion, gait, sqrt = flights.motion, self._gait, math.sqrt
        due, last, stuck, interval, moved = host.due, self.last, self._stuck, self.interval, self.moved
        (px, py, pz), (since_x, since_y, since_z) = self.axes, self.since
        usual, settling, slow_since = self._rate
        origin, n, g = self._origin, self._n, self.grid_time
        t0, x0, y0, z0 = self._before
        cell_x, cell_y, cell_z, edge, number = self._cell
        ux, uy, uz, mx, my, mz, warming = self._up
        wx, wy, wz, turning = self._turn
        one, two, s, held = self._fine
        z1, z2 = self._coarse
        slow_mean, slow_x, slow_u, slow_1, slow_2, slow = self._slow
        b, a1, a2 = cycles.coarse
        q0, q1, r, r1, r2 = afoot.low
        w0, w1, _ = cycles.weights
        raw, fine, late = cycles.raw, cycles.fine, afoot.raw
        ring_x, ring_y, ring_z = gait.x, gait.y, gait.z
        lowest, below, above, fine_from, give_up = cycles.bounds
        slow_lowest, slow_below, slow_above = afoot.bounds
        square, top, count, high = self._motion
        calmer, rougher, calm_at = motion.calmer, motion.rougher, motion.look_at
        loose, watch, marks = motion.loose, flights.watch, self.marks
        usual_g, tense = slaps.mean, slaps.tense
        # constants as locals, too: twice as quick to reach
        acceleration, rotation, step, nan = ACCEL, GYRO, STEP, math.nan
        half_step, most, least, sure, off, lean = 0.5 * STEP, RANGE, -RANGE, 0.99 * RANGE * RANGE, OFF, -OFF
        fastest = TURN_RANGE * TURN_RANGE
        under, over, jump, rail = -RESTLESS, RESTLESS, JUMP, RAIL
        b_twice, r_twice = 2.0 * b, 2.0 * r
        odd, unseen = None, []
        for row in rows:
            if row[0] != acceleration:
                if row[0] == rotation:
                    _, t, x, y, z = row
                    if x * x + y * y + z * z <= fastest and t - t == 0.0 and not t + shift < last:
                        wx, wy, wz, turning = x * step, y * step, z * step, RATE_HOLD
                        continue
                odd = row
                break
            _, t, x, y, z = row
            t += shift
            squares = x * x + y * y + z * z
            # one comparison for the three axes as a rule, and each by itself for what is near the end of the range
            if not (last < t <= last + reach and squares <= sure) and not (
                last < t <= last + reach and least <= x <= most and least <= y <= most and least <= z <= most
            ):
                odd = row
                break
            if t >= due:
                host.fire(t, last)
                due = host.due
            # ---- a row: do the axes move, does the rate hold? ----
            if x != px and y != py and z != pz:
                since_x = since_y = since_z = moved = t
                stuck = False
            elif x != px or y != py or z != pz:
                for here, there in ((x, px), (y, py), (z, pz)):
                    if here == there and not -rail < here < rail:
                        motion.railed = t
                since_x = t if x != px else since_x
                since_y = t if y != py else since_y
                since_z = t if z != pz else since_z
                moved = t
                stuck = False
            elif not stuck and t - moved > STUCK_TIME:
                stuck = True
                host.fault("stuck", t)
                due = host.due
            px, py, pz = x, y, z
            dt = t - last
            if dt < GAP:
                interval += 0.02 * (dt - interval)
                if interval < usual or settling:
                    usual, slow_since = interval, nan
                    if settling:
                        settling -= 1
                elif interval <= HALVED * usual:
                    usual += USUAL * (interval - usual)
                    slow_since = nan
                elif slow_since != slow_since:
                    slow_since = t
                elif t - slow_since > HALVED_TIME:
                    usual, slow_since = interval, nan
                    host.fault("rate_halved", t)
                    due = host.due
            else:
                before = interval
                interval += 0.02 * (min(dt, 4.0 * before) - before)  # 10 Hz is slow, not a gap after every row
                if dt > 4.0 * before:
                    host.missed(last, t)
                    due, usual_g, tense = host.due, slaps.mean, slaps.tense
                    if (rhythm := cycles.rhythm) is not None:
                        left = points_until(t, edge)
                        unseen = carried_on((ring_x, ring_y, ring_z), n, left, rhythm, (x, y, z))
            last = t
            # ---- to the grid: a point is the mean, over its cell, of the straight lines between samples ----
            tb = t0
            xb, yb, zb = x0, y0, z0
            if t >= edge:
                span = t - t0
                slope_x, slope_y, slope_z = (x - x0) / span, (y - y0) / span, (z - z0) / span
            while t >= edge:
                at = edge - t0
                xe, ye, ze = x0 + slope_x * at, y0 + slope_y * at, z0 + slope_z * at
                half = 0.5 * (edge - tb)
                ax = (cell_x + (xb + xe) * half) / step
                ay = (cell_y + (yb + ye) * half) / step
                az = (cell_z + (zb + ze) * half) / step
                if unseen:
                    ax, ay, az = unseen.pop()
                g = edge - half_step
                cell_x = cell_y = cell_z = 0.0
                tb = edge
                xb, yb, zb = xe, ye, ze
                number += 1
                edge = origin + number * step
                # ---- upright: means turned with the sensor; the vertical is the part along them ----
                if turning:
                    turning -= 1
                    ux, uy, uz = ux - (wy * uz - wz * uy), uy - (wz * ux - wx * uz), uz - (wx * uy - wy * ux)
                    mx, my, mz = mx - (wy * mz - wz * my), my - (wz * mx - wx * mz), mz - (wx * my - wy * mx)
                gain = GAIN
                if warming < COLD:
                    warming += 1
                    gain = max(GAIN, 1.0 / warming)
                ux += gain * (ax - ux)
                uy += gain * (ay - uy)
                uz += gain * (az - uz)
                mx += gain * (ux - mx)
                my += gain * (uy - my)
                mz += gain * (uz - mz)
                size = sqrt(mx * mx + my * my + mz * mz)
                m = sqrt(ax * ax + ay * ay + az * az) / G
                if size < SMALLEST:
                    v = m
                else:
                    scale = 1.0 / (size * G)
                    v = ax * (mx * scale) + ay * (my * scale) + az * (mz * scale)
                # ---- cycles: fine and coarse view ----
                if n > WARM:
                    gain = MEAN_GAIN
                else:
                    gain = 1.0 / (n + 10)
                    if n == 0:
                        one = two = s = v
                        cycles.begin(g, v)
                        afoot.begin(g)
                i, j = n % RING, n % SHORT_RING
                n += 1
                ring_x[j] = ax
                ring_y[j] = ay
                ring_z[j] = az
                late[j] = v
                steady = v
                if (v - one > jump or one - v > jump) and held < JUMP_POINTS:
                    held += 1
                    steady = one
                else:
                    held = 0
                before = s
                raw[i] = steady
                s = fine[i] = w1 * one + w0 * (steady + two)
                two, one = one, steady
                h = steady - 1.0
                c = b * h + z1
                z1 = b_twice * h - a1 * c + z2
                z2 = b * h - a2 * c
                if c < lowest:
                    lowest = c
                if c < below or c > above or s >= fine_from or g > give_up:
                    cycles.n, cycles.lowest = n, lowest
                    cycles.point(g, before, s, c, t)
                    lowest, below, above, fine_from, give_up = cycles.bounds
                    if cycles.out:
                        self.since, self.grid_time = (since_x, since_y, since_z), g
                        flights.up = (mx, my, mz)
                        host.hear(cycles.out)
                        due, watch = host.due, flights.watch
                # ---- afoot: the late view ----
                slow_mean += gain * (v - slow_mean)
                h = v - 1.0 if lean < slow_mean - 1.0 < off else v - slow_mean
                slow_u = q0 * (h + slow_x) - q1 * slow_u
                slow_x = h
                before = slow
                slow = r * slow_u + slow_1
                slow_1 = r_twice * slow_u - r1 * slow + slow_2
                slow_2 = r * slow_u - r2 * slow
                if slow < slow_lowest:
                    slow_lowest = slow
                if slow < slow_below or slow >= slow_above:
                    afoot.n, afoot.lowest = n, slow_lowest
                    afoot.point(g, before, slow, t)
                    slow_lowest, slow_below, slow_above = afoot.bounds
                    if afoot.out:
                        host.bounced(afoot.out)
                # ---- motion: blocks and envelope of the magnitude ----
                flights.now = g
                h = m - 1.0
                square += h * h
                if m > top:
                    top = m
                if m < FREE_FALL_G or m > BLOW_G or loose:
                    motion.extreme(g, m, t)
                    loose = motion.loose
                count += 1
                if count == BLOCK:
                    motion.block(g, square, top)
                    marks.append((t, px))
                    count, square, top = 0, 0.0, 0.0
                if h < 0.0:
                    h = -h
                high += HI_RISES * (h - high) if h > high else HI_FALLS * (h - high)
                if high <= calmer or high > rougher or g >= calm_at:
                    motion.settle(g, high, t)
                    calmer, rougher, calm_at = motion.calmer, motion.rougher, motion.look_at
                if g >= watch:
                    flights.up = (mx, my, mz)
                    flights.look(g, t)
                    watch = flights.watch
                if flights.out:
                    host.hear(flights.out)
                    due, watch = host.due, flights.watch
            half = 0.5 * (t - tb)
            cell_x += (xb + x) * half
            cell_y += (yb + y) * half
            cell_z += (zb + z) * half
            t0 = t
            x0, y0, z0 = x, y, z
            # ---- slaps: does the magnitude stand out of its mean? ----
            m = sqrt(squares) / G
            h = m - usual_g
            if tense or dt >= GAP or not under <= h <= over:
                slaps.mean = usual_g
                slaps.look(t, dt, m)
                if slaps.found:
                    host.hear(slaps.found)
                    due, watch = host.due, flights.watch
                usual_g, tense = slaps.mean, slaps.tense
            else:
                usual_g += dt / MEAN_S * (MOST if h > MOST else -MOST if h < -MOST else h)
        # ---- back to where it is kept ----
        self.last, self._stuck, self.interval, self.moved = last, stuck, interval, moved
        self.axes, self.since = (px, py, pz), (since_x, since_y, since_z)
        self._rate = (usual, settling, slow_since)
        self._n, self.grid_time = n, g
        self._before = (t0, x0, y0, z0)
        self._cell = (cell_x, cell_y, cell_z, edge, number)
        self._up = (ux, uy, uz, mx, my, mz, warming)
        self._turn = (wx, wy, wz, turning)
        self._fine, self._coarse = (one, two, s, held), (z1, z2)
        self._slow = (slow_mean, slow_x, slow_u, slow_1, slow_2, slow)
        self._motion = (square, top, count, high)
        cycles.n = afoot.n = n
        cycles.lowest, afoot.lowest, slaps.mean = lowest, slow_lowest, usual_g
        flights.up = (mx, my, mz)
        return odd
