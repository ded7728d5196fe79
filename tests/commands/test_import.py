"""`import` of what is there already: what is new joins it, what people said stays, and nothing is lost on the way."""

from __future__ import annotations

import os
import shutil
import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import attrs
import numpy as np
import pytest

from cadence_coach import cli
from cadence_coach.review.again import LISTS
from cadence_coach.review.notes import new_note
from cadence_coach.sim.outing import simulate_outing
from cadence_coach.store.outing import Outing
from cadence_coach.store.outing_file import load_outing, save_outing
from cadence_coach.store.recordings import write_recording
from tests.store.test_generic_csv import A, T, write
from tests.store.test_outing_file import as_plain

PROFILE = '[rider]\nname = "Lea (invented)"\nmass_kg = 70\n[foil]\nwing_area_m2 = 0.15\nspan_m = 1.2\n'


@pytest.fixture(scope="module")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A simulated recording with rotation and speed, and a profile."""
    folder = tmp_path_factory.mktemp("shelf")
    made = simulate_outing(70000, "calm", 50.0)
    assert made.gyro is not None and made.fixes is not None
    write_recording(folder / "lake", made.accel, made.gyro, made.fixes, made.meta)
    (folder / "me.toml").write_text(PROFILE)
    return folder


@pytest.fixture(autouse=True)
def there(shelf: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path / "home"))
    monkeypatch.chdir(shelf)


def taken(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    assert cli.run(["import", *arguments]) == 0
    return capsys.readouterr().out


def the_one(tmp_path: Path, folder: str = "home/outings") -> Path:
    (found,) = (tmp_path / folder).iterdir()
    return found


def figures(outing: Outing) -> dict[str, str]:
    """All but where it came from and what was said of it."""
    return {name: text for name, text in as_plain(outing).items() if name not in ("meta", "notes", "tags", "start_utc")}


def test_a_profile_that_comes_later_joins_and_what_was_said_stays(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    taken(capsys, "lake")
    path = the_one(tmp_path)
    said = ["--note", "Felt heavy", "--flight", "1", "--ended", "1=touch_down", "--helped", "1=wake", "--focus", "size"]
    assert cli.run(["review", str(path), *said, "--confirm", "Carl"]) == 0
    before = load_outing(path)
    assert before.profile is None and len(before.tags) == 4
    assert "which was there already and now has rider and foil as well" in taken(capsys, "lake", "--profile", "me.toml")
    after = load_outing(the_one(tmp_path))
    assert after.profile is not None and after.profile["rider"]["name"] == "Lea (invented)"
    assert (after.notes, after.tags, after.uuid) == (before.notes, before.tags, before.uuid)
    taken(capsys, "lake", "--profile", "me.toml", "--out", str(tmp_path / "fresh"))
    assert figures(after) == figures(load_outing(the_one(tmp_path, "fresh")))
    assert cli.run(["review"]) == 0
    assert "Lea (invented)" in capsys.readouterr().out


def test_an_earlier_detectors_outing_with_a_profile_keeps_corrections_with_their_flights(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """It took the first three seconds for a flight, so that the others have other numbers."""
    taken(capsys, "lake")
    now = load_outing(the_one(tmp_path))
    early = replace(now.flights[0], start=0.0, time=3.0)
    flights = [early, *(replace(f, flight=f.flight + 1) for f in now.flights)]
    starts = [now.flight_starts[0], *(replace(f, flight=f.flight + 1) for f in now.flight_starts)]
    old = attrs.evolve(now, flights=flights, flight_starts=starts, tags={"helped:1": "wake"})
    save_outing(old, tmp_path / "old.outing")
    out = ["--profile", "me.toml", "--out", str(tmp_path / "fresh")]
    taken(capsys, str(tmp_path / "old.outing"), *out)
    assert load_outing(the_one(tmp_path, "fresh")).tags == {"helped:0": "wake"}
    save_outing(attrs.evolve(old, tags={"helped:0": "wake"}), tmp_path / "gone.outing")
    out[-1] = str(tmp_path / "other")
    assert cli.run(["import", str(tmp_path / "gone.outing"), *out]) == 2
    assert "flight 1, which somebody corrected, would be none any more" in capsys.readouterr().err


@pytest.mark.parametrize("more", [[], ["--profile", "me.toml"]])
def test_what_brings_nothing_new_is_there_already(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], more: list[str]
) -> None:
    taken(capsys, "lake", "--profile", "me.toml")
    path = the_one(tmp_path)
    before = path.read_bytes()
    assert cli.run(["import", "lake", *more]) == 0
    said = capsys.readouterr()
    assert said.out == f"lake: is there already ({path.name})\n" and "No profile" not in said.err
    taken(capsys, "lake/accel.csv", *more)
    assert path.read_bytes() == before


def test_sensors_that_come_later_join(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    taken(capsys, "lake/accel.csv", "--profile", "me.toml")
    note = cli.run(["review", "--note", "Felt heavy"])
    said = taken(capsys, "lake")
    assert note == 0 and "now has rotation, speed and place and its date as well" in said
    after = load_outing(the_one(tmp_path))
    assert after.start_utc == "2026-06-01T08:00:00Z" and [n.text for n in after.notes] == ["Felt heavy"]
    taken(capsys, "lake", "--profile", "me.toml", "--out", str(tmp_path / "fresh"))
    assert figures(after) == figures(load_outing(the_one(tmp_path, "fresh")))


def test_sensors_that_are_missing_the_second_time_stay(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Rotation first, then speed: each file without the other."""
    for name, file in (("turning", "gyro.csv"), ("placed", "speed.csv")):
        (tmp_path / name).mkdir()
        for each in ("accel.csv", file, "meta.json"):
            (tmp_path / name / each).write_bytes(Path("lake", each).read_bytes())
        taken(capsys, str(tmp_path / name))
    taken(capsys, "lake/accel.csv", "--profile", "me.toml")
    taken(capsys, "lake", "--profile", "me.toml", "--out", str(tmp_path / "fresh"))
    fresh = load_outing(the_one(tmp_path, "fresh"))
    assert figures(load_outing(the_one(tmp_path))) == figures(fresh)
    assert fresh.gyro is not None and len(fresh.fixes)


@pytest.mark.parametrize("cut", [("gyro.csv",), ("speed.csv",), ("gyro.csv", "speed.csv")])
def test_sensors_cut_short_take_nothing_away_and_the_rest_of_them_joins(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], cut: tuple[str, ...]
) -> None:
    shutil.copytree("lake", tmp_path / "short")
    for name in cut:
        lines = Path("lake", name).read_text().splitlines(keepends=True)
        (tmp_path / "short" / name).write_text("".join(lines[: len(lines) // 3]))
    taken(capsys, "lake")
    path = the_one(tmp_path)
    before = path.read_bytes()
    assert "is there already" in taken(capsys, str(tmp_path / "short")) and path.read_bytes() == before
    there = ["--out", str(tmp_path / "other")]
    taken(capsys, str(tmp_path / "short"), *there)
    brought = [what for name, what in (("gyro.csv", "rotation"), ("speed.csv", "speed and place")) if name in cut]
    assert f"now has {' and '.join(brought)} as well" in taken(capsys, "lake", *there)
    assert figures(load_outing(the_one(tmp_path, "other"))) == figures(load_outing(path))


def begun(outing: Outing, until: float) -> Outing:
    """The copy that was made of it at that time [s]."""
    early = {name: [e for e in getattr(outing, name) if e.known <= until] for name in LISTS.values()}
    streams = {
        name: s[s[:, 0] <= until] for name in ("accel", "gyro", "fixes") if (s := getattr(outing, name)) is not None
    }
    return attrs.evolve(outing, **streams, **early, kinds=None)


@pytest.mark.parametrize("rotation", [True, False])
def test_an_early_copy_takes_nothing_away_and_what_is_said_in_it_joins(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], rotation: bool
) -> None:
    taken(capsys, "lake" if rotation else "lake/accel.csv")
    path = the_one(tmp_path)
    full = load_outing(path)
    early = begun(full, full.flights[0].known + 5.0)
    copy = str(save_outing(early, tmp_path / "early.outing"))
    before = path.read_bytes()
    assert "is there already" in taken(capsys, copy) and path.read_bytes() == before
    save_outing(attrs.evolve(early, notes=[new_note("Carl", "Push sooner")], tags={"ended_by:0": "touch_down"}), copy)
    assert "now has notes and corrections as well" in taken(capsys, copy)
    after = load_outing(path)
    assert figures(after) == figures(full)
    assert [n.text for n in after.notes] == ["Push sooner"] and after.tags == {"ended_by:0": "touch_down"}


@pytest.mark.parametrize("rotation", [True, False])
def test_the_rest_of_an_outing_joins_its_early_copy(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], rotation: bool
) -> None:
    taken(capsys, "lake" if rotation else "lake/accel.csv")
    full = load_outing(the_one(tmp_path))
    early = begun(full, full.flights[0].known + 5.0)
    (tmp_path / "coach").mkdir()
    kept = attrs.evolve(early, notes=[new_note("Carl", "Push sooner")], tags={"ended_by:0": "touch_down"})
    save_outing(kept, tmp_path / "coach" / "early.outing")
    said = taken(capsys, str(the_one(tmp_path)), "--out", str(tmp_path / "coach"))
    assert "which was there already and now has the rest of the samples as well" in said
    after = load_outing(the_one(tmp_path, "coach"))
    assert figures(after) == figures(full) and (after.notes, after.tags) == (kept.notes, kept.tags)


def test_another_acceleration_is_another_outing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    taken(capsys, "lake")
    path = the_one(tmp_path)
    other = load_outing(path)
    other.accel[100, 1] += 0.5
    save_outing(other, tmp_path / "other.outing")
    before = path.read_bytes()
    assert cli.run(["import", str(tmp_path / "other.outing")]) == 2
    said = capsys.readouterr().err
    assert f"{path.name} is there already, and the two differ in the acceleration that both have, so they are " in said
    assert said.count("\n") == 1 and path.read_bytes() == before


@pytest.mark.parametrize(("tag", "said_so"), [("started_by", "step"), ("ended_by", "fall"), ("helped", "wake")])
def test_a_correction_that_would_be_lost_is_refused_and_nothing_is_changed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], tag: str, said_so: str
) -> None:
    """A flight of an older detector that today's does not find, with its start, ending or help corrected."""
    taken(capsys, "lake")
    path = the_one(tmp_path)
    kept = load_outing(path)
    last = len(kept.flights)
    gone = attrs.evolve(kept, tags={f"{tag}:{last}": said_so})
    gone.flights.append(type(kept.flights[0])(0.9, 1.0, last, 0.1, 3, 3, 1.0, 0.4, 0.6, 0.03, "step", "gap", 0.0))
    before = save_outing(gone, path).read_bytes()
    assert cli.run(["import", "lake", "--profile", "me.toml"]) == 2
    said = capsys.readouterr().err
    assert f"{path.name} is there already, and flight {last + 1}, which somebody corrected" in said
    assert "give another folder with --out" in said and said.count("\n") == 1
    assert path.read_bytes() == before


@pytest.mark.parametrize(("broken", "code"), [(False, 1), (True, 2)])
def test_one_that_could_not_be_taken_keeps_no_other_from_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], broken: bool, code: int
) -> None:
    """It is there and is being written; a broken one before it is said all the same."""
    club = tmp_path / "club"
    shutil.copytree("lake", club / "b")
    taken(capsys, str(club / "b"))
    path = the_one(tmp_path)
    write(club / "c.csv", ["t (s)", "ax", "ay", "az"], [T, *A.T])
    if broken:
        write(club / "a.csv", ["t (s)", "ax", "ay", "az"], [T[:0], *A[:0].T])
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        db.execute("PRAGMA journal_mode = WAL")
        assert cli.run(["import", str(club), "--profile", "me.toml"]) == code
    said = capsys.readouterr()
    assert f"{club}/c.csv: " in said.out and len(list((tmp_path / "home/outings").glob("*.outing"))) == 2
    assert f"cadence-coach: {1 + broken} of {2 + broken} were not taken: " in said.err
    assert f"{club}/b: {path}: is being written" in said.err and (f"{club}/a.csv" in said.err) == broken


def test_stopped_in_the_middle_all_is_as_it_was(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    taken(capsys, "lake")
    path = the_one(tmp_path)
    before = path.read_bytes()

    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "replace", stopped)
    assert cli.run(["import", "lake", "--profile", "me.toml"]) == 130
    assert the_one(tmp_path) == path and path.read_bytes() == before


def test_notes_and_place_of_a_copy_join_and_a_copy_without_place_takes_none(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    taken(capsys, "lake")
    path = the_one(tmp_path)
    full = load_outing(path)
    bare = full.fixes.copy()
    bare[:, 3:5] = np.nan
    coach = attrs.evolve(full, fixes=bare, notes=[new_note("Carl", "Push sooner")], tags={"ended_by:0": "touch_down"})
    save_outing(coach, tmp_path / "coach.outing")
    assert "now has notes and corrections as well" in taken(capsys, str(tmp_path / "coach.outing"))
    after = load_outing(path)
    assert [n.text for n in after.notes] == ["Push sooner"] and after.tags == coach.tags
    assert figures(after) == figures(full)
    assert "is there already" in taken(capsys, str(tmp_path / "coach.outing"))
    save_outing(coach, path)
    assert "now has speed and place as well" in taken(capsys, "lake")
    assert figures(load_outing(path)) == figures(full) and load_outing(path).tags == coach.tags


def test_corrections_and_tags_of_a_copy_join_without_a_note_and_what_is_there_stays(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    taken(capsys, "lake")
    path = the_one(tmp_path)
    shutil.copy(path, tmp_path / "coach.outing")
    coach = str(tmp_path / "coach.outing")
    assert cli.run(["review", coach, "--ended", "1=fall", "--started", "1=step"]) == 0
    assert cli.run(["review", str(path), "--ended", "1=touch_down"]) == 0
    assert "now has corrections as well" in taken(capsys, coach)
    assert load_outing(path).tags == {"ended_by:0": "touch_down", "started_by:0": "step"}
    assert cli.run(["review", coach, "--confirm", "Carla"]) == 0
    assert "now has tags as well" in taken(capsys, coach)
    assert load_outing(path).tags["confirmed_by"] == "Carla"
    before = path.read_bytes()
    assert "is there already" in taken(capsys, coach) and path.read_bytes() == before


@pytest.mark.parametrize("newer", [True, False])
def test_a_file_that_cannot_be_read_is_not_written_over(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], newer: bool
) -> None:
    taken(capsys, "lake")
    path = the_one(tmp_path)
    if newer:
        with closing(sqlite3.connect(path)) as db:
            db.execute("PRAGMA user_version = 99")
    else:
        path.write_bytes(path.read_bytes()[:5000])
    before = path.read_bytes()
    assert cli.run(["import", "lake"]) == 2
    said = capsys.readouterr()
    assert f"{path}: is there already and cannot be read" in said.err and said.err.count("\n") == 1 and not said.out
    assert the_one(tmp_path) == path and path.read_bytes() == before


def test_a_training_on_land_does_not_become_an_outing_on_the_water(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    taken(capsys, "lake")
    path = the_one(tmp_path)
    kept = load_outing(path)
    before = save_outing(attrs.evolve(kept, meta={**kept.meta, "land": {}}), path).read_bytes()
    assert cli.run(["import", "lake", "--profile", "me.toml"]) == 2
    assert "holds a training on land, to which rider and foil cannot be added" in capsys.readouterr().err
    assert path.read_bytes() == before


def test_the_same_recording_in_another_unit_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log = write(tmp_path / "log.csv", ["ms", "accx", "accy", "accz"], [T * 1e3, *(A * 100).T])
    first = taken(capsys, str(log), "--columns", "time=ms", "--units", "accel=mg")
    assert "read otherwise" not in first
    path = the_one(tmp_path)
    second = taken(capsys, str(log), "--columns", "time=ms", "--units", "accel=cm/s2")
    assert f"; {path.name} is the same recording read otherwise: remove the one that is wrong" in second


def test_another_outing_of_the_same_name_and_length_is_no_other_reading(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for day, seed in (("mon", 1), ("tue", 2)):
        (tmp_path / day).mkdir()
        late = np.random.default_rng(seed).normal(0.0, 1e-3, len(T))
        log = write(tmp_path / day / "log.csv", ["t (s)", "ax", "ay", "az"], [T + late, *A.T])
        assert "read otherwise" not in taken(capsys, str(log))


def damaged(lines: list[str]) -> list[str]:
    """The rows of a CSV with text in 100, one that is late, 60 twice, and then 200 on a clock that was set back."""
    head, rows = lines[0], lines[1:]
    rows[1000:1100] = [f"{row.split(',')[0]},abc,abc,abc" for row in rows[1000:1100]]
    anew = [f"{n / 50},{row.partition(',')[2]}" for n, row in enumerate(rows[2400:2600])]
    return [head, *rows[:2000], *rows[1940:2000], *rows[2000:2200], rows[2190], *rows[2200:2400], *anew]


def test_what_was_skipped_is_said_as_replay_says_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    lines = damaged(Path("lake", "accel.csv").read_text().splitlines())
    (tmp_path / "own.csv").write_text("\n".join(lines) + "\n")
    assert cli.run(["replay", str(tmp_path / "own.csv")]) == 0
    replayed = capsys.readouterr().out.splitlines()[-1]
    assert "values that are no number (100)" in replayed
    assert "times going backward (60); " in replayed and "jumps of the clock (1); " in replayed
    told = taken(capsys, str(tmp_path / "own.csv")).splitlines()[-1]
    assert told == f"{tmp_path}/own.csv: {replayed}" and "100 rows with text, the first in line 1002" in told
    assert len(taken(capsys, "lake").splitlines()) == 1  # of one that was used whole nothing is said


def test_what_was_left_out_of_another_loggers_file_is_said_as_well(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = damaged(Path("lake", "accel.csv").read_text().splitlines())
    (tmp_path / "log.csv").write_text("a note\n\nt,ax,ay,az\n\n" + "\n".join(lines[1:]) + "\n")
    told = taken(capsys, str(tmp_path / "log.csv")).splitlines()[-1]
    assert "log.csv: Skipped or not used: " in told and "times going backward (60); " in told
    assert "log.csv: 100 rows without numbers, the first in line 1005." in told
    assert "accel.csv" not in told


def test_a_file_name_that_is_no_text(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Latin-1 on a system of UTF-8: half a surrogate pair, which no file can be written with."""
    log = write(Path(os.fsdecode(bytes(tmp_path) + b"/f\xfchrte.csv")), ["t (s)", "ax", "ay", "az"], [T, *A.T])
    taken(capsys, str(log))
    assert load_outing(the_one(tmp_path)).meta["device"] == "imported from f?hrte.csv"
    assert cli.run(["export", "--as", "recording", "--to", str(tmp_path / "again")]) == 0
    squat = ["land", "--recording", str(tmp_path / "again"), "--tempo", "60", "--no-keep"]
    name = Path(os.fsdecode(bytes(tmp_path) + b"/\xfc"))
    (tmp_path / "again").rename(name)
    assert cli.run([*squat[:2], str(name), *squat[3:], "--json", str(tmp_path / "o.json")]) == 0
    assert (tmp_path / "o.json").read_bytes().count(b"/?") == 1
