"""The engine: rows in, events out. It ties the parts together, checks the rows and decides nothing.

    rows -> checks -> grid -> upright -> cycles -> flights -> coach (with the beat) -> events

No thread, no clock: time comes with the rows, and `advance(now)` says that nothing earlier is still to come. Deadlines that are due
fire before the row that passes them, so that a replay gives the same events as live, however the rows are cut.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from .coach import Coach
from .cycles import STEP, CycleDetector
from .events import ACCEL, FAULTS, FIX, GYRO, CycleDone, Event, Fault, Gap, Onset, PushEnd, Row, SpeedFix
from .filters import Resampler
from .flights import FlightFinder
from .settings import Settings
from .slaps import SlapFinder
from .targets import BandTable
from .units import INFINITY, G
from .upright import Upright

SILENT = 2.0
"""No sample for this long [s] is a fault."""
GAP = 0.1
"""No sample for this long [s], and four intervals, is a gap that is reported."""
LONG_GAP = 1.0
"""Across a longer gap nothing is joined: the detector forgets the signal."""
RANGE = 40.0 * G
"""No phone's accelerometer reads beyond this [m/s2]: such rows are broken."""
STUCK_TIME = 1.0
"""All three axes the same for this long [s] is a stuck sensor."""
OLDEST_FIX, WORST_FIX = 2.0, 1.0
"""A fix older than this [s], or with a stated accuracy worse than this [m/s], is not believed."""
CLOCK_JUMP = 60.0
"""A step of the sensor's clock by more than this [s]."""


class Engine:
    """`receive(rows)`, `advance(now)`, `command(...)`, `end()`, `events()`, `deadline`: see DEVELOPERS.md."""

    def __init__(self, settings: Settings | None = None, band: BandTable | None = None) -> None:
        self._coach = Coach(settings or Settings(), band)
        self._grid = Resampler(STEP)
        self._upright = Upright(STEP)
        self._cycles = CycleDetector()
        self._flights = FlightFinder()
        self._slaps = SlapFinder()
        self._out: list[Event] = []
        self._last = math.nan
        self._interval = 0.01
        self._same_since = math.nan
        self._axes = (math.nan, math.nan, math.nan)
        self._stuck = False
        self._silent_said = False
        self._counts: dict[str, int] = {}
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
        while self.deadline <= now:
            at = self.deadline
            if at >= self._silence:
                self._silent(at)
            else:
                self._coach.advance(at)
                self._collect()

    def command(self, name: str, **values: Any) -> None:
        """A wish of the rider: see `coach.COMMANDS`; or "fault", with the `kind` (of `events.FAULTS`) of what is wrong with the
        machine. ValueError for a name or value that is none."""
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
        if self._last == self._last:
            self._flights.end(self._last)
            self._pass(self._flights.out)
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
        return min(self._coach.deadline, self._silence)

    @property
    def _silence(self) -> float:
        return self._last + SILENT if self._last == self._last and not self._silent_said else INFINITY

    # ---- rows ----

    def _accel(self, t: float, x: float, y: float, z: float) -> None:
        last = self._last
        if not (x - x == 0.0 and y - y == 0.0 and z - z == 0.0 and t - t == 0.0):  # NaN and inf fail this
            self._bad("bad_value", t if t - t == 0.0 else last)
            return
        if t <= last:
            if t == last:
                self._bad("repeated_time", t)
            elif last - t > CLOCK_JUMP:
                self._jump(t)
            else:
                self._bad("backward_time", last)
            return
        if x > RANGE or x < -RANGE or y > RANGE or y < -RANGE or z > RANGE or z < -RANGE:
            self._bad("out_of_range", t)
            return
        if t >= self._coach.deadline or t >= last + SILENT:
            self.advance(t)
        axes = (x, y, z)
        if axes == self._axes:
            if not self._stuck and t - self._same_since > STUCK_TIME:
                self._stuck = True
                self._bad("stuck", t)
        else:
            self._axes = axes
            self._same_since = t
            self._stuck = False
        dt = t - last
        self._last = t
        self._silent_said = False
        if dt < GAP:
            self._interval += 0.02 * (dt - self._interval)
        elif not dt == dt:
            self._grid.restart(t, x, y, z)
            return
        elif dt > 4.0 * self._interval:
            self._gap(last, t, dt)
            if dt > LONG_GAP:
                self._grid.restart(t, x, y, z)
                return
        upright, cycles, flights = self._upright, self._cycles, self._flights
        for g, gx, gy, gz in self._grid.push(t, x, y, z):
            v = upright.vertical(gx, gy, gz)
            cycles.push(g, v, t)
            if cycles.out:
                self._pass(cycles.out)
            flights.step(g, v, math.sqrt(gx * gx + gy * gy + gz * gz) / G, t, upright)
            if flights.out:
                self._pass(flights.out)
        self._slaps.receive(t, x, y, z)
        if self._slaps.found:
            self._pass(self._slaps.found)

    def _gyro(self, t: float, x: float, y: float, z: float) -> None:
        if not (x - x == 0.0 and y - y == 0.0 and z - z == 0.0 and t - t == 0.0):
            self._bad("bad_value", t if t - t == 0.0 else self._last)
            return
        if t < self._last:
            self._bad("late_rotation", t)
            return
        self._upright.turned(x, y, z)

    def _fix(self, row: Row) -> None:
        _, arrived, fixed, speed, lat, lon, accuracy, heading = row
        if not speed == speed or speed < 0.0 or arrived - fixed > OLDEST_FIX or accuracy > WORST_FIX:
            return
        known = max(arrived, self._last) if self._last == self._last else arrived
        self._pass([SpeedFix(fixed, known, speed, _known(lat), _known(lon), _known(accuracy), _known(heading))])

    # ---- trouble ----

    def _bad(self, kind: str, t: float) -> None:
        """Count it; tell of the first, and then each time the number has doubled, so that a broken file cannot flood the outing."""
        count = self._counts[kind] = self._counts.get(kind, 0) + 1
        if count & (count - 1) == 0 or kind in ("stuck", "silent"):
            known = self._last if self._last == self._last else t
            self._pass([Fault(t if t == t else known, known, kind, count)])

    @property
    def skipped(self) -> dict[str, int]:
        """How many rows were skipped so far, by fault kind."""
        return dict(self._counts)

    def _machine(self, kind: str) -> None:
        """Battery, disk, sound: what the shell watches."""
        if kind not in FAULTS:
            raise ValueError(f"no such fault: {kind!r}; there are {', '.join(FAULTS)}")
        count = self._counts[kind] = self._counts.get(kind, 0) + 1
        at = self._last if self._last == self._last else 0.0
        self._pass([Fault(at, at, kind, count)])

    def _silent(self, at: float) -> None:
        self._silent_said = True
        count = self._counts["silent"] = self._counts.get("silent", 0) + 1
        self._pass([Fault(at, at, "silent", count)])

    def _gap(self, start: float, end: float, dt: float) -> None:
        self._pass([Gap(start, end, end)])
        if dt > LONG_GAP:
            self._flights.gap(end)
            self._pass(self._flights.out)
            self._cycles.restart()

    def _jump(self, t: float) -> None:
        """The sensor's clock went back: go on from there, on a time of our own that goes on."""
        self._bad("clock_jump", self._last)

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
            if isinstance(event, Onset | PushEnd | CycleDone):
                self._flights.receive(event)
                if self._flights.out:
                    self._pass(self._flights.out)

    def _collect(self) -> None:
        self._out.extend(self._coach.events())


def _known(value: float) -> float | None:
    return value if value == value else None
