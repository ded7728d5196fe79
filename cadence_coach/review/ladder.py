"""Which rungs of the practice ladder an outing reaches, scored from the outing itself.

Seconds count from rope or dock. A flight with a large hole in the data is not scored, and the result says so; neither
is one that swell or wake carried. Rope rungs need an armed rope drill and somebody who confirms it (tag
`confirmed_by`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

import attrs
import numpy as np

from cadence_coach.core.flown import beats
from cadence_coach.review import stats
from cadence_coach.review.counted import left_out, left_out_said
from cadence_coach.review.figures import Looked, armed
from cadence_coach.review.flight import FlightFigures
from cadence_coach.review.rope import faster_than_rope, level_runs, pump_runs
from cadence_coach.review.rungs import RUNGS
from cadence_coach.review.say import Said, say
from cadence_coach.review.track import metres_between

CONFIRMED_TAG = "confirmed_by"

LAND_COUNT, LAND_PER_MIN, LAND_WITHIN, LAND_LOCK, LAND_CV = 60, 90.0, 0.05, 0.95, 0.04
LAND_OF, LAND_SETS = 3, 2
LAND_PAUSE_S = 5.0
"""A pause between squats that ends a set."""

START_OF, START_NEED, START_PUMPS, START_PUSH_S = 5, 3, 5, 0.8
OWN_PUMPS, OWN_INTERVAL, OWN_SIZE, OWN_TIMES = 10, 1.5, 0.8, 3
SHORT_S, SHORT_TIMES = 10.0, 3
HALF_MINUTE_S, HALF_MINUTE_TIMES, HALF_MINUTE_DRIFT = 30.0, 2, 0.10
MINUTE_S, MINUTE_SECOND_S = 60.0, 45.0
BACK_S, BACK_TURN_DEG, BACK_WITHIN_M, BACK_TIMES, BACK_HOLD_S = 30.0, 150.0, 20.0, 2, 2.0
LONG_COAST = 0.10


@attrs.frozen
class RungResult:
    """`best` is the best so far in the unit that `said` puts into words; None where nothing could be scored. `missing`:
    what is not scored and why, or what is still to do."""

    key: str
    passed: bool
    best: float | None
    said: tuple[Said, ...]
    missing: tuple[Said, ...]

    @property
    def standing(self) -> tuple[Said, ...]:
        """How far it is and what is missing, as sentences one after the other."""
        if self.said and self.missing:
            return (say("rung_standing", said=self.said, missing=self.missing),)
        return self.said or self.missing

    @property
    def shown(self) -> tuple[Said, ...]:
        """What a list shows: a rung that was not reached with its reason, one that was without what is left out."""
        return (self.said or self.missing) if self.passed else self.standing

    @property
    def elsewhere(self) -> bool:
        """A rung of the water on land, or the other way about: nothing that this outing could have scored."""
        return any(said.key in ("on_land_only", "on_water_only") for said in self.missing)


def score(looked: Looked) -> tuple[RungResult, ...]:
    """One result a rung, in the order of the ladder."""
    flights = looked.figures.counted
    note = left_out_said(left_out(looked.figures.flights))
    results = []
    for rung in RUNGS:
        if rung.land != (armed(looked.outing) == "land"):
            elsewhere = say("on_land_only" if rung.land else "on_water_only")
            results.append(RungResult(rung.key, False, None, (), (elsewhere,)))
        elif rung.rope:
            results.append(_rope(rung.key, looked))
        elif rung.land:
            results.append(_land(looked))
        else:
            found = WATER[rung.key](looked, flights)
            results.append(attrs.evolve(found, missing=found.missing + note))
    return tuple(results)


def merge(results: Iterable[Sequence[RungResult]]) -> tuple[RungResult, ...]:
    """The best of several outings, rung by rung."""
    best: dict[str, RungResult] = {}
    for outing in results:
        for new in outing:
            old = best.get(new.key)
            if old is None or _weight(new) > _weight(old):
                best[new.key] = new
    return tuple(best[rung.key] for rung in RUNGS if rung.key in best)


def _weight(r: RungResult) -> tuple[bool, bool, float, bool]:
    """Passed before scored, the better before the worse, and whatever was tried before what could not be."""
    return r.passed, r.best is not None, r.best or 0.0, not r.elsewhere


def next_rung(results: Sequence[RungResult]) -> RungResult | None:
    """The first rung after the highest that was passed; the first of all where none was. Land and rope rungs below a
    passed one are not asked for: who flies on their own needs no rope."""
    highest = max((i for i, r in enumerate(results) if r.passed), default=-1)
    return results[highest + 1] if highest + 1 < len(results) else None


# ---- land and rope ----


def _land(looked: Looked) -> RungResult:
    """Sets of squats against the clicks heard: a set is a run of cycles without a pause, with clicks in it."""
    cycles, clicks = looked.outing.cycles, np.array([c.time for c in looked.outing.clicks if c.sound == "click"])
    good, best = [], None
    onsets = np.array([c.onset for c in cycles])
    for part in np.split(onsets, np.flatnonzero(np.diff(onsets) > LAND_PAUSE_S) + 1) if len(onsets) else []:
        if len(part) < 3 or len(clicks) < 3 or not ((part[0] <= clicks) & (clicks <= part[-1])).any():
            continue  # walking about in a rest is no set
        period = np.diff(part)
        near = clicks[np.argmin(np.abs(clicks[None, :] - part[:, None]), axis=1)]
        found = stats.lock(2.0 * np.pi * (part - near) / np.median(period))
        if found is None:
            continue
        best = max(best or 0.0, found.r)
        right = abs(60.0 / np.median(period) / LAND_PER_MIN - 1.0) <= LAND_WITHIN
        steady = (stats.variation(np.array(beats(period.tolist()))) or 1.0) <= LAND_CV
        good.append(bool(len(part) >= LAND_COUNT and right and steady and found.r >= LAND_LOCK))
    if best is None:
        return RungResult("land_beat", False, None, (), (say("land_no_set"),))
    passed = _most_in_a_row(good, LAND_OF)
    said = say("land_sets", lock=best, passed=passed, sets=min(LAND_OF, len(good)))
    return RungResult("land_beat", passed >= LAND_SETS, best, (said,), ())


def _most_in_a_row(good: Sequence[bool], of: int) -> int:
    """The most that are good of so many one after the other."""
    return max(sum(good[i : i + of]) for i in range(max(1, len(good) - of + 1)))


def _rope(key: str, looked: Looked) -> RungResult:
    if armed(looked.outing) != "rope_drill":
        return RungResult(key, False, None, (), (say("drill_only"),))
    value, need, said = {"rope_level": level_runs, "rope_pump": pump_runs, "rope_faster": faster_than_rope}[key](looked)
    who = looked.outing.tags.get(CONFIRMED_TAG)
    missing = () if who else (say("not_confirmed"),)
    if value is None:
        return RungResult(key, False, None, (), (say("nothing_to_score"), *missing))
    return RungResult(key, bool(who) and value >= need, value, (said,), missing)


# ---- on your own ----


def _own_start(looked: Looked, flights: Sequence[FlightFigures]) -> RungResult:
    tries = [a for a in looked.outing.attempts if a.started_by in ("run_up", "step")]
    good = [
        a.pumps >= START_PUMPS and a.landing_to_push_s is not None and a.landing_to_push_s <= START_PUSH_S
        for a in tries
    ]
    if not good:
        return RungResult("own_start", False, None, (), (say("no_own_start"),))
    best = _most_in_a_row(good, START_OF)
    enough = len(good) >= START_NEED
    said = say("starts_of_tries", n=best, all=min(START_OF, len(good)))
    return RungResult("own_start", enough and best >= START_NEED, best, (said,), ())


def _ten_pumps(looked: Looked, flights: Sequence[FlightFigures]) -> RungResult:
    good = 0
    for f in flights:
        pumps = looked.pumps[f.flight]
        if f.pumps < OWN_PUMPS or len(pumps) < OWN_PUMPS - 1:
            continue
        period = pumps.period[: OWN_PUMPS - 1]
        running = np.array([np.median(period[: i + 1]) for i in range(len(period))])
        last, first = np.median(pumps.size_g[7:OWN_PUMPS]), np.median(pumps.size_g[2:5])
        good += bool((period[1:] <= OWN_INTERVAL * running[:-1]).all() and last >= OWN_SIZE * first)
    most = max((f.pumps for f in flights), default=0)
    missing = () if good else (say("most_pumps", pumps=most),)
    return RungResult("ten_pumps", good >= OWN_TIMES, float(good), (say("such_flights", n=good),), missing)


def _seconds(key: str, seconds: float, times: int) -> Callable[[Looked, Sequence[FlightFigures]], RungResult]:
    def rule(looked: Looked, flights: Sequence[FlightFigures]) -> RungResult:
        long = good = [f for f in flights if f.own_s >= seconds]
        if key == "seconds_30":
            good = [f for f in long if f.drift is not None and abs(f.drift) <= HALF_MINUTE_DRIFT]
        found = _result(key, flights, len(good) >= times, say("longest_and_flights", n=len(good)))
        if drifted := len(long) - len(good):
            found = attrs.evolve(found, missing=(*found.missing, say("drifted", n=drifted)))
        return found

    return rule


def _minute(looked: Looked, flights: Sequence[FlightFigures]) -> RungResult:
    two = sorted((f.own_s for f in flights), reverse=True)[:2]
    done = len(two) == 2 and two[0] >= MINUTE_S and two[1] >= MINUTE_SECOND_S
    more = say("longest_and_second", second=two[1]) if len(two) == 2 else None
    return _result("seconds_60", flights, done, more)


def _long(minutes: int) -> Callable[[Looked, Sequence[FlightFigures]], RungResult]:
    def rule(looked: Looked, flights: Sequence[FlightFigures]) -> RungResult:
        pumped = [f for f in flights if f.coast_s <= LONG_COAST * f.own_s]
        return _result(f"minutes_{minutes}", pumped, any(f.own_s >= 60.0 * minutes for f in pumped))

    return rule


def _result(key: str, flights: Sequence[FlightFigures], passed: bool, more: Said | None = None) -> RungResult:
    """`more` is a text that takes `longest`."""
    best = max((f.own_s for f in flights), default=None)
    if best is None:
        return RungResult(key, False, None, (), (say("no_flight_to_score"),))
    longest = say("longest_s", n=best)
    said = longest if more is None else say(more.key, **more.values, longest=longest)
    return RungResult(key, passed, best, (said,), ())


def _there_and_back(looked: Looked, flights: Sequence[FlightFigures]) -> RungResult:
    if not looked.track.has_place:
        return RungResult("there_and_back", False, None, (), (say("no_place_to_score"),))
    good, nearest = 0, None
    long = [f for f in flights if f.own_s >= BACK_S]
    turned = {f.flight: _turned(looked, f) for f in long}
    if long and not any(known is not None for known in turned.values()):
        return RungResult("there_and_back", False, None, (), (say("no_way_to_score"),))
    for f in long:
        start, end = looked.track.place(f.start_s), looked.track.place(f.end_s)
        if start is None or end is None or not turned[f.flight]:
            continue
        apart = metres_between(start, end)
        nearest = apart if nearest is None else min(nearest, apart)
        good += apart <= BACK_WITHIN_M
    said = say("such_flights", n=good)
    if nearest is not None:
        said = say("such_flights_nearest", n=good, metres=nearest)
    return RungResult("there_and_back", good >= BACK_TIMES, float(good), (said,), ())


def _turned(looked: Looked, f: FlightFigures) -> bool | None:
    """Heading changed by BACK_TURN_DEG against that of the start, and held for BACK_HOLD_S; None where it is not
    known."""
    t, degrees = looked.track.headings(f.start_s, f.end_s)
    if len(t) < 10:
        return None
    heading = np.radians(degrees)
    at_start = np.angle(np.mean(np.exp(1j * heading[: max(3, len(t) // 5)])))
    away = np.abs(np.degrees(np.angle(np.exp(1j * (heading - at_start))))) >= BACK_TURN_DEG
    edges = np.flatnonzero(np.diff(np.concatenate([[False], away, [False]]).astype(int))).reshape(-1, 2)
    return any(t[b - 1] - t[a] >= BACK_HOLD_S for a, b in edges)


WATER: dict[str, Callable[[Looked, Sequence[FlightFigures]], RungResult]] = {
    "own_start": _own_start,
    "ten_pumps": _ten_pumps,
    "seconds_10": _seconds("seconds_10", SHORT_S, SHORT_TIMES),
    "seconds_30": _seconds("seconds_30", HALF_MINUTE_S, HALF_MINUTE_TIMES),
    "seconds_60": _minute,
    "there_and_back": _there_and_back,
    **{f"minutes_{m}": _long(m) for m in (2, 3, 5, 10, 20, 30)},
}
