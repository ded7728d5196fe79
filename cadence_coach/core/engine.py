"""The engine: rows in, events out. It ties the parts together, checks the rows and decides nothing.

    rows -> front: checks, grid, upright -> cycles -> flights -> coach (with the beat) -> events

No thread, no clock: time comes with the rows, and `advance(now)` says that nothing earlier is still to come. Deadlines
that are due fire before the row that passes them, so that a replay gives the same events as live, however the rows are
cut.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from .afoot import Afoot
from .coach import Coach
from .cycles import CycleDetector
from .events import (
    ACCEL,
    FAULTS,
    FIX,
    GYRO,
    CycleDone,
    Event,
    Fault,
    FlightEnded,
    Gap,
    Onset,
    PushEnd,
    Row,
    SpeedFix,
)
from .fixes import Fixes
from .flights import FlightFinder
from .front import RANGE, TURN_RANGE, Front
from .gait import Gait
from .late import CLOCK_JUMP, NEXT, Late
from .likely import Likely
from .settings import Settings
from .slaps import SlapFinder
from .targets import BandTable
from .timing import LATE
from .units import INFINITY, STEP

SILENT = 2.0
"""No sample for this long [s] is a fault."""
STUCK_BOUNCES = 4
"""An axis that had moved and is the same through so many bounces is stuck."""
FAR_AHEAD = 3600.0
"""A step ahead by more than this [s] is a jump of the sensor's clock; less is a gap. For a fix CLOCK_JUMP is far."""
SPEED_LOST = 10.0
"""Fixes came in this flight, and for this long [s] none that may be believed."""


class Engine:
    """`receive(rows)`, `advance(now)`, `command(...)`, `end()`, `events()`, `deadline`: see DEVELOPERS.md."""

    def __init__(self, settings: Settings | None = None, band: BandTable | None = None) -> None:
        self._coach = Coach(settings or Settings(), band)
        gait = Gait()
        likely = Likely(gait)
        self._cycles = CycleDetector(likely, LATE)
        self._afoot = Afoot(STEP)
        self._flights = FlightFinder(likely.again)
        self._slaps = SlapFinder()
        self._front = Front(self, self._cycles, self._afoot, gait, self._flights, self._slaps)
        self._out: list[Event] = []
        self._shift = 0.0  # own time - the sensor's [s]: other than 0 once its clock was set back
        self._astray: tuple[tuple[float, float, float, float], ...] = ()  # at most two, the newest first
        self._latest = 0.0  # what came without an acceleration (a deadline, a fix) was known by then [s]
        self._broken = -INFINITY  # time of the last broken row that followed [s]
        self._late = Late(self._front.marks)
        self._fix_known = math.nan
        self._fixes = Fixes()
        self._axis_stuck = False
        self._bounces: deque[float] = deque(maxlen=STUCK_BOUNCES)
        self._silent_at = math.nan  # the last row before the silence that has been told
        self._counts: dict[str, int] = {}
        self._told: dict[str, int] = {}
        self._ended = False

    # ---- in ----

    def receive(self, rows: Iterable[Row]) -> None:
        """Take rows in the order of their delivery (see events)."""
        left = iter(rows)
        while True:
            # what has gone astray or come late is settled by the next row, whatever it is: that one must come out too
            reach = NEXT if not self._astray and not self._late else -INFINITY
            odd = self._front.run(left, self._shift, reach)
            if odd is None:
                return
            if odd[0] == ACCEL:
                self._accel(odd[1], odd[2], odd[3], odd[4])
            elif odd[0] == GYRO:
                self._gyro(odd[1], odd[2], odd[3], odd[4])
            elif odd[0] == FIX:
                self._fix(odd)
            else:
                raise ValueError(f"row of unknown kind {odd[0]!r}; the first entry must be ACCEL, GYRO or FIX")

    def advance(self, now: float) -> None:
        """Time has come to `now` [s] with no row: let what is due happen."""
        while (at := self.deadline) <= now and at < INFINITY:
            self._latest = max(self._latest, at)
            if at >= self._silence:
                self._silent_at = self._front.last
                self.fault("silent", at)
            elif at >= self._speed_due:
                self._fix_known = math.nan
                self.fault("speed_lost", at)
            else:
                self._coach.advance(at, now)
                self._collect()

    def command(self, name: str, **values: Any) -> None:
        """A wish of the rider: see `coach.COMMANDS`; or "fault", with the `kind` (of `events.FAULTS`) of what is wrong
        with the machine. ValueError for a name or value that is none."""
        if name == "fault":
            self._machine(**values)
            return
        if self._front.last == self._front.last:
            self._coach.advance(self._now)  # so that the answer carries the time of the wish
        self._coach.command(name, **values)
        self._collect()

    def end(self) -> None:
        """No more rows: what ran is over."""
        if self._ended:
            return
        self._ended = True
        self._settle()
        last, at = self._front.last, self._now
        if last == last:
            self._coach.advance(at)  # so that its last words carry the time of the end
            self._collect()
            self._afoot.end(last)
            self.bounced(_known_at(at, self._afoot.out))
            self._flights.end(last)
            self.hear(_known_at(at, self._flights.out))
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
        return self._front.last if self._front.last == self._front.last else None

    @property
    def ride(self) -> dict[str, Any]:
        """What the command "go_on" wants of an engine that is made anew in the middle of a ride."""
        return self._coach.guard.ride

    @property
    def _now(self) -> float:
        """What is told next was not known before [s]."""
        return max(self._latest, self._front.last) if self._front.last == self._front.last else self._latest

    @property
    def _silence(self) -> float:
        last = self._front.last
        return last + SILENT if last == last and last != self._silent_at else INFINITY

    @property
    def _speed_due(self) -> float:
        return self._fix_known + SPEED_LOST if self._fix_known == self._fix_known else INFINITY

    # ---- rows ----

    def _accel(self, t: float, x: float, y: float, z: float) -> None:
        """A row that does not simply follow the last: broken, far from it, or the first."""
        front, last = self._front, self._front.last
        if not (-RANGE <= x <= RANGE and -RANGE <= y <= RANGE and -RANGE <= z <= RANGE and t - t == 0.0):
            numbers = all(map(math.isfinite, (t, x, y, z)))
            self._bad("out_of_range" if numbers else "bad_value", t + self._shift)
            return
        t += self._shift
        if not last < t <= last + NEXT:
            t = self._far(t, x, y, z)
            if t != t:
                return
        else:
            self._settle()
        if t >= self.deadline:
            self.advance(t)
        front.run(iter(((ACCEL, t, x, y, z),)), 0.0, INFINITY)

    def _gyro(self, t: float, x: float, y: float, z: float) -> None:
        """A reading that cannot be used."""
        numbers = all(map(math.isfinite, (t, x, y, z)))
        wild = x * x + y * y + z * z > TURN_RANGE * TURN_RANGE
        if numbers and not wild and self._late.turned((GYRO, t + self._shift, x, y, z)):
            return
        self._bad("bad_value" if not numbers else "out_of_range" if wild else "late_rotation", t + self._shift)

    def _fix(self, row: Row) -> None:
        fix = self._fixes.take(row, self._shift, self._front.last, self._now)
        if fix is None:
            return
        if fix.known >= self.deadline:
            self.advance(fix.known)
        if self._front.last == self._front.last:
            self._latest = fix.known
        if isinstance(fix, SpeedFix) and self._flights.in_flight:
            self._fix_known = fix.known
        self.hear([fix])

    # ---- trouble ----

    def _bad(self, kind: str, t: float) -> None:
        """Count a row; tell of the first, and then each time the number has doubled: a broken file must not flood the
        outing. How many there were in all is told at the end. Those that follow each other carry the time, as good ones
        do: what is due meanwhile is told in its place. Before the first row taken no stamp is believed."""
        if (now := max(self._now, self._broken)) < t <= now + NEXT:
            self._broken = t
            if t >= self.deadline:
                self.advance(t)
        count = self._counts[kind] = self._counts.get(kind, 0) + 1
        if count & (count - 1) == 0:
            known = self._now
            self._tell(kind, t if known - NEXT <= t <= known else known, known)

    def fault(self, kind: str, at: float) -> None:
        """Something other than a single row: told each time."""
        self._counts[kind] = self._counts.get(kind, 0) + 1
        self._tell(kind, at, at)

    def _tell(self, kind: str, time: float, known: float) -> None:
        self._told[kind] = self._counts[kind]
        self.hear([Fault(time, known, kind, self._counts[kind])])

    @property
    def skipped(self) -> dict[str, int]:
        """How many rows were skipped so far, by fault kind."""
        return dict(self._counts)

    def _machine(self, kind: str) -> None:
        """Battery, disk, sound: what the shell watches."""
        if kind not in FAULTS:
            raise ValueError(f"no such fault: {kind!r}; there are {', '.join(FAULTS)}")
        self.fault(kind, self._now)

    def _far(self, t: float, x: float, y: float, z: float) -> float:
        """A row that does not follow the last, or the first one: its own time if another row bears it out, else NaN: it
        is not used, or not yet."""
        last, row = self._front.last, (t, x, y, z)
        if t == last:
            self._bad("repeated_time", t)
        elif last - CLOCK_JUMP <= t < last:
            self._behind((ACCEL, *row))
        elif not self._astray:
            self._astray = (row,)
        elif any(t == before[0] for before in self._astray):
            self._bad("repeated_time", t)
        else:
            for before in sorted(self._astray, reverse=True):  # the nearest
                if 0.0 < t - before[0] <= NEXT or last < before[0] < t <= last + CLOCK_JUMP:
                    self._astray = ()
                    if last != last:
                        self._front.begin(*before)
                        return t
                    return self._ahead(before, t) if t > last else self._back(t)
            self._astray = (row, self._astray[0])  # two, as there may be two writers, one behind the other
            self._bad("backward_time", t)
        return math.nan

    def _behind(self, row: Row) -> None:
        """A late row: once such rows have gone on for long enough the clock was set back, and they are taken."""
        for kind, at in self._late.add(row):
            self._bad(kind, at)
        if rows := self._late.borne_out():
            shift = self._shift
            self._back(rows[0][1])
            self.receive((kind, t - shift, *axes) for kind, t, *axes in rows)

    def _settle(self) -> None:
        """The rows go on, or end: what had gone astray or came late was just that."""
        for kind, at in self._late.settle():
            self._bad(kind, at)
        if self._astray:
            self._bad("backward_time", self._astray[0][0])
            self._astray = ()

    def _ahead(self, first: tuple[float, float, float, float], t: float) -> float:
        """The stream goes on at `first` after a long gap, as the row at t bears out. Nothing is joined across."""
        last = self._front.last
        self.advance(t)
        self.hear([Gap(last, t, first[0])])
        if t - last > FAR_AHEAD:
            self.fault("clock_jump", t)
        self._afoot.end(t)
        self.bounced(self._afoot.out)
        self._flights.gap(t)
        self.hear(self._flights.out)
        self._afoot.restart()
        self._cycles.restart()
        self._front.restart(*first)
        self._front.last = self._front.moved = first[0]
        return t

    def _back(self, t: float) -> float:
        """The sensor's clock was set back: own time goes on, and so does the rider."""
        at = self._front.last + 2.0 * self._front.interval
        self._shift += at - t
        self.advance(at)
        self.fault("clock_jump", at)
        return at

    def _bounce(self, known: float) -> None:
        """An axis that stood still through the last bounces is stuck; one that never moved is none."""
        self._bounces.append(known)
        since = self._bounces[0]
        stuck = len(self._bounces) == STUCK_BOUNCES and (any(at < since for at in self._front.since))
        if stuck and not self._axis_stuck:
            self.fault("stuck", known)
        self._axis_stuck = stuck

    # ---- what the front end finds, and the way of an event ----

    @property
    def due(self) -> float:
        """The next deadline while rows keep coming [s]."""
        return min(self._coach.deadline, self._speed_due)

    def fire(self, now: float, last: float) -> None:
        """Deadlines are due: the next row is of `now`, the one before was of `last` [s]."""
        self._front.last = last
        self.advance(now)

    def bounced(self, events: list[Event]) -> None:
        """Bounces: nobody inside is interested. Empties the list."""
        self._out += events
        events.clear()

    def missed(self, start: float, end: float) -> None:
        """A gap in the rows [s]."""
        self.hear([Gap(start, end, end)])

    def hear(self, events: list[Event]) -> None:
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
            if isinstance(event, Onset | PushEnd | CycleDone | SpeedFix):
                if isinstance(event, Onset):
                    self._bounce(event.known)
                self._flights.receive(event)
                if self._flights.out:
                    self.hear(self._flights.out)

    def _collect(self) -> None:
        self._out.extend(self._coach.events())


def _known_at(at: float, events: list[Event]) -> list[Event]:
    """The same, known at that time [s]. Empties the list."""
    out = [replace(event, known=at) for event in events]
    events.clear()
    return out
