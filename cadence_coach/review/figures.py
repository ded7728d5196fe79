"""The figures of a whole outing, from the value that an outing file is read into. Nothing here writes or draws."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import attrs
import numpy as np

from cadence_coach.core import events as ev
from cadence_coach.core.guard import Legs
from cadence_coach.core.rules import HELD
from cadence_coach.core.targets import BandTable
from cadence_coach.review import stats
from cadence_coach.review.cues import CueFigures, click_lock, cue_figures
from cadence_coach.review.endings import judged, signs
from cadence_coach.review.flight import FlightFigures, flight_figures
from cadence_coach.review.pumps import Pumps, gaps_of, pumps_of, without
from cadence_coach.review.track import Track
from cadence_coach.store.outing import Outing
from cadence_coach.store.own_time import in_own_time

SET_PAUSE_S = 240.0
"""A pause this long between tries ends a set: swimming back and climbing up takes one to three minutes (common
practice, no source)."""

STARTED_TAG, ENDED_TAG, HELPED_TAG = "started_by:", "ended_by:", "helped:"
"""Names of the tags by which rider or coach corrects flight N: `started_by:N` a start, `ended_by:N` an ending,
`helped:N` "swell", "wake" or "no"."""

BY_FLIGHT = (STARTED_TAG, ENDED_TAG, HELPED_TAG)
"""They go with their flight where an outing is gone through again."""


@attrs.frozen
class StartFigures:
    """Tries of one kind: all, those that became a flight (three pumps), those that held (HELD pumps); medians of
    landing to first push [s] and of the first three periods [s]."""

    tries: int
    flights: int
    held: int
    landing_to_push_s: float | None
    first_periods_s: tuple[float, ...]


@attrs.frozen
class Set:
    """Tries without a long pause between; `rest_before_s` is None for the first."""

    start_s: float
    end_s: float
    tries: int
    flights: int
    pumps: int
    own_s: float
    rest_before_s: float | None


@attrs.frozen
class OutingFigures:
    """An outing in figures; flights in the order of time."""

    uuid: str
    start_utc: str | None
    rider: str
    foil: str
    water: str
    versions: dict[str, str]
    duration_s: float
    flights: tuple[FlightFigures, ...]
    starts: dict[str, StartFigures]
    best: int | None
    aloft_s: float
    own_s: float
    rope_s: float
    pumps: int
    sets: tuple[Set, ...]
    rests_s: tuple[float, ...]
    legs_went_s: float | None
    helped: tuple[int, ...]
    rope: tuple[int, ...]
    cues: tuple[CueFigures, ...]
    gaps: int
    gap_s: float
    faults: dict[str, int]
    focus: str | None
    on_land: bool

    @property
    def counted(self) -> tuple[FlightFigures, ...]:
        """The flights that best, advice and ladder go by."""
        return tuple(f for f in self.flights if f.left_out is None)

    @property
    def best_s(self) -> float:
        return self.flights[self.best].own_s if self.best is not None else 0.0


@attrs.frozen(eq=False)
class Looked:
    """An outing looked at: its figures, and the columns they came from, flight by flight."""

    outing: Outing
    figures: OutingFigures
    pumps: tuple[Pumps, ...]
    track: Track
    table: BandTable | None


def look(
    outing: Outing,
    table: BandTable | None = None,
    power: Callable[[FlightFigures], float | None] | None = None,
) -> Looked:
    """Everything a review says about an outing. `power` estimates the leg power of a flight [W] from its figures."""
    outing = in_own_time(_begun_as_said(outing))
    track = Track(outing)
    on_rope = armed(outing) == "rope_drill"
    attempt_of = {a.flight: a for a in outing.attempts if a.flight is not None}
    columns, flights = [], []
    numbers = np.array([c.number for c in outing.cycles])
    for begun, done in zip(outing.flight_starts, outing.flights, strict=False):
        first = int(np.searchsorted(numbers, begun.first_cycle))
        last = int(np.searchsorted(numbers, done.last_cycle, side="right"))
        own = without(outing.cycles[first:last], done.skipped)
        pumps = pumps_of(own, track, table)
        clicks = [c for c in outing.clicks if done.start <= c.time <= done.time]
        figures = flight_figures(
            done,
            pumps,
            gaps_of(own),
            attempt_of.get(done.flight),
            track,
            gap_s=_overlap(outing.gaps, done.start, done.time),
            on_rope=on_rope,
            helped=outing.tags.get(f"{HELPED_TAG}{done.flight}"),
            ended_by=_ending(outing, done, outing.cycles[first:last]),
            locked=click_lock(clicks, pumps),
        )
        columns.append(pumps)
        flights.append(attrs.evolve(figures, power_w=power(figures)) if power else figures)
    return Looked(outing, _outing_figures(outing, tuple(flights), columns), tuple(columns), track, table)


def _begun_as_said(outing: Outing) -> Outing:
    """With the starts that rider or coach corrected, of flights and of their tries."""
    said = {f.flight: outing.tags.get(f"{STARTED_TAG}{f.flight}") for f in outing.flights}

    def told(e: ev.FlightEnded | ev.AttemptEnded) -> str:
        by = None if e.flight is None else said.get(e.flight)
        return by if by in ev.STARTED_BY else e.started_by

    return attrs.evolve(
        outing,
        flights=[replace(f, started_by=told(f)) for f in outing.flights],
        attempts=[replace(a, started_by=told(a)) for a in outing.attempts],
    )


def armed(outing: Outing) -> str | None:
    """What the outing was armed for (one of `core.settings.STARTS`), None where nothing was said: a tag `start` set
    afterwards, else the last that was asked for, else the setting."""
    return outing.tags.get("start") or _asked(outing, "arm", "start")


def focus_of(outing: Outing) -> str | None:
    """What the outing was about, the last that was asked for; None where nothing was chosen."""
    return _asked(outing, "set_focus", "focus")


def _asked(outing: Outing, command: str, name: str) -> str | None:
    value = outing.settings.get(name)
    for c in outing.commands:
        if c.name == command:
            value = c.given.get(name)
    return str(value) if value else None


def _ending(outing: Outing, done: ev.FlightEnded, cycles: Sequence[ev.CycleDone]) -> tuple[str, str]:
    told = outing.tags.get(f"{ENDED_TAG}{done.flight}")
    if told in ev.ENDED_BY:
        return told, "rider"
    said = judged(done, signs(outing, done, cycles))
    return said, "detector" if said == done.ended_by else "review"


def _outing_figures(outing: Outing, flights: tuple[FlightFigures, ...], columns: Sequence[Pumps]) -> OutingFigures:
    profile = outing.profile or {}
    counted = [f for f in flights if f.left_out is None]
    best = max(counted, key=lambda f: f.own_s).flight if counted else None
    seconds = {f.flight: f.own_s for f in flights}
    sets = _sets(outing.attempts, seconds)
    faults: dict[str, int] = {}
    for fault in outing.faults:
        faults[fault.kind] = max(faults.get(fault.kind, 0), fault.count)
    return OutingFigures(
        uuid=outing.uuid,
        start_utc=outing.start_utc,
        rider=_name(profile, "rider"),
        foil=_name(profile, "foil"),
        water=str((profile.get("water") or {}).get("kind") or ""),
        versions={k: str(v) for k, v in (outing.meta.get("versions") or {}).items()},
        duration_s=float(outing.accel[-1, 0] - outing.accel[0, 0]) if len(outing.accel) else 0.0,
        flights=flights,
        starts=_starts(outing, flights),
        best=best,
        aloft_s=sum(f.aloft_s for f in flights) + sum(f.rope_s for f in flights if not f.drill),
        own_s=sum(f.own_s for f in flights),
        rope_s=sum(f.rope_s for f in flights),
        pumps=sum(f.pumps for f in flights),
        sets=sets,
        rests_s=tuple(
            later.start - earlier.time for earlier, later in zip(outing.attempts, outing.attempts[1:], strict=False)
        ),
        legs_went_s=_legs_went(outing.attempts),
        helped=tuple(f.flight for f in flights if f.helped),
        rope=tuple(f.flight for f in flights if f.drill),
        cues=tuple(_cue(cue, flights, columns) for cue in outing.cues),
        gaps=len(outing.gaps),
        gap_s=sum(g.end - g.time for g in outing.gaps),
        faults=faults,
        focus=focus_of(outing),
        on_land=armed(outing) == "land",
    )


def _name(profile: dict[str, Any], part: str) -> str:
    return str((profile.get(part) or {}).get("name") or "")


def _overlap(gaps: Sequence[ev.Gap], start: float, end: float) -> float:
    return sum(max(0.0, min(g.end, end) - max(g.time, start)) for g in gaps)


def _starts(outing: Outing, flights: Sequence[FlightFigures]) -> dict[str, StartFigures]:
    kinds: dict[str, StartFigures] = {}
    for kind in ev.STARTED_BY:
        tries = [a for a in outing.attempts if a.started_by == kind]
        if not tries:
            continue
        begun = [f for f in flights if f.started_by == kind and len(f.first_periods_s) == 3]
        kinds[kind] = StartFigures(
            tries=len(tries),
            flights=sum(a.flight is not None for a in tries),
            held=sum(a.pumps >= HELD for a in tries),
            landing_to_push_s=stats.middle(
                np.array([a.landing_to_push_s for a in tries if a.landing_to_push_s is not None])
            ),
            first_periods_s=tuple(float(p) for p in np.median([f.first_periods_s for f in begun], axis=0))
            if begun
            else (),
        )
    return kinds


def _sets(attempts: Sequence[ev.AttemptEnded], seconds: dict[int, float]) -> tuple[Set, ...]:
    groups: list[list[ev.AttemptEnded]] = []
    for a in attempts:
        if groups and a.start - groups[-1][-1].time < SET_PAUSE_S:
            groups[-1].append(a)
        else:
            groups.append([a])
    sets: list[Set] = []
    for group in groups:
        flown = [a.flight for a in group if a.flight is not None]
        sets.append(
            Set(
                start_s=group[0].start,
                end_s=group[-1].time,
                tries=len(group),
                flights=len(flown),
                pumps=sum(a.pumps for a in group),
                own_s=sum(seconds.get(f, 0.0) for f in flown),
                rest_before_s=group[0].start - sets[-1].end_s if sets else None,
            )
        )
    return tuple(sets)


def _legs_went(attempts: Sequence[ev.AttemptEnded]) -> float | None:
    """End of the first try after which the live coach calls the legs gone."""
    legs = Legs()
    return next((a.time for a in attempts if legs.gone(a.pumps, a.ended_by)), None)


def _cue(cue: ev.Cue, flights: Sequence[FlightFigures], columns: Sequence[Pumps]) -> CueFigures:
    for figures, pumps in zip(flights, columns, strict=True):
        if figures.start_s <= cue.time <= figures.end_s:
            return cue_figures(cue, figures.flight, pumps)
    return cue_figures(cue, None, None)
