"""The coach: what is said, when, and why not.

One rider, one outing. The coach is in one of six states; events move it along `TABLE` (below the class), each move
runs one method.

    READY    nothing is tried                          LANDED   a flight is over, its word is owed
    TRYING   an attempt is on, no flight yet           HUSHED   asked "all right?": no coaching until pumping starts
    ALOFT    a flight is on                            PAUSED   by the rider: machine and guard alone

            AttemptStarted          FlightStarted         FlightEnded           calm, 6 s after: the word
    READY ----------------> TRYING ---------------> ALOFT ------------> LANDED --------------------------> READY
          <----------------        <---------------------------------------
            AttemptEnded              AttemptStarted: the word is shown, not said

    any state but PAUSED -- "all right?" --> HUSHED -- an attempt begun since, a flight --> as from READY

Who decides what: `corrector` (with `looks` and `pace`) what is off and whether it may be said, `guard` watches over
the outing, `afterword` (with `tally` and `word`) speaks after a flight, `beat` clicks, `turns` lets one message
through at a time. Everything said or held back is an event with its reason.

On the rope nothing is said, so that the driver is heard, unless a rope drill was armed: no click, correction,
milestone, turn back or rest; machine faults, "all right?" and the time limit stay. The word comes when the rider
floats, and stays too.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from statistics import median
from typing import Any

from .afterword import Afterword
from .beat import Beat
from .corrector import Corrector
from .cuebook import FIRST, LATER, NOT_ON_ROPE, RANK
from .events import (
    AttemptEnded,
    AttemptStarted,
    Calm,
    CycleDone,
    Event,
    Fault,
    FlightEnded,
    FlightStarted,
    Gap,
    Impact,
    Place,
    Slaps,
    SpeedFix,
    Still,
    Stirred,
)
from .guard import Call, Guard
from .rules import AFTER_FALL_S, AFTER_GAP_S, CLAIMABLE, COAST_AT_MOST_S, HARDER, NO_PUMP, PUSHES
from .settings import Settings
from .tally import Tally
from .targets import BandTable
from .turns import Turns
from .units import INFINITY

READY, TRYING, ALOFT, LANDED, HUSHED, PAUSED = "ready", "trying", "aloft", "landed", "hushed", "paused"

ROPE = "the rope: the driver must be heard"
LAND = "training on land"


class Coach:
    """`receive` events in the order known, `advance` to let deadlines happen, `events` to take what was said."""

    def __init__(self, settings: Settings, band: BandTable | None) -> None:
        self.settings = settings
        self.state = READY
        self.deadline = INFINITY
        """When something happens by itself next."""
        self._turns = Turns()
        self.beat = Beat(settings.lead, settings.click_ahead_s, land=settings.start == "land")
        self._corrector = Corrector(settings, band, self._turns)
        self.guard = Guard(settings)
        self._after = Afterword(self._turns)
        self._tally = Tally()
        self._cycles: deque[CycleDone] = deque(maxlen=CLAIMABLE)
        self._attempt_open = False
        self._rope = self._flying = False
        self._start = 0.0
        self._pumps = 0
        self._hit: Impact | None = None
        self._quiet_without_blow = -INFINITY
        self._legs: str | None = None
        self._hushed_at = self._glided_until = -INFINITY
        self.change()
        self._settle()

    # ---- the part protocol ----

    def receive(self, event: Event) -> None:
        self.advance(event.known)
        self.beat.receive(event)
        move = TABLE.get((self.state, type(event))) or TABLE.get((ANY, type(event)))
        if move is not None:
            act, to = move
            self.state = to or self.state
            act(self, event)
        self._settle()

    def advance(self, now: float, until: float = -INFINITY) -> None:
        """until: where the time has come further at once, how far."""
        if self.deadline <= now:
            self._fire(now, max(now, until))
        self._turns.now = max(self._turns.now, now)

    def _fire(self, now: float, until: float) -> None:
        turns = self._turns
        while (at := self.deadline) <= now:
            turns.now = max(turns.now, at)
            self.beat.advance(at)
            for kind, reason in self.guard.due(at, until):
                self._call(kind, reason)
            self._flush()
            if self._after.deadline <= at:
                self._speak()
            self._settle()

    def _settle(self) -> None:
        """After anything that happened: say what may be said, and when does something happen by itself next?"""
        self._flush()
        self.deadline = min(self.beat.deadline, self.guard.deadline, self._turns.deadline, self._after.deadline)

    def events(self) -> list[Event]:
        out, self._turns.out = self._turns.out, []
        return out

    def end(self) -> None:
        """No more samples: the word that is owed is shown, not said; nothing waits any longer."""
        self._after.speak(self.settings, "the recording ended")
        self._turns.drop("the recording ended")
        self.beat.stop()
        self._settle()

    def command(self, name: str, **values: Any) -> None:
        """One of COMMANDS, with its values by name. ValueError for anything else."""
        act = COMMANDS.get(name)
        if act is None:
            raise ValueError(f"no such command: {name!r}; there are {', '.join(COMMANDS)}")
        act(self, **values)
        self._settle()

    # ---- attempts and flights ----

    def _try_begins(self, e: AttemptStarted | FlightStarted) -> None:
        self._after.speak(self.settings, "a new start began")
        self._legs = None
        self._turns.drop("a new start began", ("rest_over", "legs_gone"))
        self.guard.attempt_began(e.time)
        self._attempt_open = True
        self._hit = None

    def _try_in_hush(self, e: AttemptStarted) -> None:
        """One that is known only now may be the one that was asked about."""
        self.state = TRYING if e.time > self._hushed_at else HUSHED
        self._try_begins(e)

    def _flight_begins(self, e: FlightStarted) -> None:
        if not self._attempt_open:
            self._try_begins(e)
        self._after.speak(self.settings, "a new start began")  # a second flight in one attempt
        # who glided on from a flight is on a rope only if that one was: a glide before the first pump looks like one
        towed = self._rope if e.time < self._glided_until else e.started_by == "rope"
        self._rope = self.settings.start == "rope" or (towed and self.settings.start != "rope_drill")
        self._start, self._pumps, self._flying = e.time, 0, True
        self.guard.flight_began()
        self._hit = None
        self._tally = Tally()
        self._corrector.start(e.time, ROPE if self._rope else LAND if self.settings.start == "land" else "")
        self._lead()
        if self.settings.start != "land":
            self.beat.begin(e.first_cycle, e.known)
        for cycle in self._cycles:
            if cycle.number >= e.first_cycle and cycle.whole and cycle.odds >= NO_PUMP:
                self.guard.no_accident(cycle.onset)
                self._take(cycle)

    def _flight_over(self, e: FlightEnded) -> None:
        self._flying = False
        self._end_of(e)
        if self.settings.start == "land":
            self.state = READY if self.state == LANDED else self.state
            return
        self.guard.flight_over(e)
        speed = self._tally.speed(e.time)
        needed = self._corrector.needed(speed, e.cadence)
        self._corrector.lean(e, speed)
        self._after.flight_over(e, self._tally, needed, self._attempt_open)

    def _try_over(self, e: AttemptEnded) -> None:
        self._attempt_open = False
        self._end_of(e)
        self._after.attempt_over(e)
        legs = self.guard.attempt_over(e)
        self._legs = legs[1] if legs is not None else self._legs
        if self.state in (READY, TRYING):
            self._say_legs()

    def _end_of(self, e: FlightEnded | AttemptEnded) -> None:
        if isinstance(e, FlightEnded):
            self.beat.stop()
            self._turns.drop("the flight is over", ("milestone",))
            self._glided_until = e.time + COAST_AT_MOST_S if e.ended_by == "coast_out" else -INFINITY
        if e.ended_by == "fall":
            self._turns.quiet_until = max(self._turns.quiet_until, e.time + AFTER_FALL_S)
            self.guard.fell(e.time, e.known)

    # ---- one pump ----

    def _pump(self, e: CycleDone) -> None:
        self._cycles.append(e)
        if not (self._flying and e.whole and e.odds >= NO_PUMP):
            return
        blow = self._hit
        # a push as hard as a blow is borne out by the next onset; at the sensor's range it takes a whole pump after it
        if blow is not None and (e.onset if blow.clipped else e.time) > blow.time and self.beat.in_rhythm(e.period):
            self._hit = None
            self._turns.quiet_until = self._quiet_without_blow
            self.guard.no_accident(e.onset)
            self.beat.go_on(e.known)
        look = self._take(e)
        self._say(self.guard.pump(e.time - self._start, self._pumps))
        if look and self.settings.level != "quiet" and self.state == ALOFT:
            self._corrector.look(e, self._hit is not None)
            self.beat.in_band(self._corrector.in_band_since)
        self._lead()

    def _take(self, e: CycleDone) -> bool:
        self._pumps += 1
        self._tally.pump(e)
        return self._corrector.take(e)

    def _lead(self) -> None:
        """What the click goes with from here on."""
        beat, settings = self.beat, self.settings
        beat.lead = settings.lead
        beat.muted = settings.muted or settings.level == "quiet" or self._rope or self.state == PAUSED
        beat.goal, beat.push_share = self._corrector.lead(self._turns.now)

    # ---- speed, motion, sensors ----

    def _fix(self, e: SpeedFix) -> None:
        self._corrector.fix(e, self._flying)
        if self._flying:
            self._tally.fix(e)
        self._say(self.guard.fix(e))

    def _blow(self, e: Impact) -> None:
        """Aloft: taken for a fall until a pump says otherwise."""
        if self._hit is None:
            self._quiet_without_blow = self._turns.quiet_until
        self._hit = e
        self._turns.quiet_until = max(self._turns.quiet_until, e.time + AFTER_FALL_S)
        self.guard.impact(e)
        pushes = [c.peak_g for c in self._cycles if c.whole and c.odds >= NO_PUMP][-PUSHES:]
        if not pushes or e.peak_g > HARDER * median(pushes):
            self.beat.hold()

    def _gap(self, e: Gap) -> None:
        self._turns.quiet_until = max(self._turns.quiet_until, e.end + AFTER_GAP_S)
        self._corrector.gap()

    # ---- saying ----

    def _say(self, call: Call | None) -> None:
        if call is not None:
            self._call(*call)

    def _call(self, kind: str, reason: str) -> None:
        """Say it in its turn, unless something speaks against it altogether."""
        settings, rank = self.settings, RANK[kind]
        if (kind == "milestone" and self._rope) or (kind in NOT_ON_ROPE and settings.start == "rope"):
            why_not = ROPE
        elif settings.start == "land" and rank != FIRST:
            why_not = LAND
        elif kind == "milestone" and settings.level == "quiet":
            why_not = "quiet"
        elif kind == "milestone" and self.guard.turned_back:
            why_not = "turning back comes first"
        elif rank == LATER and (settings.muted or self.state in (HUSHED, PAUSED)):
            why_not = "muted" if settings.muted else self.state
        else:
            if kind == "turn_back":
                self._turns.drop("turning back comes first", ("milestone",))
            self._turns.call(kind, reason)
            return
        self._turns.hold(kind, why_not, reason)

    def _flush(self) -> None:
        turns = self._turns
        turns.out.extend(self.beat.events())
        if "all_right" in turns.flush() and self.state != PAUSED:
            turns.drop("hushed", ("milestone", "rest_over", "legs_gone"))
            self.beat.stop()
            self.state, self._hushed_at = HUSHED, turns.now

    def _speak(self) -> None:
        why_not = "" if self._after.calm else "never calm"
        if self.state in (HUSHED, PAUSED) or self.settings.muted:
            why_not = "muted" if self.settings.muted else self.state
        self._after.speak(self.settings, why_not, tired=self._legs is not None)
        self.state = READY if self.state == LANDED else self.state
        self._say_legs()

    def _say_legs(self) -> None:
        if self._legs is not None:
            self._call("legs_gone", self._legs)
            self._legs = None

    def _again(self, e: Slaps) -> None:
        self.guard.no_accident(e.known)
        self._after.again()

    # ---- what is chosen ----

    def change(self, **changes: Any) -> None:
        """Other settings from here on (names of Settings)."""
        self.settings = self.settings.with_(**changes)
        self.guard.settings = self.settings
        self._corrector.change(self.settings)
        self._lead()

    def arm(self, start: str) -> None:
        self.change(start=start)
        self.guard.rearm()
        self._call("armed", start)

    def begin(self) -> None:
        if self.state == PAUSED:  # a flight that is on goes on
            self.state = ALOFT if self._flying else READY
            self._lead()
        self.guard.begin(self._turns.now)
        self._call("started", "command")

    def rest(self, kind: str) -> None:
        """Paused or ended: machine and guard alone until `begin`; a flight is followed, for its word and the click."""
        self._after.speak(self.settings, kind)
        self._turns.drop(kind, ("milestone", "rest_over", "legs_gone"))
        self.state = PAUSED
        self._lead()
        self._call(kind, "command")


Move = tuple[Callable[[Coach, Any], None], str | None]
ANY = "*"

TABLE: dict[tuple[str, type[Event]], Move] = {
    (READY, AttemptStarted): (Coach._try_begins, TRYING),
    (READY, FlightStarted): (Coach._flight_begins, ALOFT),
    (TRYING, AttemptStarted): (Coach._try_begins, TRYING),
    (TRYING, FlightStarted): (Coach._flight_begins, ALOFT),
    (TRYING, AttemptEnded): (Coach._try_over, READY),
    (ALOFT, CycleDone): (Coach._pump, None),
    (ALOFT, FlightEnded): (Coach._flight_over, LANDED),
    (ALOFT, FlightStarted): (Coach._flight_begins, ALOFT),
    (ALOFT, Impact): (Coach._blow, None),
    (LANDED, AttemptStarted): (Coach._try_begins, TRYING),
    (LANDED, FlightStarted): (Coach._flight_begins, ALOFT),
    (LANDED, Slaps): (Coach._again, None),
    (READY, Slaps): (Coach._again, None),
    (HUSHED, AttemptStarted): (Coach._try_in_hush, None),
    (HUSHED, FlightStarted): (Coach._flight_begins, ALOFT),
    (PAUSED, FlightStarted): (Coach._flight_begins, None),
    (PAUSED, CycleDone): (Coach._pump, None),
    (ANY, AttemptEnded): (Coach._try_over, None),
    (ANY, FlightEnded): (Coach._flight_over, None),
    (ANY, CycleDone): (lambda coach, e: coach._cycles.append(e), None),
    # a start that failed hard is told late or never, a flight may be told over before its fall: any blow is a question
    (ANY, Impact): (lambda coach, e: coach.guard.impact(e), None),
    (ANY, SpeedFix): (Coach._fix, None),
    (ANY, Place): (lambda coach, e: coach._say(coach.guard.fix(e)), None),
    (ANY, Calm): (lambda coach, e: coach._after.moved(e.known, True), None),
    (ANY, Stirred): (lambda coach, e: coach._after.moved(e.known, False), None),
    (ANY, Still): (lambda coach, e: coach._say(coach.guard.still(e)), None),
    (ANY, Gap): (Coach._gap, None),
    (ANY, Fault): (lambda coach, e: coach._say(coach.guard.fault(e)), None),
}
"""(state, event) -> (what is done, the state it leads to; None: the same). What is not listed changes nothing."""

COMMANDS: dict[str, Callable[..., None]] = {
    "arm": Coach.arm,
    "start": Coach.begin,
    "go_on": lambda coach, **ride: coach.guard.go_on(coach._turns.now, **ride),
    "pause": lambda coach: coach.rest("paused"),
    "stop": lambda coach: coach.rest("ended"),
    "set_focus": lambda coach, focus: coach.change(focus=focus),
    "set_lead": lambda coach, lead: coach.change(lead=lead),
    "set_level": lambda coach, level: coach.change(level=level),
    "set_goal": lambda coach, seconds=None, pumps=None: coach.change(goal_seconds=seconds, goal_pumps=pumps),
    "mute": lambda coach, on=True: coach.change(muted=on),
    "route_changed": lambda coach: coach.beat.route_changed(),
    "repeat": lambda coach: coach._after.again() if coach.state in (READY, LANDED) else None,
    "mark": lambda coach: None,
}
"""What can be asked of the coach. `mark` is for the file alone: nothing is said. `go_on`: see `Guard`."""
