"""What is shown of the running coach, folded from its events."""

from __future__ import annotations

import json

import pytest

from cadence_coach.core import events as ev
from cadence_coach.core.settings import Settings
from cadence_coach.live import Snapshot
from cadence_coach.live.begin import engine_of
from cadence_coach.live.feed import pieces
from cadence_coach.live.snapshot import Tracker
from cadence_coach.sources import open_source
from tests.live import build


@pytest.mark.parametrize(
    ("source", "words"),
    [("sim:short:5", {(1, None), (1, 1), (2, None), (2, 2)}), ("sim:calm:7", {(1, None), (2, None)})],
)
def test_no_flight_is_shown_with_the_word_of_the_one_before(source, words):
    """On the calm day the next start comes before the word, which then comes after the start."""
    engine, tracker = engine_of(Settings(), build.band()), Tracker(Snapshot(), build.band())
    seen = set()
    for rows in open_source(source):
        engine.receive(rows)
        for event in engine.events():
            tracker.events([event])
            shown = tracker.snapshot(event.known)
            if shown.flight_s is None and shown.motion in ("moving", "quiet") and shown.last_flight_s is not None:
                seen.add((shown.flights, shown.summary and shown.summary["flight"] + 1))
    assert words <= seen and all(told in (n, None) for n, told in seen)


def shown_after(engine, tracker, rows, now=None):
    for piece in pieces(rows):
        engine.receive(piece)
        tracker.rows(piece, engine.time)
        tracker.events(engine.events())
    return tracker.snapshot(tracker.time if now is None else now)


def test_a_sensor_that_was_silent_is_back_with_its_rows():
    """Nobody pumps; what is stuck stays so until a pump shows that it is not."""
    engine, tracker = engine_of(Settings(), build.band()), Tracker(Snapshot(), build.band())
    assert shown_after(engine, tracker, build.still(0.0, 20.0)).sensor == "ok"
    engine.advance(22.5)
    assert shown_after(engine, tracker, [], 22.5).sensor == "silent"
    back = shown_after(engine, tracker, build.still(23.0, 3.0))
    assert back.sensor == "ok" and back.faults == {"silent": 1}
    tracker.events([ev.Fault(26.0, 26.0, "stuck", 1)])
    assert shown_after(engine, tracker, build.still(26.0, 5.0)).sensor == "stuck"


def test_a_sensors_clock_that_is_set_back_is_no_silence():
    engine, tracker = engine_of(Settings(), build.band()), Tracker(Snapshot(), build.band())
    shown_after(engine, tracker, build.still(70.0, 10.0))
    shown = shown_after(engine, tracker, build.still(10.0, 10.0))
    assert shown.sensor_hz == pytest.approx(100.0, rel=0.05) and shown.time_s == pytest.approx(90.0, abs=0.1)


def test_a_snapshot_with_numbers_that_are_none_is_still_json():
    odd = Snapshot(cadence_hz=float("nan"), band={"lo": float("inf")}, summary={"figures": [["size", float("nan")]]})
    plain = json.loads(json.dumps(odd.plain(), allow_nan=False))
    assert (plain["cadence_hz"], plain["band"], plain["summary"]) == (None, {"lo": None}, {"figures": [["size", None]]})
