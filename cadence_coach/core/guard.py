"""The guard over an outing: turn back, time limit, rest, legs gone, "all right?", milestone, faults. It decides;
the coach finds the moment to say it.

Practice advice only. Nothing here keeps anyone safe, and nobody is alerted.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence
from typing import Any

from .cuebook import FAULT_CUES
from .events import AttemptEnded, Fault, FlightEnded, Impact, Place, SpeedFix, Still
from .rules import (
    AFTER_FALL_S,
    DOUBTFUL_PLACES,
    FALL_WITHIN_S,
    FAULT_AGAIN_S,
    LEGS_LEAST_PUMPS,
    LEGS_OF,
    LEGS_RECENT,
    LEGS_SHARE,
    LONG_FLIGHT_S,
    REST_FACTOR,
    REST_LEAST_S,
    REST_LONG_S,
    STILL_WITHIN_S,
    TIME_LIMIT_AGAIN_S,
    TIME_LIMIT_COLD_S,
    TIME_LIMIT_S,
    TURN_BACK_COLD_M,
    TURN_BACK_FURTHER,
    TURN_BACK_M,
    TURN_BACK_REARM,
)
from .settings import Settings
from .units import INFINITY

Call = tuple[str, str]
"""(kind, reason)"""

EARTH_RADIUS = 6_371_008.8
"""Mean radius [m] (IUGG)."""


def distance(lat1: float, lon1: float, lat2: float, lon2: float) -> float:
    """Metres between two places [deg], on a sphere, flat between them: to 0.5 % within some km away from the poles."""
    x = math.radians(math.remainder(lon2 - lon1, 360.0)) * math.cos(math.radians(0.5 * (lat1 + lat2)))
    return EARTH_RADIUS * math.hypot(x, math.radians(lat2 - lat1))


def turn_back_m(settings: Settings) -> float:
    """Distance from the start [m] to turn back at: the chosen one, or the rule's own."""
    return settings.turn_back_m or (TURN_BACK_COLD_M if settings.cold else TURN_BACK_M)


def time_limit_s(settings: Settings) -> float:
    """Time [s] to come in after: the chosen one, or the rule's own."""
    return settings.time_limit_s or (TIME_LIMIT_COLD_S if settings.cold else TIME_LIMIT_S)


def rest(seconds: float) -> float:
    """Rest [s] after a flight of so many seconds."""
    return max(REST_FACTOR * seconds, REST_LONG_S if seconds >= LONG_FLIGHT_S else REST_LEAST_S)


class Legs:
    """Whether the legs are gone, try by try: the one rule of the coach and of looking back."""

    def __init__(self) -> None:
        self.last: deque[int] = deque(maxlen=LEGS_OF)
        """Pumps of the latest tries,"""
        self.best: list[int] = []
        """... and of the best, most first."""

    def gone(self, pumps: int, ended_by: str) -> tuple[float, float] | None:
        """After one more try: mean pumps of the last tries and of the best, where the legs are gone; else None. A try
        that was cut says nothing, the first ones have no best to be held against, and legs that were there in this one
        are not gone."""
        if ended_by in ("gap", "end_of_data"):
            return None
        enough = len(self.best) == LEGS_OF
        self.last.append(pumps)
        self.best = sorted((*self.best, pumps), reverse=True)[:LEGS_OF]
        last, best = sum(self.last) / LEGS_OF, sum(self.best) / LEGS_OF
        if not enough or best < LEGS_LEAST_PUMPS or max(last, pumps) >= LEGS_SHARE * best:
            return None
        return last, best


class Guard:
    """Each method returns the call that is due by it, or None."""

    def __init__(self, settings: Settings) -> None:
        self.settings = settings
        self.turned_back = False
        """Beyond the turn-back distance now."""
        self._home: tuple[float, float] | None = None
        self._left = False
        self._called_at_m = 0.0
        self._far = 0  # places in a row beyond the limit
        self._limit = time_limit_s(settings)
        self._limit_at = self._limit
        self._began: float | None = None
        self._rest_at = INFINITY
        self._rest = 0.0
        self._ask_at = INFINITY
        self._ask_why = ""
        self._attempt_over_at = -INFINITY
        self._blow_at = -INFINITY  # the last at the sensor's range
        self._asked = False
        self._legs = Legs()
        self._since_legs = LEGS_RECENT
        self._attempts = 0
        self._milestone_done = False
        self._fault_at: dict[str, float] = {}

    # ---- by itself ----

    @property
    def deadline(self) -> float:
        return min(self._limit_at, self._rest_at, self._ask_at)

    def due(self, now: float, until: float = -INFINITY) -> list[Call]:
        """until: the time has come so far at once; where that is a jump of the clock it is called once, not again for
        each interval in it."""
        calls: list[Call] = []
        if self._limit_at <= now:
            calls.append(("time_limit", f"{(self._limit_at - (self._began or 0.0)) / 60:.0f} min on the water"))
            self._limit_at += TIME_LIMIT_AGAIN_S
            if self._limit_at <= until:
                self._limit_at = until + TIME_LIMIT_AGAIN_S
        if self._ask_at <= now:
            calls.append(("all_right", self._ask_why))
            self._ask_at, self._asked = INFINITY, True
        if self._rest_at <= now:
            calls.append(("rest_over", f"{self._rest:.0f} s of rest"))
            self._rest_at = INFINITY
        return calls

    def begin(self, now: float) -> None:
        """The outing begins now: the time limit counts from here, and is not counted anew by another `begin`."""
        if self._began is None:
            self._began, self._limit_at = now, now + self._limit

    @property
    def ride(self) -> dict[str, Any]:
        """What of the ride so far a guard must know that is made anew in the middle of it: values of `go_on`."""
        home = list(self._home) if self._home is not None and self._left else None
        return {"home": home, "best": list(self._legs.best), "last": list(self._legs.last)}

    def go_on(
        self,
        now: float,
        ridden_s: float,
        home: Sequence[float] | None = None,
        best: Sequence[int] = (),
        last: Sequence[int] = (),
    ) -> None:
        """This ride began `ridden_s` ago, before this guard was made: a time limit that has passed is called now.
        home: (latitude, longitude) of its start; best, last: pumps of its best and latest attempts."""
        if home is not None:
            lat, lon = home  # ValueError before anything is changed: what is refused is not kept for a replay
            self._home, self._left = (float(lat), float(lon)), True
        self._began = now - max(0.0, ridden_s)
        self._limit_at = max(now, self._began + self._limit)
        self._legs.best = sorted(map(int, best), reverse=True)[:LEGS_OF]
        self._legs.last.extend(map(int, last))

    def rearm(self) -> None:
        """Armed again: the start is where the next fix is."""
        self._home, self._left, self.turned_back, self._called_at_m = None, False, False, 0.0

    # ---- place ----

    def fix(self, e: SpeedFix | Place) -> Call | None:
        """A place without a good speed may be off itself: it takes some in a row to be away."""
        if e.lat is None or e.lon is None:
            return None
        sure = isinstance(e, SpeedFix)
        if self._home is None or not self._left:
            if sure or self._home is None:
                self._home = (e.lat, e.lon)  # the last place before the first attempt is the start
            if self._attempts:
                self._left = True
            return None
        limit = turn_back_m(self.settings)
        away = distance(*self._home, e.lat, e.lon)
        if away < TURN_BACK_REARM * limit:
            self.turned_back, self._called_at_m = False, 0.0
        self._far = self._far + 1 if away >= limit else 0
        if not self._far or (not sure and self._far < DOUBTFUL_PLACES):
            return None
        self.turned_back = True
        if self._called_at_m and away < self._called_at_m * TURN_BACK_FURTHER:
            return None
        self._called_at_m = away
        return "turn_back", f"{away:.0f} m from the start, limit {limit:.0f} m"

    # ---- attempts ----

    def attempt_began(self, time: float) -> None:
        """`time`: its landing. A failed one is known only when it is over: what came after that stays a question."""
        self._attempts += 1
        self._left = self._home is not None
        self._rest_at = INFINITY
        if time > self._blow_at:
            self._ask_at = INFINITY
            self._asked = False

    def flight_began(self) -> None:
        self._milestone_done = False

    def pump(self, seconds: float, pumps: int) -> Call | None:
        """The goal of the rung, once a flight."""
        goal_s, goal_n = self.settings.goal_seconds, self.settings.goal_pumps
        in_time, in_pumps = goal_s is not None and seconds >= goal_s, goal_n is not None and pumps >= goal_n
        if self._milestone_done or not (in_time or in_pumps):
            return None
        self._milestone_done = True
        return "milestone", f"{goal_s:g} s in this flight" if in_time else f"{goal_n} pumps in this flight"

    def flight_over(self, e: FlightEnded) -> None:
        self._rest = rest(e.time - e.start)
        self._rest_at = e.time + self._rest

    def attempt_over(self, e: AttemptEnded) -> Call | None:
        """Legs gone?"""
        self._attempt_over_at = e.time
        self._since_legs += e.ended_by not in ("gap", "end_of_data")
        gone = self._legs.gone(e.pumps, e.ended_by)
        if gone is None or self._since_legs < LEGS_RECENT:
            return None
        self._since_legs = 0
        return "legs_gone", f"last three attempts {gone[0]:.1f} pumps, best three {gone[1]:.1f}"

    # ---- accidents ----

    def impact(self, e: Impact) -> None:
        """A blow. Only at the sensor's range is it asked about, and not within the silence after a fall."""
        if not e.clipped:
            return
        self._blow_at = e.time
        self._ask_why = f"a blow of {e.peak_g:.0f} g at the sensor's range"
        if not self._asked and self._ask_at == INFINITY:
            self._ask_at = e.time + AFTER_FALL_S

    def no_accident(self, since: float) -> None:
        """The rider pumps on, or slapped the pouch, from then on [s]: a blow before the first, or among the slaps, is
        no question."""
        if since > self._blow_at:
            self._ask_at = INFINITY

    def fell(self, time: float, known: float) -> None:
        """It ended by a fall: what was taken for a pump after its blow was none."""
        if self._blow_at > time - FALL_WITHIN_S and not self._asked:
            self._ask_at = max(known, self._blow_at + AFTER_FALL_S)

    def still(self, e: Still) -> Call | None:
        if self._asked or e.known - self._attempt_over_at > STILL_WITHIN_S:
            return None
        self._asked = True
        self._ask_at = INFINITY
        return "all_right", "no movement for 20 s"

    # ---- the machine ----

    def fault(self, e: Fault) -> Call | None:
        kind = FAULT_CUES.get(e.kind)
        if kind is None or e.known - self._fault_at.get(kind, -INFINITY) < FAULT_AGAIN_S:
            return None
        self._fault_at[kind] = e.known
        return kind, f"{e.kind} ({e.count})"
