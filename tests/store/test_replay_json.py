"""The JSON of a replay from a hand-made list of events."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

from cadence_coach.core import events as ev
from cadence_coach.store.replay_json import Replayed


def document(events: list[ev.Event], *given: Any) -> dict[str, Any]:
    found = Replayed(*given)
    found.take(events)
    return found.document()


def pump(number: int, onset: float) -> list[ev.Event]:
    """A pump of 0.6 s: onset, push end and the whole, each known 40 ms later."""
    end, after = onset + 0.2, onset + 0.6
    return [
        ev.Onset(onset, onset + 0.04, number),
        ev.PushEnd(end, end + 0.04, number),
        ev.CycleDone(after, after + 0.04, number, onset, onset + 0.1, end, onset + 0.4, 1.9, 0.4, 0.6, 0.2),
    ]


FLIGHT = ev.FlightEnded(13.0, 15.0, 0, 11.2, 4, 3, 1.667, 1 / 3, 0.6, float("nan"), "run_up", "fall", 0.5)
EVENTS: list[ev.Event] = [
    *pump(0, 5.0),  # on foot: the view in hindsight counts, below
    ev.Bounce(5.6, 5.9, 0, 5.05, 5.1, 5.2, 1.9, 0.4),
    ev.Onset(7.0, 7.04, 1),  # a rise that came to nothing
    ev.AttemptStarted(11.0, 11.1, 0, "run_up", 2.5),
    *pump(2, 11.2),
    *pump(3, 11.8),
    ev.Onset(12.4, 12.44, 4),
    ev.PushEnd(12.6, 12.64, 4),
    ev.FlightStarted(11.2, 12.44, 0, 0, 2, "run_up"),
    FLIGHT,
    ev.AttemptEnded(13.5, 15.0, 0, 11.0, 3, "run_up", 2.5, 0.2, "fall", 0),
    ev.AttemptEnded(21.0, 22.0, 1, 20.0, 0, "unknown", None, None, "touch_down", None),
    ev.Gap(30.0, 31.0, 30.9),
    ev.Fault(32.0, 32.0, "bad_value", 1),
    ev.Cue(40.0, 40.0, "fewer", "118 a minute, band 84 to 104"),
    ev.Click(41.0, 40.8, "click", 0.6, "band"),
    ev.Bounce(11.8, 12.1, 1, 11.0, 11.3, 11.4, 1.9, 0.4),  # the first pump, as seen in hindsight
    ev.Bounce(50.6, 50.9, 2, 50.0, 50.1, None, 1.9, 0.4),
]


def test_the_whole_document() -> None:
    got = document(EVENTS, 1e9, {"detector": "1", "coach": "1", "model": "1"})
    cycle = {"peak_g": 1.9, "lowest_g": 0.4, "size_g": 0.6, "travel_m": 0.2}
    nothing: dict[str, Any] = dict.fromkeys(cycle)

    def at(onset: float, flight: int | None, whole: bool = True) -> dict[str, Any]:
        t = [round(1e9 + onset + d, 6) for d in (0.0, 0.1, 0.2, 0.04)]
        times = {"onset_s": t[0], "peak_s": t[1] if whole else None, "push_end_s": t[2], "known_s": t[3]}
        return times | (cycle if whole else nothing) | {"flight": flight}

    def bounce(onset: float, peak: float, push_end: float | None, known: float) -> dict[str, Any]:
        t = [None if x is None else round(1e9 + x, 6) for x in (onset, peak, push_end, known)]
        times = {"onset_s": t[0], "peak_s": t[1], "push_end_s": t[2], "known_s": t[3]}
        return nothing | {"peak_g": 1.9, "lowest_g": 0.4} | times | {"flight": None}

    assert got == {
        "format": "cadence-coach-replay/1",
        "versions": {"detector": "1", "coach": "1", "model": "1"},
        "cycles": [
            bounce(5.05, 5.1, 5.2, 5.9),
            at(11.2, 0),
            at(11.8, 0),
            at(12.4, 0, False),
            bounce(50.0, 50.1, None, 50.9),
        ],
        "attempts": [
            {
                "start_s": 1e9 + 11.0,
                "end_s": 1e9 + 13.5,
                "pumps": 3,
                "started_by": "run_up",
                "landing_g": 2.5,
                "landing_to_push_s": 0.2,
                "ended_by": "fall",
                "flight": 0,
            },
            {
                "start_s": 1e9 + 20.0,
                "end_s": 1e9 + 21.0,
                "pumps": 0,
                "started_by": "unknown",
                "landing_g": None,
                "landing_to_push_s": None,
                "ended_by": "touch_down",
                "flight": None,
            },
        ],
        "flights": [
            {
                "start_s": 1e9 + 11.2,
                "end_s": 1e9 + 13.0,
                "pumps": 3,
                "cadence_hz": 1.667,
                "push_share": 0.333333,
                "size_g": 0.6,
                "steadiness": None,
                "started_by": "run_up",
                "ended_by": "fall",
                "coast_s": 0.5,
            }
        ],
        "gaps": [{"start_s": 1e9 + 30.0, "end_s": 1e9 + 30.9}],
        "faults": [{"t_s": 1e9 + 32.0, "kind": "bad_value", "count": 1}],
        "cues": [{"t_s": 1e9 + 40.0, "kind": "fewer", "reason": "118 a minute, band 84 to 104"}],
        "clicks": [{"t_s": 1e9 + 41.0}],
    }


def test_the_file_says_the_same(tmp_path: Path) -> None:
    found = Replayed(5.0)
    for e in EVENTS:
        found.take([e])
    found.write(tmp_path / "new/out.json")
    assert json.loads((tmp_path / "new/out.json").read_text()) == document(EVENTS, 5.0)
    assert [p.name for p in (tmp_path / "new").iterdir()] == ["out.json"]


def test_a_cycle_that_was_cut_off_keeps_its_place() -> None:
    """A gap after the push: no whole cycle, but a bounce, between its neighbours."""
    events = [*pump(0, 1.0), *pump(1, 2.0)[:2], *pump(2, 8.0), ev.FlightStarted(1.0, 9.0, 0, 0, 0, "rope")]
    events.append(replace(FLIGHT, time=8.6, start=1.0, last_cycle=2))
    found = document(events)["cycles"]
    assert [(c["onset_s"], c["size_g"]) for c in found] == [(1.0, 0.6), (2.0, None), (8.0, 0.6)]


def test_the_final_count_is_told() -> None:
    found = Replayed()
    found.take([ev.Fault(1.0, 1.0, "bad_value", 1), ev.Fault(2.0, 2.0, "bad_value", 2), ev.Fault(3.0, 3.0, "stuck", 1)])
    found.count({"bad_value": 3, "stuck": 1})
    assert [(f["t_s"], f["kind"], f["count"]) for f in found.document()["faults"]] == [
        (1.0, "bad_value", 1),
        (2.0, "bad_value", 2),
        (3.0, "stuck", 1),
        (2.0, "bad_value", 3),
    ]


def test_pumps_belong_to_the_flight_that_claims_them() -> None:
    """Two flights, bounces between and after them; the first pump is claimed back."""
    events = [e for n in range(10) for e in pump(n, n * 1.0)]
    events += [ev.Bounce(n + 0.6, n + 0.9, n, n + 0.02, n + 0.1, n + 0.2, 1.9, 0.4) for n in range(10)]
    for flight, (first, last) in enumerate([(1, 3), (5, 8)]):
        events.append(ev.FlightStarted(first * 1.0, last * 1.0, flight, flight, first, "rope"))
        events.append(replace(FLIGHT, time=last + 0.6, flight=flight, start=first * 1.0, last_cycle=last))
    got = [c["flight"] for c in document(events)["cycles"]]
    assert got == [None, 0, 0, 0, None, 1, 1, 1, 1, None]
