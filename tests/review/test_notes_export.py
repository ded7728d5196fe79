"""Notes that travel, and what an outing becomes for other programs."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace

import gpxpy
import numpy as np
import pytest

from cadence_coach.errors import CouldNot, Refused
from cadence_coach.review.advice import one_thing
from cadence_coach.review.advising import Advice
from cadence_coach.review.export import cycles_csv, flights_csv, gpx
from cadence_coach.review.figures import look
from cadence_coach.review.ladder import score
from cadence_coach.review.notes import is_notes_file, new_note, read_notes, write_notes
from cadence_coach.review.plain import document
from cadence_coach.review.words import Words, plain_text
from cadence_coach.store.outing_file import load_outing, save_outing
from cadence_coach.store.rescue import add_note, keep_said
from tests.review.build import Plan, make, table
from tests.review.test_outing import flies
from tests.store import made


def looked(**changes):
    return look(make(Plan(flies([12, 40], speed=4.5), place=(47.1, 8.2), **changes)), table())


def test_notes_go_out_and_come_back(tmp_path):
    outing = make(Plan(flies([12])))
    notes = [new_note("Ida (invented)", "Longer legs. <b>&", 31.5), new_note("Ida (invented)", "Überall gut ✓")]
    write_notes(tmp_path / "notes.json", outing, notes)
    assert is_notes_file(tmp_path / "notes.json")
    assert read_notes(tmp_path / "notes.json") == (outing.uuid, notes)


def notes_text(**changes):
    return json.dumps({"format": "cadence-coach-notes/1", "outing": "a", "notes": [], **changes})


def note_row(**changes):
    return {"uuid": "b", "who": "c", "when_utc": "", "at_s": None, "text": "", **changes}


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        "{}",
        "nonsense",
        '{"format": "cadence-coach-notes/1"}',
        notes_text(format="cadence-coach-notes/2"),
        notes_text(notes=[{"uuid": "b"}]),
        notes_text(notes=[note_row(who=3)]),
        notes_text(notes=[note_row(at_s=float("nan"))]),
        notes_text(notes=[note_row(text="x" * 9000)]),
        notes_text(notes=[note_row(text="\ud800")]),
        "[" * 100_000,
    ],
)
def test_what_is_no_file_of_notes_is_one_line(tmp_path, text):
    path = tmp_path / "notes.json"
    path.write_text(text)
    with pytest.raises(Refused) as said:
        read_notes(path)
    assert "\n" not in str(said.value) and str(path) in str(said.value)


def test_half_a_character_is_refused_and_changes_nothing(tmp_path):
    """As a terminal hands over a byte that is no UTF-8."""
    path = save_outing(made.outing(n=20), tmp_path / "a.outing")
    before = load_outing(path)
    with pytest.raises(Refused, match="no text"):
        add_note(path, new_note("Coach Carl (invented)", "later \udcff"))
    with pytest.raises(Refused, match="no text"):
        keep_said(path, [new_note("Coach Carl (invented)", "later")], {"kit": "small", "rope": "\udcff"})
    after = load_outing(path)
    assert (after.notes, after.tags) == (before.notes, before.tags)


def test_a_note_needs_a_text_and_a_name():
    with pytest.raises(Refused):
        new_note("Ida", "   ")
    with pytest.raises(Refused):
        new_note("", "well done")
    with pytest.raises(Refused):
        new_note("Ida", "x" * 5000)


def test_gpx_is_read_back_by_gpxpy_and_has_what_the_schema_requires():
    """GPX 1.1: version and creator on gpx; lat and lon on every point; waypoints before tracks (topografix,
    gpx.xsd)."""
    found = looked()
    text = gpx(found)
    read = gpxpy.parse(text)
    assert read.version == "1.1" and read.creator.startswith("cadence coach")
    points = [p for t in read.tracks for s in t.segments for p in s.points]
    known = np.isfinite(found.track.lat)
    assert len(points) == known.sum()
    assert [p.latitude for p in points] == pytest.approx(found.track.lat[known], abs=1e-7)
    assert [p.longitude for p in points] == pytest.approx(found.track.lon[known], abs=1e-7)
    assert len(read.tracks[0].segments) == 2  # nothing was flown between
    start = points[0].time
    assert start.isoformat() == "2026-06-13T09:00:30+00:00"
    assert [w.name for w in read.waypoints] == ["flight 1", "flight 2"]
    assert text.index("<wpt") < text.index("<trk>")
    gpxpy.parse(read.to_xml(version="1.1"))


def test_gpx_without_a_place_is_refused_and_without_a_date_has_no_times():
    with pytest.raises(CouldNot):
        gpx(look(make(Plan(flies([12], speed=4.0))), table()))
    assert "<time>" not in gpx(looked(start_utc=None))


def test_tables_read_back_as_what_they_were():
    found = looked()
    flights = list(csv.DictReader(io.StringIO(flights_csv(found))))
    assert [int(r["pumps"]) for r in flights] == [12, 40]
    assert [float(r["cadence_hz"]) for r in flights] == [f.cadence_hz for f in found.figures.flights]
    assert flights[0]["cadence_early_hz"] == ""  # under 18 pumps: not defined, not zero
    cycles = list(csv.DictReader(io.StringIO(cycles_csv(found))))
    assert len(cycles) == 52 and [r["flight"] for r in cycles] == ["0"] * 12 + ["1"] * 40
    assert [float(r["onset_s"]) for r in cycles] == [c.onset for c in found.outing.cycles]
    outing = make(Plan(flies([12])))
    outing.flights[0] = replace(outing.flights[0], pumps=11, skipped=(6,))
    cycles = list(csv.DictReader(io.StringIO(cycles_csv(look(outing, table())))))
    assert [r["flight"] for r in cycles] == ["0"] * 6 + [""] + ["0"] * 5, "a bounce in a glide is no pump of it"


def test_text_that_a_spreadsheet_would_run_is_disarmed():
    from cadence_coach.review.tables import csv_text

    assert (
        csv_text([{"a": "=1+1", "b": -0.5, "c": None, "d": float("nan")}], ["a", "b", "c", "d"])
        == "a,b,c,d\n'=1+1,-0.5,,\n"
    )


def test_json_is_strict_and_has_the_names_of_the_definitions():
    found = looked()
    body = json.loads(json.dumps(document(found, one_thing(found), score(found)), allow_nan=False))
    assert body["format"] == "cadence-coach-review/1"
    assert body["flights"][1]["fade_cadence"].keys() == {"slope", "low", "high"}
    assert body["flights"][1]["parts"]["catch"].keys() == {"share", "seconds", "spread"}
    assert body["outing"]["best"] == 1 and len(body["ladder"]) == 16 and body["work_on"]["says"]


def test_text_to_paste():
    found = looked()
    text = plain_text(found.figures, Advice("none", None, "Same again.", ("Because.",), ""), Words())
    assert (
        text.startswith("On the water, 13 June 2026, 09:00 UTC")
        and "Best: 24 s, 40 pumps" in text
        and text.endswith("- Because.\n")
    )
