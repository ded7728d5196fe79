"""What a replay found, gathered from the engine's events, and its JSON (format "cadence-coach-replay/1", see README).

Bounces are kept as bare numbers and the JSON is written item by item, so that days of rows need little memory. Times in
the JSON are in the recording's own time.
"""

from __future__ import annotations

import json
import math
import os
from array import array
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from cadence_coach.core import events as ev

FORMAT = "cadence-coach-replay/1"

NAN = float("nan")

CYCLE = ("onset_s", "peak_s", "push_end_s", "peak_g", "lowest_g", "size_g", "travel_m", "known_s")
WIDTH = len(CYCLE) + 2  # and the onset as judged in hindsight, with when that was known


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
                    late = (NAN, NAN) if e.late_onset is None else (e.late_onset, e.known)
                    values = (e.onset, e.peak, e.push_end, e.peak_g, e.lowest_g, e.size_g, e.travel_m, known, *late)
                    self._numbers.append(e.number)
                    self._cycles.extend(values)
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
            self._cycles.extend((onset, NAN, push_end, NAN, NAN, NAN, NAN, known, NAN, NAN))

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

        An onset that neither came to a push end nor belongs to a flight is no bounce. Where a cycle is no pump of a
        flight its onset is the one judged in hindsight, and known_s when that was: at the end of the cycle.
        """
        self._drop_before(max(self._open, default=0) + 1)
        spans = [(self._first_cycle.get(f.flight, f.last_cycle + 1), f.last_cycle, f.flight) for f in self.flights]
        spans.sort()
        firsts = [span[0] for span in spans]
        for i, number in enumerate(self._numbers):
            values = self._cycles[WIDTH * i : WIDTH * (i + 1)]
            at = bisect_right(firsts, number) - 1
            flight = spans[at][2] if at >= 0 and number <= spans[at][1] else None
            if flight is None and math.isnan(values[2]):
                continue
            if flight is None and not math.isnan(values[8]):  # on foot the late view is the better clock
                values[0], values[7] = values[8], values[9]
            times = [self._t(t) for t in (*values[:3], values[7])]
            onset, peak, push_end, known = times
            sizes = map(_number, values[3:7])
            yield dict(zip(CYCLE, (onset, peak, push_end, *sizes, known), strict=True)) | {"flight": flight}

    def document(self) -> dict[str, Any]:
        """The whole as one value."""
        return {"format": FORMAT, "versions": self.versions} | {name: list(items) for name, items in self.sections()}

    def write(self, path: Path) -> None:
        """The same as a file: whole or not at all."""
        path.parent.mkdir(parents=True, exist_ok=True)
        beside = path.with_name(path.name + ".part")
        with beside.open("w", encoding="utf-8") as file:
            file.write(f'{{"format": {json.dumps(FORMAT)},\n "versions": {json.dumps(self.versions)}')
            for name, items in self.sections():
                file.write(f',\n "{name}": [')
                for i, item in enumerate(items):
                    file.write((",\n  " if i else "\n  ") + json.dumps(item, allow_nan=False))
                file.write("]")
            file.write("}\n")
        os.replace(beside, path)

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


def replay_document(
    events: Iterable[ev.Event], start_s: float = 0.0, versions: dict[str, str] | None = None
) -> dict[str, Any]:
    """The JSON of a replay from all its events."""
    found = Replayed(start_s, versions)
    found.take(events)
    return found.document()
