"""One pump, one look: which band holds at this speed, what is off, and may it be said?"""

from __future__ import annotations

from collections import deque
from dataclasses import replace
from math import sqrt
from statistics import median

from .cuebook import BASIC, CORRECTIONS
from .events import CycleDone, FlightEnded, SpeedFix
from .looks import Finding, Looks
from .pace import Pace
from .rules import (
    FIX_AGE,
    FIXES_FOR_BAND,
    OWN_PUMPS,
    PUSH_SHARE,
    SLOWEST_ALOFT,
    SPEED_FIRST_ALOFT,
    SPEED_FIRST_FIXES,
    SPEED_MARGIN,
    STEADY_CV,
)
from .settings import Settings
from .targets import BandTable
from .turns import Turns


class Corrector:
    """`fix` every speed, `start` a flight, `take` each pump and `look` after it."""

    def __init__(self, settings: Settings, table: BandTable | None, turns: Turns) -> None:
        self.settings = settings
        self.table = table
        self.silent = ""
        """Why nothing may be corrected in this flight, or ""."""
        self.in_band_since: float | None = None
        self._turns = turns
        self._looks = Looks()
        self._pace = Pace(settings.level)
        self._fixes: deque[SpeedFix] = deque(maxlen=SPEED_FIRST_FIXES)
        self._fixes_aloft = 0
        self._start = 0.0
        self._slow = False
        self._leaned_on = 0  # pumps of the flight the band leans on

    def change(self, settings: Settings) -> None:
        self.settings = settings
        self._pace.level = settings.level

    def start(self, time: float, silent: str) -> None:
        """A flight began."""
        self._start, self.silent = time, silent
        self._fixes_aloft = 0
        self._slow = False
        self.in_band_since = None
        self._looks.start()
        self._pace.start()
        self._turns.over(set())

    def gap(self) -> None:
        self._looks.gap()

    def fix(self, e: SpeedFix, aloft: bool) -> None:
        self._fixes.append(e)
        self._fixes_aloft += aloft

    # ---- what holds at this speed ----

    def speed(self, now: float) -> float | None:
        """Median of the fresh fixes [m/s]; None where there are too few: then the band at the cruise speed holds."""
        fresh = [f.speed for f in self._fixes if now - f.time <= FIX_AGE]
        return median(fresh) if len(fresh) >= FIXES_FOR_BAND else None

    def needed(self, speed: float | None, cadence: float) -> float | None:
        """Size needed at this cadence [g]: goes with the root of it (least amplitude that carries the power: r^2 ~
        P w)."""
        if self.table is None:
            return None
        model = self.table.model_at(speed)
        if model.size_needed is None or not model.target or not cadence > 0.0:
            return None
        return model.size_needed * sqrt(cadence / model.target)

    def lead(self, now: float) -> tuple[float | None, float]:
        """Where the click leads: cadence [Hz], None for the rider's own; and the push share its tick falls at on
        land."""
        lead, own = self.settings.lead, self.settings.own_best_cadence
        if lead == "own_best":
            band = self.table.at(self.speed(now)) if self.table is not None and own is not None else None
            if band is None or own is None or band.lo is None or band.hi is None:
                return own, PUSH_SHARE
            return min(max(own, band.lo), band.hi), PUSH_SHARE  # never where a cue would call the rider back from
        if self.table is None or (lead != "target" and self.settings.start != "land"):
            return None, PUSH_SHARE
        band = self.table.at(self.speed(now))
        return band.target if lead == "target" else None, band.share or PUSH_SHARE

    def lean(self, e: FlightEnded, speed: float | None) -> None:
        """Lean the band to the rider after a steady flight, the longest of the outing. Never during a flight: what
        was right a minute ago must not be wrong now. A table that came with the rider's best flights (q) stands:
        one outing's habit is no target."""
        if self.table is None or e.pumps < OWN_PUMPS or e.steadiness > STEADY_CV or e.pumps <= self._leaned_on:
            return
        if self.table.q is not None and not self._leaned_on:
            return
        target = self.table.model_at(speed).target
        if target:
            self.table = replace(self.table, q=e.cadence / target)
            self._leaned_on = e.pumps

    # ---- one pump ----

    def take(self, e: CycleDone) -> bool:
        """Take a pump in; True when a look makes sense."""
        self._pace.pump()
        speed = self.speed(e.known)
        return self._looks.add(e, speed, self.needed(speed, 1.0 / e.period))

    def look(self, e: CycleDone, blow: bool) -> None:
        """What is off at this pump is said, or held back with its reason. `blow`: the rider may be falling."""
        now, speed = e.known, self.speed(e.known)
        slow = self._speed_first(now)
        band = self.table.at(speed) if self.table is not None else None
        found = [slow] if slow is not None else []
        found += self._looks.look(None if slow is not None else band, self.needed(speed, self._looks.cadence))
        kinds = BASIC if self.settings.level == "basic" else tuple(CORRECTIONS)
        found = [f for f in found if f.kind in kinds]
        off = bool(found) or self._looks.out != 0
        self._pace.look(off or self._looks.off, e.period)
        if off or band is None or band.target is None:
            self.in_band_since = None
        elif self.in_band_since is None:
            self.in_band_since = now
        focus = self.settings.focus
        wanted = [f for f in found if focus is None or focus in CORRECTIONS[f.kind]]
        for f in found:
            if f not in wanted:
                self._turns.hold(f.kind, f"the focus is {focus}", f.reason)
        for f in wanted[:1]:
            self._correct(f, blow)
        for f in wanted[1:]:
            self._turns.hold(f.kind, f"one message at a time, {wanted[0].kind} first", f.reason)
        self._turns.over({f.kind for f in found})

    def _correct(self, f: Finding, blow: bool) -> None:
        turns = self._turns
        speed = self.speed(turns.now)
        why_not = (
            self.silent
            or (f"{speed:.1f} m/s: too slow to be aloft" if speed is not None and speed < SLOWEST_ALOFT else "")
            or ("muted" if self.settings.muted else "")
            or ("silence after a fall or a gap" if blow or turns.now < turns.quiet_until else "")
            or self._pace.why_not(turns.now)
            or ("another message is sounding or waiting" if turns.waiting or turns.now < turns.busy_until else "")
        )
        if why_not:
            turns.hold(f.kind, why_not, f.reason)
            return
        self._pace.spoke(turns.now)
        turns.say(f.kind, f.reason)

    def _speed_first(self, now: float) -> Finding | None:
        """Too slow for any feasible pumping? Only below the cruise speed: too fast is no matter of "speed first".
        Nor where no speed at all is feasible to the model: more of it would not help."""
        table, speed = self.table, self.speed(now)
        if table is None or speed is None or speed >= table.cruise_speed or table.model_at(None).target is None:
            self._slow = False
            return None
        if self._slow:
            self._slow = table.model_at(speed - SPEED_MARGIN).reason is not None
        elif now - self._start >= SPEED_FIRST_ALOFT and self._fixes_aloft >= SPEED_FIRST_FIXES:
            self._slow = table.model_at(speed + SPEED_MARGIN).reason is not None
        if not self._slow:
            return None
        why = table.model_at(speed).reason or "at the edge"
        return Finding("speed_first", f"{speed:.1f} m/s: no feasible pumping at this speed ({why})")
