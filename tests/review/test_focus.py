"""review --focus as a person types it: what the rider's next outing is about, on real outing files."""

from __future__ import annotations

import json

import pytest

from cadence_coach.foil.profile import demo_profile
from cadence_coach.review.focus import next_focus, rider_of, set_focus
from cadence_coach.store.outing_file import load_outing, save_outing
from cadence_coach.store.recordings import write_recording
from tests.review.build import Fly, Plan, make, steady
from tests.review.test_commands import run
from tests.review.test_outing import flies
from tests.review.test_season import PROFILE, outing


def test_a_focus_that_cannot_be_kept_keeps_no_note(home, capsys):
    path = home / "3.outing"
    before = path.read_bytes()
    (home.parent / "focus.txt").mkdir()
    code, out, err = run(capsys, "review", str(path), "--note", "caught an edge", "--focus", "size")
    assert (code, out) == (1, "") and "focus.txt" in err and err.count("\n") == 1
    assert path.read_bytes() == before


def test_the_advice_becomes_the_focus_of_the_next_outing(home, capsys):
    rider = PROFILE["rider"]["name"]
    assert next_focus(rider) is None
    assert run(capsys, "review", "--focus", "take")[0] == 0
    assert next_focus(rider) == "size" and next_focus("") is None
    assert load_outing(home / "3.outing").tags["next_focus"] == "size"
    assert run(capsys, "review", "--focus", "steadiness")[0] == 0 and next_focus(rider) == "steadiness"


def test_the_focus_that_is_taken_is_that_of_the_advice_shown(home, capsys, tmp_path):
    """Uneven; against a foil that wants more the same pumps are small as well, which comes first."""
    tries = [Fly(30.0 + 60.0 * i, steady(100.0, 16, cv=0.09, seed=i), share=0.5, height=0.65) for i in range(3)]
    path = save_outing(make(Plan(tries, profile=PROFILE)), tmp_path / "a.outing")
    profile_of("Anna", tmp_path / "large.toml", area=0.25, span=1.3)
    for more, focus in (([], "steadiness"), (["--profile", "large.toml"], "size")):
        assert run(capsys, "review", str(path), *more, "--json", "r.json", "--focus", "take")[0] == 0
        assert json.loads((tmp_path / "r.json").read_text())["work_on"]["focus"] == focus
        assert next_focus(PROFILE["rider"]["name"]) == focus == load_outing(path).tags["next_focus"]


def profile_of(name, path, area=0.16, span=1.2):
    path.write_text(f'[rider]\nname = "{name}"\nmass_kg = 72\n[foil]\nwing_area_m2 = {area}\nspan_m = {span}\n')
    return str(path)


def test_a_focus_is_that_riders_alone(home, capsys, tmp_path):
    """One machine for a club: nobody rides with what another was to work on."""
    ola = {**PROFILE, "rider": {**PROFILE["rider"], "name": "Ola Berg (invented)"}}
    theirs = str(save_outing(outing(4, profile=ola), home / "4.outing"))
    run(capsys, "review", str(home / "3.outing"), "--focus", "size")
    run(capsys, "review", theirs, "--focus", "cadence")
    mine = PROFILE["rider"]["name"]
    assert [next_focus(name) for name in (mine, "Ola Berg (invented)", "Anna", "")] == ["size", "cadence", None, None]
    write_recording(tmp_path / "lake", make(Plan(flies([8], pause=10.0))).accel)
    live = ("live", "--source", str(tmp_path / "lake"), "--yes", "--fast", "--sound", "silent", "--no-keep")
    for name, said in ((mine, "Focus: size"), ("Ola Berg (invented)", "Focus: cadence"), ("Anna", "")):
        out = run(capsys, *live, "--profile", profile_of(name, tmp_path / "who.toml"))[1]
        assert (said in out) if said else ("Focus" not in out), name
    set_focus(None, mine)
    assert next_focus(mine) is None and next_focus("Ola Berg (invented)") == "cadence"


def test_without_a_name_the_focus_is_the_machines_rider(home, capsys, tmp_path, monkeypatch):
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path / "own"))
    (tmp_path / "own").mkdir()
    bare = str(save_outing(outing(5, profile=None), tmp_path / "bare.outing"))
    (tmp_path / "own" / "focus.txt").write_text("timing\n")  # as an earlier version wrote it
    assert next_focus("") == "timing" == next_focus(rider_of(demo_profile().table)) and next_focus("Anna") is None
    run(capsys, "review", bare, "--focus", "size")
    assert (tmp_path / "own" / "focus.txt").read_text() == "size\n"
    profile_of("Anna", tmp_path / "own" / "me.toml")
    run(capsys, "review", bare, "--focus", "cadence")
    assert next_focus("Anna") == "cadence" and next_focus("") == "size"
    set_focus(None, "")
    set_focus(None, "Anna")
    assert not (tmp_path / "own" / "focus.txt").exists()


@pytest.mark.parametrize("table", [None, {}, {"rider": 3}, {"rider": {"name": "rider"}}, {"rider": {"name": " "}}])
def test_whose_profile_names_nobody(table):
    assert rider_of(table) == ""
    assert rider_of({"rider": {"name": "Ann  of\nthe lake"}}) == "Ann of the lake"  # one line


def test_the_next_outing_obeys_the_focus_that_was_taken(home, capsys, tmp_path):
    run(capsys, "review", "--focus", "steadiness")
    write_recording(tmp_path / "lake", make(Plan(flies([8], pause=10.0))).accel)
    profile = profile_of(PROFILE["rider"]["name"], tmp_path / "own.toml")
    live = ("live", "--source", str(tmp_path / "lake"), "--yes", "--fast", "--sound", "silent", "--profile", profile)
    before = set(home.glob("*.outing"))
    code, out, err = run(capsys, *live)
    assert code == 0, err
    assert "Focus: steadiness" in out  # the profile names whose outing it was
    (kept,) = set(home.glob("*.outing")) - before
    assert load_outing(kept).settings["focus"] == "steadiness"
    before.add(kept)
    run(capsys, *live, "--focus", "none")
    (kept,) = set(home.glob("*.outing")) - before
    assert load_outing(kept).settings["focus"] is None
