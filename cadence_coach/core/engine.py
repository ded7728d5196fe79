"""The engine: rows in, events out. It ties the parts together, checks the rows and decides nothing.

    rows -> checks -> grid -> upright -> cycles -> flights -> coach (with the beat) -> events

No thread, no clock: time comes with the rows, and `advance(now)` says that nothing earlier is still to come. Deadlines
that are due fire before the row that passes them, so that a replay gives the same events as live, however the rows are
cut.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterable
from typing import Any

from .afoot import Afoot
from .coach import Coach
from .cycles import STEP, CycleDetector
from .events import ACCEL, FAULTS, FIX, GYRO, CycleDone, Event, Fault, FlightEnded, Gap, Onset, PushEnd, Row, SpeedFix
from .filters import Resampler
from .flights import FlightFinder
from .gait import Gait
from .settings import Settings
from .slaps import SlapFinder
from .targets import BandTable
from .units import INFINITY, G
from .upright import Upright

SILENT = 2.0
"""No sample for this long [s] is a fault."""
GAP = 0.1
"""No sample for this long [s], and four intervals, is a gap that is reported."""
RANGE = 40.0 * G
"""No phone's accelerometer reads beyond this [m/s2]: such rows are broken."""
STUCK_TIME, STUCK_BOUNCES = 1.0, 4
"""All three axes the same for this long [s] is a stuck sensor; likewise one axis that had moved and is the same through
so many bounces."""
OLDEST_FIX, WORST_FIX = 2.0, 1.0
"""A fix older than this [s], or with a stated accuracy worse than this [m/s], is not believed."""
CLOCK_JUMP, FAR_AHEAD = 60.0, 3600.0
"""A step back by more than the first [s], or ahead by more than the second, is a jump of the sensor's clock; less is a
late row, or a gap."""
NEXT = 1.0
"""A row further than this [s] from the last is believed once another follows it: one wild stamp moves nothing. Across
such a gap nothing is joined: the detector forgets the signal."""
SETTLED, HALVED, HALVED_TIME = 200, 1.7, 2.0
"""After so many rows the interval (running mean of 50) is the usual one; that much longer for that long [s], and half
of the samples are missing."""
USUAL = 2e-4
"""Gain with which the usual interval grows: it takes on a new rate within some 5000 rows. It shrinks at once."""
SPEED_LOST = 10.0
"""Fixes came in this flight, and for this long [s] none that may be believed."""


class Engine:
    """`receive(rows)`, `advance(now)`, `command(...)`, `end()`, `events()`, `deadline`: see DEVELOPERS.md."""

    def __init__(self, settings: Settings | None = None, band: BandTable | None = None) -> None:
        self._coach = Coach(settings or Settings(), band)
        self._grid = Resampler(STEP)
        self._upright = Upright(STEP)
        self._cycles = CycleDetector()
        self._afoot = Afoot(STEP)
        self._gait = Gait()
        self._grid_time = 0.0
        self._flights = FlightFinder()
        self._slaps = SlapFinder()
        self._out: list[Event] = []
        self._last = math.nan
        self._shift = 0.0  # own time - the sensor's [s]: other than 0 once its clock was set back
        self._astray: tuple[float, float, float, float] | None = None
        self._interval = 0.01
        self._usual = 0.01
        self._settling = SETTLED
        self._slow_since = math.nan
        self._fix_known = math.nan
        self._axes = (math.nan, math.nan, math.nan)
        self._moved = math.nan
        self._x_since = self._y_since = self._z_since = math.nan
        self._stuck = self._axis_stuck = False
        self._bounces: deque[float] = deque(maxlen=STUCK_BOUNCES)
        self._silent_said = False
        self._counts: dict[str, int] = {}
        self._told: dict[str, int] = {}
        self._ended = False

    # ---- in ----

    def receive(self, rows: Iterable[Row]) -> None:
        """Take rows in the order of their delivery (see events)."""
        for row in rows:
            kind = row[0]
            if kind == ACCEL:
                self._accel(row[1], row[2], row[3], row[4])
            elif kind == GYRO:
                self._gyro(row[1], row[2], row[3], row[4])
            elif kind == FIX:
                self._fix(row)
            else:
                raise ValueError(f"row of unknown kind {kind!r}; the first entry must be ACCEL, GYRO or FIX")

    def advance(self, now: float) -> None:
        """Time has come to `now` [s] with no row: let what is due happen."""
        while (at := self.deadline) <= now and at < INFINITY:
            if at >= self._silence:
                self._silent_said = True
                self._fault("silent", at)
            elif at >= self._speed_due:
                self._fix_known = math.nan
                self._fault("speed_lost", at)
            else:
                self._coach.advance(at)
                self._collect()

    def command(self, name: str, **values: Any) -> None:
        """A wish of the rider: see `coach.COMMANDS`; or "fault", with the `kind` (of `events.FAULTS`) of what is wrong
        with the machine. ValueError for a name or value that is none."""
        if name == "fault":
            self._machine(**values)
            return
        if self._last == self._last:
            self._coach.advance(self._last)  # so that the answer carries the time of the wish
        self._coach.command(name, **values)
        self._collect()

    def end(self) -> None:
        """No more rows: what ran is over."""
        if self._ended:
            return
        self._ended = True
        if self._astray is not None:
            self._bad("backward_time", self._last)
        if self._last == self._last:
            self._coach.advance(self._last)  # so that its last words carry the time of the end
            self._collect()
            self._afoot.end(self._last)
            self._out += self._afoot.out
            self._afoot.out.clear()
            self._flights.end(self._last)
            self._pass(self._flights.out)
        at = self._last if self._last == self._last else 0.0
        for kind, count in self._counts.items():
            if count > self._told.get(kind, 0):
                self._tell(kind, at, at)
        self._coach.end()
        self._collect()

    # ---- out ----

    def events(self) -> list[Event]:
        """What has come since last asked, in the order it was known."""
        out, self._out = self._out, []
        return out

    @property
    def deadline(self) -> float:
        """When something happens by itself next [s]; inf for never."""
        return min(self._coach.deadline, self._silence, self._speed_due)

    @property
    def time(self) -> float | None:
        """The time of the last row taken [s], None before the first."""
        return self._last if self._last == self._last else None

    @property
    def _silence(self) -> float:
        return self._last + SILENT if self._last == self._last and not self._silent_said else INFINITY

    @property
    def _speed_due(self) -> float:
        return self._fix_known + SPEED_LOST if self._fix_known == self._fix_known else INFINITY

    # ---- rows ----

    def _accel(self, t: float, x: float, y: float, z: float) -> None:
        if not (-RANGE <= x <= RANGE and -RANGE <= y <= RANGE and -RANGE <= z <= RANGE and t - t == 0.0):
            numbers = all(map(math.isfinite, (t, x, y, z)))
            self._bad("out_of_range" if numbers else "bad_value", t + self._shift)
            return
        t += self._shift
        last = self._last
        if not last < t <= last + NEXT and last == last:
            t = self._far(t, x, y, z)
            if t != t:
                return
            last = self._last
        elif self._astray is not None:  # nothing followed it
            self._astray = None
            self._bad("backward_time", t)
        if t >= self._coach.deadline or t >= last + SILENT or t >= self._fix_known + SPEED_LOST:
            self.advance(t)
        px, py, pz = self._axes
        self._axes = (x, y, z)
        moved = False
        if x != px and px == px:
            self._x_since = t
            moved = True
        if y != py and py == py:
            self._y_since = t
            moved = True
        if z != pz and pz == pz:
            self._z_since = t
            moved = True
        if moved:
            self._moved, self._stuck = t, False
        elif not self._stuck and t - self._moved > STUCK_TIME:
            self._stuck = True
            self._fault("stuck", t)
        dt = t - last
        self._last = t
        self._silent_said = False
        if dt < GAP:
            interval = self._interval = self._interval + 0.02 * (dt - self._interval)
            if interval < self._usual or self._settling:
                self._usual = interval
                self._slow_since = math.nan
                if self._settling:
                    self._settling -= 1
            elif interval > HALVED * self._usual:
                self._halved(t)
            else:
                self._usual += USUAL * (interval - self._usual)
                self._slow_since = math.nan
        elif dt != dt:
            self._moved = t
            self._grid.restart(t, x, y, z)
            return
        else:
            usual = self._interval
            self._interval = usual + 0.02 * (min(dt, 4.0 * usual) - usual)  # 10 Hz is slow, not a gap after every row
            if dt > 4.0 * usual:
                self._pass([Gap(last, t, t)])
        upright, cycles, flights = self._upright, self._cycles, self._flights
        afoot, gait = self._afoot, self._gait
        for g, gx, gy, gz in self._grid.push(t, x, y, z):
            v = upright.vertical(gx, gy, gz)
            gait.push(gx, gy, gz)
            self._grid_time = g
            cycles.push(g, v, t)
            if cycles.out:
                self._pass(cycles.out)
            afoot.push(g, v, t)
            if afoot.out:
                self._out += afoot.out
                afoot.out.clear()
            flights.step(g, v, math.sqrt(gx * gx + gy * gy + gz * gz) / G, t, upright)
            if flights.out:
                self._pass(flights.out)
        self._slaps.receive(t, x, y, z)
        if self._slaps.found:
            self._pass(self._slaps.found)

    def _gyro(self, t: float, x: float, y: float, z: float) -> None:
        if not (x - x == 0.0 and y - y == 0.0 and z - z == 0.0 and t - t == 0.0):
            self._bad("bad_value", t + self._shift)
            return
        if t + self._shift < self._last:
            self._bad("late_rotation", t + self._shift)
            return
        self._upright.turned(x, y, z)

    def _fix(self, row: Row) -> None:
        _, arrived, fixed, speed, lat, lon, accuracy, heading = row
        if speed != speed or speed < 0.0 or arrived - fixed > OLDEST_FIX or accuracy > WORST_FIX:
            return
        arrived, fixed, last = arrived + self._shift, fixed + self._shift, self._last
        if not -INFINITY < fixed < INFINITY or arrived > last + CLOCK_JUMP:
            return
        known = max(arrived, last) if last == last else arrived
        if known >= self.deadline:
            self.advance(known)
        if self._flights.in_flight:
            self._fix_known = known
        self._pass([SpeedFix(fixed, known, speed, _known(lat), _known(lon), _known(accuracy), _known(heading))])

    # ---- trouble ----

    def _bad(self, kind: str, t: float) -> None:
        """Count a row; tell of the first, and then each time the number has doubled: a broken file must not flood the
        outing. How many there were in all is told at the end."""
        count = self._counts[kind] = self._counts.get(kind, 0) + 1
        if count & (count - 1) == 0:
            known = self._last if self._last == self._last else t if t - t == 0.0 else 0.0
            self._tell(kind, t if known - NEXT <= t <= known else known, known)

    def _fault(self, kind: str, at: float) -> None:
        """Something other than a single row: told each time."""
        self._counts[kind] = self._counts.get(kind, 0) + 1
        self._tell(kind, at, at)

    def _tell(self, kind: str, time: float, known: float) -> None:
        self._told[kind] = self._counts[kind]
        self._pass([Fault(time, known, kind, self._counts[kind])])

    @property
    def skipped(self) -> dict[str, int]:
        """How many rows were skipped so far, by fault kind."""
        return dict(self._counts)

    def _machine(self, kind: str) -> None:
        """Battery, disk, sound: what the shell watches."""
        if kind not in FAULTS:
            raise ValueError(f"no such fault: {kind!r}; there are {', '.join(FAULTS)}")
        self._fault(kind, self._last if self._last == self._last else 0.0)

    def _far(self, t: float, x: float, y: float, z: float) -> float:
        """A row that does not follow the last: its own time if another row bears it out, else NaN: it is not used, or
        not yet."""
        last, before = self._last, self._astray
        if t == last:
            self._bad("repeated_time", t)
        elif last - CLOCK_JUMP <= t < last:
            self._bad("backward_time", t)
        elif before is None:
            self._astray = (t, x, y, z)
        elif t == before[0]:
            self._bad("repeated_time", t)
        elif 0.0 < t - before[0] <= NEXT or last < before[0] < t <= last + CLOCK_JUMP:
            self._astray = None
            return self._ahead(before, t) if t > last else self._back(t)
        else:
            self._astray = (t, x, y, z)
            self._bad("backward_time", t)
        return math.nan

    def _ahead(self, first: tuple[float, float, float, float], t: float) -> float:
        """The stream goes on at `first` after a long gap, as the row at t bears out. Nothing is joined across."""
        last = self._last
        self.advance(t)
        self._pass([Gap(last, t, first[0])])
        if t - last > FAR_AHEAD:
            self._fault("clock_jump", t)
        self._afoot.end(t)
        self._out += self._afoot.out
        self._afoot.out.clear()
        self._flights.gap(t)
        self._pass(self._flights.out)
        self._afoot.restart()
        self._gait.restart()
        self._cycles.restart()
        self._grid.restart(*first)
        self._last = self._moved = first[0]
        self._silent_said = False
        return t

    def _back(self, t: float) -> float:
        """The sensor's clock was set back: own time goes on, and so does the rider."""
        at = self._last + 2.0 * self._interval
        self._shift += at - t
        self.advance(at)
        self._fault("clock_jump", at)
        return at

    def _halved(self, t: float) -> None:
        if self._slow_since != self._slow_since:
            self._slow_since = t
        elif t - self._slow_since > HALVED_TIME:
            self._usual, self._slow_since = self._interval, math.nan
            self._fault("rate_halved", t)

    def _bounce(self, known: float) -> None:
        """An axis that stood still through the last bounces is stuck; one that never moved is none."""
        self._bounces.append(known)
        since = self._bounces[0]
        stuck = len(self._bounces) == STUCK_BOUNCES and (
            self._x_since < since or self._y_since < since or self._z_since < since
        )
        if stuck and not self._axis_stuck:
            self._fault("stuck", known)
        self._axis_stuck = stuck

    # ---- the way of an event ----

    def _pass(self, events: list[Event]) -> None:
        """Hand events on: detector to flights, everything to the coach and out. Empties the list."""
        taken = list(events)
        events.clear()
        for event in taken:
            self._out.append(event)
            self._slaps.hear(event)
            self._coach.receive(event)
            self._collect()
            if isinstance(event, FlightEnded):
                self._fix_known = math.nan
            if isinstance(event, Onset | PushEnd | CycleDone):
                if isinstance(event, Onset):
                    self._bounce(event.known)
                if isinstance(event, CycleDone):
                    self._flights.note_legs(event.number, self._gait.two_legged(event, self._grid_time))
                self._flights.receive(event)
                if self._flights.out:
                    self._pass(self._flights.out)

    def _collect(self) -> None:
        self._out.extend(self._coach.events())


def _known(value: float) -> float | None:
    return value if value == value else None
