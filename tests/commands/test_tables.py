"""The lines a person reads, from hand-made events and truth."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from mir_eval.util import match_events

from cadence_coach import cli
from cadence_coach.commands.beside_truth import NEAR, pairs, truth_lines
from cadence_coach.commands.flight_table import ENDS, FAULTS, STARTS, attempt_lines, flight_lines, unused_line
from cadence_coach.core import events as ev
from cadence_coach.review.say import minutes
from cadence_coach.store.replay_json import Replayed
from tests.store.test_replay_json import EVENTS


def found(start: float = 0.0) -> Replayed:
    replayed = Replayed(start)
    replayed.take(EVENTS)
    return replayed


def test_the_table_of_flights() -> None:
    assert flight_lines(found()) == [
        "flight  start  length  pumps  pumps/min  push share    peak  steadiness  started by  ended by",
        "     1   0:11   1.8 s      3        100        33 %  1.90 g           -  run-up      fall",
    ]
    assert flight_lines(Replayed()) == ["No flight."]


def test_attempts_that_were_no_flight() -> None:
    assert attempt_lines(found()) == [
        "Tries that were no flight:",
        "try  start  pumps  landing  landing to push  started by  ended by",
        "  2   0:20      0        -                -  unknown     touch-down",
    ]
    assert attempt_lines(Replayed()) == []


def test_what_was_not_used_is_one_line() -> None:
    assert unused_line(Replayed(), []) == "Nothing was skipped; every row was used."
    replayed = found()
    replayed.take([ev.Fault(33.0, 33.0, "bad_value", 12), ev.Fault(34.0, 34.0, "stuck", 1)])
    assert unused_line(replayed, ["speed.csv has no rows"]) == (
        "Skipped or not used: values that are no number (12); stuck axes (1); 1 gap in the data (0.9 s); "
        "speed.csv has no rows."
    )


def test_every_word_of_the_core_has_one_for_people() -> None:
    assert set(STARTS) == set(ev.STARTED_BY)
    assert set(ENDS) == set(ev.ENDED_BY)
    sensors = ev.FAULTS[: ev.FAULTS.index("device_lost")]
    assert set(FAULTS) == set(sensors)


@pytest.mark.parametrize(
    ("t", "text"), [(0, "0:00"), (59.6, "1:00"), (3599.4, "59:59"), (3600, "1:00:00"), (-61, "-1:01"), (-0.2, "0:00")]
)
def test_clock(t: float, text: str) -> None:
    assert minutes(t) == text


times = st.lists(st.integers(0, 3000), unique=True, max_size=40).map(lambda ms: [n / 100 for n in sorted(ms)])


@given(times, times)
def test_pairs_are_as_many_as_can_be(truth: list[float], got: list[float]) -> None:
    """Against mir_eval's matching (Hopcroft-Karp); tolerance between grid points, so that rounding decides nothing."""
    mine = pairs(truth, got, 0.055)
    assert len(mine) == len(match_events(np.array(truth), np.array(got), 0.055) if truth and got else [])
    assert all(abs(truth[i] - got[j]) <= 0.055 for i, j in mine)
    assert len({i for i, _ in mine}) == len({j for _, j in mine}) == len(mine)


def test_flights_beside_the_truth() -> None:
    """In the recording's own time, which begins at 100 s: one flight found, one missed, one invented."""
    pumps = [{"onset_s": 100 + t} for t in (11.21, 11.8, 12.4, 40.0, 40.5, 41.0)]
    flights = [
        {"start_s": 111.21, "end_s": 113.0, "pumps": 3, "started_by": "run_up", "ended_by": "fall"},
        {"start_s": 140.0, "end_s": 141.5, "pumps": 3, "started_by": "step", "ended_by": "fall"},
    ]
    replayed = found(100.0)
    replayed.take([ev.FlightEnded(75.0, 76.0, 1, 70.0, 90, 5, 1.5, 0.3, 0.5, 0.03, "rope", "coast_out", 0.0)])
    assert truth_lines(replayed, {"pumps": pumps, "flights": flights}) == [
        "flight             start  length  pumps  pumps/min  started by  ended by",
        "     1  truth       0:11   1.8 s      3        101  run-up      fall",
        "        estimated   0:11   1.8 s      3        100  run-up      fall",
        "     2  truth       0:40   1.5 s      3        120  step        fall",
        "        estimated                                   not found",
        "     ?  estimated   1:10   5.0 s      5         90  rope        coasted out",
        f"Pumps: 3 of 6 found within {NEAR * 1000:.0f} ms, 0 that were none; "
        "onsets are off by 0.0 ms and known after 40 ms (medians).",
    ]


@pytest.mark.parametrize("columns", ["10", "40"])
def test_the_tables_of_band_lose_nothing_in_a_narrow_terminal(
    columns: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path))
    monkeypatch.setenv("COLUMNS", "80")
    assert cli.run(["band", "--sensitivity"]) == 0
    whole = capsys.readouterr().out
    monkeypatch.setenv("COLUMNS", columns)
    assert cli.run(["band", "--sensitivity"]) == 0
    assert capsys.readouterr().out == whole and "…" not in whole
