"""One training as a stream: movements in, clicks and scores out. No clock, no thread: time comes with the calls.

    rest -> count in (4) -> set of clicks -> half a period to finish -> score -> rest -> ...

Clicks of a set are handed over all at once when its count-in begins, each on its own exact time: nothing that happens
later (a busy machine, a late sample) can move them.
"""

from __future__ import annotations

from dataclasses import dataclass

from cadence_coach.core import events as ev
from cadence_coach.land.plan import COUNT_IN, Plan, next_rung
from cadence_coach.land.score import Move, SetScore, score_set

NEVER = float("inf")
AFTER_S = 1.0
"""Wait this long after the last click: an onset is known 60 ms late, its push end and next onset a period later."""
READY_S = 4.0
"""The end of a rest is told this long before the count-in."""
MOST_MOVES = 2000


@dataclass(frozen=True, slots=True)
class SetStarted(ev.Event):
    """`time` is the first click after the count-in; `ends` the last one; `number` counts from 1."""

    number: int
    rung: int
    tempo_per_min: float
    ends: float


@dataclass(frozen=True, slots=True)
class SetDone(ev.Event):
    """`score` is None where no sensor listened. `last`: no set follows; else `next` is when its count-in begins."""

    number: int
    rung: int
    score: SetScore | None
    last: bool
    next: float = NEVER


class Session:
    """`receive(event)` onsets and whole cycles, `advance(now)`, `events()`, `deadline`; all times in s on one clock.

    `next`: when the set that is laid out is scored, or the next one begins."""

    def __init__(
        self, plan: Plan, start: float = 0.0, listening: bool = True, same_clock: bool = True, climb: bool = False
    ) -> None:
        self.plan = plan
        self.next = start
        self.history: list[tuple[int, bool | None]] = []
        self._listening = listening
        self._climb = climb  # straight up whatever the scores: the plan of a training that is over
        self._same_clock = same_clock
        self._out: list[ev.Event] = []
        self._clicks: list[float] = []
        self._moves: dict[int, Move] = {}
        self._rung = 0
        self._ready = NEVER  # when the end of the rest is told

    @property
    def deadline(self) -> float:
        return min(self._ready, self.next)

    @property
    def over(self) -> bool:
        return self.next == NEVER

    @property
    def beginning(self) -> bool:
        """A set is laid out next: that may be done ahead of its time, a message may not."""
        return not self._clicks and self.next < self._ready

    def receive(self, event: ev.Event) -> None:
        """What the detector found; anything but onsets and cycles is passed over."""
        if isinstance(event, ev.Onset):
            self._moves[event.number] = Move(event.time)
        elif isinstance(event, ev.CycleDone):
            self._moves[event.number] = Move(event.onset, event.push_end, event.time)
        if len(self._moves) > MOST_MOVES:
            del self._moves[next(iter(self._moves))]

    def advance(self, now: float) -> None:
        while (at := self.deadline) <= now:
            if self._ready == at:
                # not before it is due: whatever is said waits for what was said already, a warning too
                self._out.append(ev.Cue(at, at, "rest_over", "next set"))
                self._ready = NEVER
            elif self._clicks:
                self._finish(at)
            else:
                self._begin(at)

    def events(self) -> list[ev.Event]:
        out, self._out = self._out, []
        return out

    def _begin(self, at: float) -> None:
        self._rung = next_rung(len(self.plan.tempos), self.history)
        tempo = self.plan.tempos[self._rung]
        period = 60 / tempo
        first = at + COUNT_IN * period
        self._clicks = [first + k * period for k in range(self.plan.beats(tempo))]
        self._moves = {}
        number = len(self.history) + 1
        self._out.append(SetStarted(first, at, number, self._rung, tempo, self._clicks[-1]))
        for k in range(COUNT_IN):
            self._out.append(ev.Click(at + k * period, at, "count_in", period, "land"))
        for click in self._clicks:
            self._out.append(ev.Click(click, at, "click", period, "land"))
            if self.plan.push_share is not None:
                self._out.append(ev.Click(click + self.plan.push_share * period, at, "tick", period, "land"))
        self.next = self._clicks[-1] + period + AFTER_S

    def _finish(self, at: float) -> None:
        score = None
        if self._listening:
            moves = sorted(self._moves.values(), key=lambda move: move.onset)
            score = score_set(self._clicks, moves, self._same_clock)
        self.history.append((self._rung, score.passed if score is not None and not self._climb else None))
        last = len(self.history) >= self.plan.sets
        self._clicks = []
        rest = max(0.0, self.plan.rest_s - AFTER_S)
        self.next = NEVER if last else at + rest
        self._out.append(SetDone(at, at, len(self.history), self._rung, score, last, self.next))
        if not last and rest > 2 * READY_S:
            self._ready = self.next - READY_S


def align(moves: list[Move], plan: Plan, step: float = 0.1) -> float:
    """When the first count-in must have begun for the moves of a whole straight-up training to fit its clicks best [s].

    For trainings that were recorded beside a click that shares no clock with the recording: the sum over sets of how
    much the onsets within a set agree on one phase, searched over all starts. The phase itself stays unknown.
    """
    import numpy as np

    onsets = np.array([move.onset for move in moves])
    if not len(onsets):
        return 0.0
    windows, begins = [], 0.0
    for k in range(plan.sets):
        tempo = plan.tempos[min(k, len(plan.tempos) - 1)]
        first = begins + COUNT_IN * 60 / tempo
        last = first + (plan.beats(tempo) - 1) * 60 / tempo
        windows.append((first - 30 / tempo, last + 30 / tempo, 60 / tempo))
        begins = last + 60 / tempo + AFTER_S + max(0.0, plan.rest_s - AFTER_S)
    best, found = -1.0, 0.0
    for start in np.arange(onsets[0] - windows[0][1], onsets[-1] + step, step):
        together = 0.0
        for first, last, period in windows:
            inside = onsets[(onsets >= start + first) & (onsets < start + last)]
            together += abs(np.sum(np.exp(2j * np.pi * inside / period)))
        if together > best + 1e-9:
            best, found = together, float(start)
    # within the last step the sets are covered; put the mean phase of the first set on its clicks
    first, last, period = windows[0]
    inside = onsets[(onsets >= found + first) & (onsets < found + last)]
    if not len(inside):
        return found
    clicks_at = found + first + period / 2
    off = float(np.angle(np.mean(np.exp(2j * np.pi * (inside - clicks_at) / period)))) * period / (2 * np.pi)
    return found + off
