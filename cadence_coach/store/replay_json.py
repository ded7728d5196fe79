"""What a replay found, gathered from the engine's events, and its JSON (format "cadence-coach-replay/1", see FILES.md).

Bounces are kept as bare numbers and the JSON is written item by item, so that days of rows need little memory. Times in
the JSON are in the recording's own time.
"""

from __future__ import annotations

import heapq
import json
import math
from array import array
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from cadence_coach.core import events as ev
from cadence_coach.errors import CouldNot
from cadence_coach.store.beside import beside, into_place

FORMAT = "cadence-coach-replay/1"

NAN = float("nan")

CYCLE = ("onset_s", "peak_s", "push_end_s", "peak_g", "lowest_g", "size_g", "travel_m", "known_s")
WIDTH = len(CYCLE)
BOUNCE = 6
OVERLAP = 0.3
"""A bounce of the view in hindsight this little [s] before a flight is its first pump."""


class Replayed:
    """Gathers events; hand it every event of one recording, in the order they came.

    start_s: the recording's own time [s] at which the events' time is 0. versions: of detector, coach and model.
    """

    def __init__(self, start_s: float = 0.0, versions: dict[str, str] | None = None) -> None:
        self.start_s = start_s
        self.versions = versions or {}
        self.attempts: list[ev.AttemptEnded] = []
        self.flights: list[ev.FlightEnded] = []
        self.gaps: list[ev.Gap] = []
        self.faults: list[ev.Fault] = []
        self.cues: list[ev.Cue] = []
        self._clicks = array("d")
        self._numbers = array("q")
        self._cycles = array("d")  # WIDTH values a cycle
        self._bounces = array("d")  # BOUNCE values a bounce
        self._first_cycle: dict[int, int] = {}
        self._open: dict[int, list[float]] = {}  # onset, known, push end of cycles that are not done

    def take(self, events: Iterable[ev.Event]) -> None:
        for e in events:
            match e:
                case ev.Onset():
                    self._open[e.number] = [e.time, e.known, NAN]
                case ev.PushEnd():
                    if e.number in self._open:
                        self._open[e.number][2] = e.time
                case ev.CycleDone():
                    self._drop_before(e.number)
                    _, known, _ = self._open.pop(e.number, (0.0, e.known, 0.0))
                    values = (e.onset, e.peak, e.push_end, e.peak_g, e.lowest_g, e.size_g, e.travel_m, known)
                    self._numbers.append(e.number)
                    self._cycles.extend(values)
                case ev.Bounce():
                    end = NAN if e.push_end is None else e.push_end
                    self._bounces.extend((e.onset, e.peak, end, e.peak_g, e.lowest_g, e.known))
                case ev.FlightStarted():
                    self._first_cycle[e.flight] = e.first_cycle
                case ev.FlightEnded():
                    self.flights.append(e)
                case ev.AttemptEnded():
                    self.attempts.append(e)
                case ev.Gap():
                    self.gaps.append(e)
                case ev.Fault():
                    self.faults.append(e)
                case ev.Cue():
                    self.cues.append(e)
                case ev.Click():
                    self._clicks.append(e.time)

    def count(self, skipped: Mapping[str, int]) -> None:
        """The final number of each kind of fault: the engine tells of a row only when the number has doubled."""
        last = {fault.kind: fault for fault in self.faults}
        for kind, number in skipped.items():
            if kind in last and last[kind].count < number:
                self.faults.append(replace(last[kind], count=number))

    def _drop_before(self, number: int) -> None:
        """Cycles before `number` that are still open will never be done; they keep their onset and push end, if any."""
        for n in sorted(n for n in self._open if n < number):
            onset, known, push_end = self._open.pop(n)
            self._numbers.append(n)
            self._cycles.extend((onset, NAN, push_end, NAN, NAN, NAN, NAN, known))

    def sections(self) -> Iterator[tuple[str, Iterator[dict[str, Any]]]]:
        """The lists of the JSON, each as an iterator of its items."""
        yield "cycles", self.cycles()
        yield "attempts", map(self._attempt, self.attempts)
        yield "flights", map(self._flight, self.flights)
        yield "gaps", ({"start_s": self._t(g.time), "end_s": self._t(g.end)} for g in self.gaps)
        yield "faults", ({"t_s": self._t(f.time), "kind": f.kind, "count": f.count} for f in self.faults)
        yield "cues", ({"t_s": self._t(c.time), "kind": c.kind, "reason": c.reason} for c in self.cues)
        yield "clicks", ({"t_s": self._t(t)} for t in self._clicks)

    def cycles(self) -> Iterator[dict[str, Any]]:
        """Every bounce found, in order; `flight` is the index of the flight it is a pump of, or None.

        The pumps of flights are the cycles as they were known live; everything between is the view in hindsight
        (core.afoot), each with when it was known.
        """
        pumps = self._pumps()
        flights = sorted((f.start - OVERLAP, f.time) for f in self.flights)
        starts = [start for start, _ in flights]
        rest = []
        for i in range(0, len(self._bounces), BOUNCE):
            onset, peak, end, peak_g, lowest_g, known = self._bounces[i : i + BOUNCE]
            at = bisect_right(starts, onset) - 1
            if at >= 0 and onset <= flights[at][1]:
                continue
            values = (self._t(onset), self._t(peak), self._t(end), _number(peak_g), _number(lowest_g), None, None)
            rest.append(dict(zip(CYCLE, (*values, self._t(known)), strict=True)) | {"flight": None})
        yield from heapq.merge(pumps, rest, key=lambda c: c["onset_s"])

    def _pumps(self) -> list[dict[str, Any]]:
        """The cycles that are pumps of a flight."""
        self._drop_before(max(self._open, default=0) + 1)
        spans = [(self._first_cycle.get(f.flight, f.last_cycle + 1), f) for f in self.flights]
        spans.sort(key=lambda span: span[0])
        firsts = [first for first, _ in spans]
        found = []
        for i, number in enumerate(self._numbers):
            at = bisect_right(firsts, number) - 1
            if at < 0 or number > spans[at][1].last_cycle or number in spans[at][1].skipped:
                continue
            values = self._cycles[WIDTH * i : WIDTH * (i + 1)]
            times = [self._t(t) for t in (*values[:3], values[7])]
            onset, peak, push_end, known = times
            sizes = map(_number, values[3:7])
            item = dict(zip(CYCLE, (onset, peak, push_end, *sizes, known), strict=True))
            found.append(item | {"flight": spans[at][1].flight})
        return found

    def document(self) -> dict[str, Any]:
        """The whole as one value."""
        return {"format": FORMAT, "versions": self.versions} | {name: list(items) for name, items in self.sections()}

    def write(self, path: Path) -> None:
        """The same as a file: whole or not at all."""
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            fresh = beside(path)
            with fresh.open("w", encoding="utf-8") as file:
                file.write(f'{{"format": {json.dumps(FORMAT)},\n "versions": {json.dumps(self.versions)}')
                for name, items in self.sections():
                    file.write(f',\n "{name}": [')
                    for i, item in enumerate(items):
                        file.write((",\n  " if i else "\n  ") + json.dumps(item, allow_nan=False))
                    file.write("]")
                file.write("}\n")
            into_place(fresh, path)
        except OSError as error:
            raise CouldNot(f"{path}: cannot be written ({error.strerror}); choose another place") from None

    def _attempt(self, a: ev.AttemptEnded) -> dict[str, Any]:
        return {
            "start_s": self._t(a.start),
            "end_s": self._t(a.time),
            "pumps": a.pumps,
            "started_by": a.started_by,
            "landing_g": _number(a.landing_g),
            "landing_to_push_s": _number(a.landing_to_push_s),
            "ended_by": a.ended_by,
            "flight": a.flight,
        }

    def _flight(self, f: ev.FlightEnded) -> dict[str, Any]:
        return {
            "start_s": self._t(f.start),
            "end_s": self._t(f.time),
            "pumps": f.pumps,
            "cadence_hz": _number(f.cadence),
            "push_share": _number(f.push_share),
            "size_g": _number(f.size_g),
            "steadiness": _number(f.steadiness),
            "started_by": f.started_by,
            "ended_by": f.ended_by,
            "coast_s": _number(f.coast_s),
        }

    def _t(self, t: float) -> float | None:
        """In the recording's own time, to the microsecond."""
        return _number(self.start_s + t)


def _number(x: float | None) -> float | None:
    """A number as JSON can hold it: six decimals, None for what is not known."""
    return None if x is None or not math.isfinite(x) else round(x, 6)
