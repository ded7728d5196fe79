"""An outing file that gets more: what was said moves along, and no change of somebody else is lost."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import attrs
import pytest

from cadence_coach.core import events as ev
from cadence_coach.errors import CouldNot, Refused
from cadence_coach.store import once_more
from cadence_coach.store.outing import Note, Outing
from cadence_coach.store.outing_file import load_outing, save_outing
from cadence_coach.store.rescue import add_note
from tests.store import made

LATE = Note("n2", "Mika (invented)", "2026-05-01T10:00:00Z", None, "Written meanwhile")
KILLED = """
import os, sqlite3, sys
db = sqlite3.connect(sys.argv[1], isolation_level=None)
db.execute("PRAGMA cache_size = 1")
db.execute("BEGIN IMMEDIATE")
db.execute("UPDATE notes SET text = 'half-way'")
db.execute("INSERT INTO tags VALUES ('long', ?)", ("x" * 300_000,))
os._exit(9)
"""
"""A change that is killed when part of it is in the file already, and its log beside."""


def flown(*spans: tuple[float, float]) -> Outing:
    flights = [
        ev.FlightEnded(end, end, i, start, 4, 5, 1.0, 0.4, 0.6, 0.03, "run_up", "fall", 0.0, ())
        for i, (start, end) in enumerate(spans)
    ]
    return attrs.evolve(made.outing(20), flights=flights, notes=[], tags={})


def test_a_correction_goes_with_its_flight_and_other_tags_as_they_are() -> None:
    said = {"ended_by:0": "fall", "helped:1": "wake", "kit": "large wing", "ended_by:x": "?"}
    kept = attrs.evolve(flown((10.0, 20.0), (40.0, 50.0)), tags=said)
    new = flown((2.0, 4.0), (11.0, 21.0), (40.0, 52.0))
    moved = once_more.with_what_was_said(new, kept, ("ended_by:", "helped:"))
    assert moved.tags == {"ended_by:1": "fall", "helped:2": "wake", "kit": "large wing", "ended_by:x": "?"}


@pytest.mark.parametrize("spans", [(), ((10.0, 14.9),), ((10.0, 31.0),)])
def test_a_correction_without_its_flight_is_refused(spans: tuple[tuple[float, float], ...]) -> None:
    """Half of the time, or twice as long, is another flight."""
    kept = attrs.evolve(flown((10.0, 20.0)), tags={"ended_by:0": "fall"})
    with pytest.raises(Refused, match="flight 1, which somebody corrected"):
        once_more.with_what_was_said(flown(*spans), kept, ("ended_by:",))


def test_of_a_copy_that_ends_earlier_no_samples_are_taken() -> None:
    """Not even a sensor that the whole one lacks: it would come with less acceleration."""
    whole = made.outing(200, gyro=False)
    copy = attrs.evolve(made.outing(200), accel=whole.accel[:50])
    assert once_more.more_samples(copy, whole) == []
    assert "rotation" in once_more.more_samples(attrs.evolve(copy, accel=whole.accel), whole)


@pytest.mark.parametrize("number", ["9", "\u00b2", "9" * 5000])
def test_a_correction_that_never_had_a_flight_stands_in_nobodys_way(number: str) -> None:
    """A file may come from anywhere: not even where its number is no number."""
    kept = attrs.evolve(flown((10.0, 20.0)), tags={f"helped:{number}": "wake", "ended_by:0": "fall"})
    moved = once_more.with_what_was_said(flown((10.0, 20.0)), kept, ("ended_by:", "helped:"))
    assert moved.tags == {"ended_by:0": "fall"}


def test_ones_own_words_go_before_those_of_the_other() -> None:
    one = attrs.evolve(flown(), notes=[attrs.evolve(LATE, text="mine")], tags={"kit": "small wing"})
    other = attrs.evolve(
        flown(), notes=[LATE, attrs.evolve(LATE, uuid="n3")], tags={"kit": "large wing", "foot": "left"}
    )
    both = once_more.with_what_was_said(one, other, ())
    assert [n.text for n in both.notes] == ["mine", LATE.text]
    assert both.tags == {"kit": "small wing", "foot": "left"}


def test_a_note_written_meanwhile_is_not_lost(tmp_path: Path) -> None:
    path = save_outing(made.outing(50), tmp_path / "a.outing")
    seen = []

    def change(kept: Outing) -> Outing:
        if not seen:
            add_note(path, LATE)
        seen.append(len(kept.notes))
        return attrs.evolve(kept, start_utc="2026-07-01T08:00:00Z")

    once_more.changed(path, change)
    assert seen == [1, 2] and [n.uuid for n in load_outing(path).notes] == ["n1", "n2"]
    assert load_outing(path).start_utc == "2026-07-01T08:00:00Z"


def test_one_that_is_written_all_the_time_is_left_alone(tmp_path: Path) -> None:
    path = save_outing(made.outing(50), tmp_path / "a.outing")

    def change(kept: Outing) -> Outing:
        add_note(path, attrs.evolve(LATE, uuid=f"n{len(kept.notes) + 1}"))
        return attrs.evolve(kept, notes=[])

    with pytest.raises(CouldNot, match="is being changed all the time"):
        once_more.changed(path, change)
    assert len(load_outing(path).notes) == 1 + once_more.TRIES


def test_one_under_way_is_left_alone(tmp_path: Path) -> None:
    path = save_outing(made.outing(50), tmp_path / "a.outing")
    with closing(sqlite3.connect(path)) as db:
        db.execute("PRAGMA journal_mode = WAL")
        with pytest.raises(CouldNot, match="is being written, or its program died"):
            once_more.changed(path, lambda kept: kept)


def test_a_change_killed_half_way_is_taken_back_first(tmp_path: Path) -> None:
    """Else its log would be rolled back into the new file of that name."""
    path = save_outing(made.outing(3000), tmp_path / "a.outing")
    before = load_outing(path)
    subprocess.run([sys.executable, "-c", KILLED, str(path)], check=False)
    assert path.with_name("a.outing-journal").stat().st_size > 0
    once_more.changed(path, lambda kept: attrs.evolve(kept, start_utc="2026-07-01T08:00:00Z"))
    assert [p.name for p in tmp_path.iterdir()] == ["a.outing"]
    after = load_outing(path)
    assert after.notes == before.notes and after.tags == before.tags
