"""A training as an engine: the detector of the water hears the movements, the session gives clicks and scores.

It has the same methods as `core.engine.Engine`, so live, file and replay run it the same way. Of what the detector
finds only bounces, gaps and faults go on: a set of squats looks like a flight and is none.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from cadence_coach.core import events as ev
from cadence_coach.core.cuebook import MACHINE
from cadence_coach.core.engine import Engine
from cadence_coach.errors import Refused
from cadence_coach.land.plan import Plan
from cadence_coach.land.session import NEVER, Session

AHEAD_S = 1.5
"""Clicks are handed over so long before the first of them is due: more than any output needs."""
READY_S = 6.0
"""From "start" to the first count-in: time to stand."""

KEPT = (ev.Onset, ev.PushEnd, ev.CycleDone, ev.Bounce, ev.Gap, ev.Fault, ev.SpeedFix)


@dataclass(frozen=True, slots=True)
class TrainingBegun(ev.Event):
    """`time` is when the first count-in begins."""

    sets: int
    tempos_per_min: tuple[float, ...]


class LandEngine:
    """engine: a fresh one. plan None: a training of which no clicks are known, so its movements alone. begin: when the
    first count-in began [s], where that is known beforehand; else READY_S after the command "start". `heard(times)` is
    told of the clicks of each set as it is laid out."""

    def __init__(self, engine: Engine, plan: Plan | None, begin: float | None = None, climb: bool = False) -> None:
        self.plan = plan
        self.heard: Callable[[list[float]], None] = lambda times: None
        self._engine = engine
        self._session: Session | None = None
        self._climb = climb
        self._started = False
        self._now: float | None = None
        self._out: list[ev.Event] = []
        if begin is not None:
            self._begin(begin, begin)

    @property
    def over(self) -> bool:
        """The last set is done."""
        return self._session is not None and self._session.over

    @property
    def deadline(self) -> float:
        return min(self._engine.deadline, self._due())

    @property
    def skipped(self) -> dict[str, int]:
        return self._engine.skipped

    @property
    def time(self) -> float | None:
        return self._engine.time

    def receive(self, rows: Sequence[ev.Row]) -> None:
        times = [row[1] for row in rows if row[1] == row[1] and row[0] != ev.FIX]
        if times and self._started and self._session is None:
            self._begin(times[0] + READY_S, times[0])
        self._engine.receive(rows)
        self._go_on(self._engine.time)  # not the latest stamp: one gone astray would end the training

    def advance(self, now: float) -> None:
        self._engine.advance(now)
        self._go_on(now)

    def command(self, name: str, **values: Any) -> None:
        self._engine.command(name, **values)
        self._started |= name == "start" and self.plan is not None
        self._go_on(self._now)

    def end(self) -> None:
        self._engine.end()
        self._go_on(self._now)

    def events(self) -> list[ev.Event]:
        out, self._out = self._out, []
        return out

    # ---- inside ----

    def _go_on(self, now: float | None) -> None:
        if now is not None:
            self._now = now if self._now is None else max(self._now, now)
        if self._session is None and self._started and self._now is not None:
            self._begin(self._now + READY_S, self._now)
        for event in sorted(self._engine.events(), key=lambda e: e.known):
            if isinstance(event, KEPT) or (isinstance(event, ev.Cue) and event.kind in MACHINE):
                self._step(event.known)  # a set is over before what is known only later
                self._out.append(event)
                if self._session is not None:
                    self._session.receive(event)
        if self._now is not None:
            self._step(self._now)

    def _begin(self, at: float, known: float) -> None:
        assert self.plan is not None
        self._session = Session(self.plan, at, climb=self._climb)
        self._out.append(TrainingBegun(at, known, self.plan.sets, self.plan.tempos))

    def _due(self) -> float:
        """When the session wants to go on: a set is laid out ahead of its time, and scored when all of it is known."""
        if self._session is None or self._session.over:
            return NEVER
        return self._session.deadline - (AHEAD_S if self._session.beginning else 0.0)

    def _step(self, now: float) -> None:
        while self._session is not None and self._due() <= now:
            self._session.advance(self._session.deadline)
            new = self._session.events()
            self._out += new
            clicks = [e.time for e in new if isinstance(e, ev.Click) and e.sound == "click"]
            if clicks:
                self.heard(clicks)


def plain_plan(plan: Plan) -> dict[str, Any]:
    """The plan as it goes into files and to the engine's process."""
    return {**asdict(plan), "tempos": list(plan.tempos)}


def plan_from(plain: Any) -> Plan:
    """The inverse of `plain_plan`. Raises Refused for what is none."""
    try:
        return Plan(**{**plain, "tempos": tuple(float(t) for t in plain["tempos"])})
    except (TypeError, ValueError, KeyError) as error:
        raise Refused(f"this is no plan of a training ({error}); begin it anew") from None
