"""A training that was exported as a recording: it comes back as one, and no squat becomes a flight."""

from __future__ import annotations

import json
from pathlib import Path

import attrs
import pytest

from cadence_coach import cli
from cadence_coach.commands.looking import open_outing
from cadence_coach.land.engine import plain_plan, plan_from
from cadence_coach.land.plan import Plan
from cadence_coach.review.again import from_rows
from cadence_coach.review.figures import armed, look
from cadence_coach.review.ladder import score
from cadence_coach.review.restudy import study
from cadence_coach.store.outing import Command
from cadence_coach.store.outing_file import load_outing, save_outing
from tests.commands.test_import import PROFILE
from tests.land.test_training import SETTINGS, engine, trained

PLAN = Plan((90.0, 96.0), 2, set_s=15.0, rest_s=3.0)


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch) -> None:
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path / "home"))


@pytest.fixture(scope="module")
def training(tmp_path_factory) -> Path:
    _, rows = trained(PLAN)
    fresh = engine(PLAN)
    fresh.command("start")
    outing = from_rows([rows], fresh)
    meta = {**outing.meta, "land": plain_plan(PLAN)}
    path = tmp_path_factory.mktemp("land") / "training.outing"
    return save_outing(attrs.evolve(outing, settings=SETTINGS.plain(), meta=meta), path)


@pytest.fixture
def exported(training, tmp_path) -> Path:
    assert cli.run(["export", str(training), "--as", "recording", "--to", str(tmp_path / "rec")]) == 0
    return tmp_path / "rec"


def meta_of(recording: Path) -> dict:
    return json.loads((recording / "meta.json").read_text())


def replayed(recording: Path, out: Path) -> dict:
    sound = ["--sound", str(out.with_suffix(".wav")), "--tick-pumps"]
    assert cli.run(["replay", str(recording), "--json", str(out), *sound]) == 0
    return json.loads(out.read_text())


def test_it_comes_back_as_a_training(exported, tmp_path, capsys) -> None:
    meta = meta_of(exported)
    assert meta["start"] == "land" and plan_from(meta["land"]) == PLAN
    found = replayed(exported, tmp_path / "o.json")
    assert found["flights"] == found["attempts"] == found["cues"] == [] and len(found["cycles"]) > 40
    assert "A training on land" in capsys.readouterr().out
    assert cli.run(["review", str(exported)]) == 0
    assert capsys.readouterr().out.startswith("On land")


def test_taken_in_it_stays_one_with_a_rider_and_without_place(exported, tmp_path) -> None:
    (tmp_path / "me.toml").write_text(PROFILE)
    assert cli.run(["import", str(exported)]) == 0
    assert cli.run(["import", str(exported), "--profile", str(tmp_path / "me.toml")]) == 0  # gone through once more
    (path,) = (tmp_path / "home" / "outings").glob("*.outing")
    outing = load_outing(path)
    assert outing.profile is not None and armed(outing) == "land" and not outing.flights and outing.cycles
    assert {r.key for r in score(look(outing, None)) if not r.elsewhere} == {"land_beat"}
    assert study(str(path)).flights == ()
    assert cli.run(["export", str(path), "--as", "recording", "--no-place", "--to", str(tmp_path / "again")]) == 0
    assert meta_of(tmp_path / "again") == meta_of(exported)


def test_scored_afterwards_it_keeps_its_sets_whatever_is_taken_in_later(exported, tmp_path, capsys) -> None:
    assert cli.run(["import", str(exported)]) == 0
    scored = ["--tempo", "90", "--sets", "2", "--set-seconds", "15", "--rest", "3", "--yes", "--no-notes"]
    assert cli.run(["land", "--recording", str(exported), *scored]) == 0
    (path,) = (tmp_path / "home" / "outings").glob("*.outing")
    before = path.read_bytes()
    assert f"Kept: {path}" in capsys.readouterr().out and load_outing(path).clicks
    (exported / "gyro.csv").write_text("t_s,wx_rad_s,wy_rad_s,wz_rad_s\n1,0,0,0\n2,0,0,0\n")
    assert cli.run(["import", str(exported)]) == 2
    assert "holds a training on land, to which rotation cannot be added" in capsys.readouterr().err
    assert path.read_bytes() == before


def test_scored_afterwards_it_stays_beside_no_training_that_was_heard(training, exported, tmp_path, capsys) -> None:
    heard = attrs.evolve(load_outing(training), commands=[Command(0, 0.0, "start", {})])
    (tmp_path / "home" / "outings").mkdir(parents=True)
    path = save_outing(heard, tmp_path / "home" / "outings" / "training.outing")
    before = path.read_bytes()
    scored = ["--tempo", "90", "--sets", "2", "--set-seconds", "15", "--rest", "3", "--yes", "--no-notes"]
    assert cli.run(["land", "--recording", str(exported), *scored]) == 0
    assert f"Not kept: {path} holds this recording" in capsys.readouterr().out
    assert list(path.parent.glob("*.outing")) == [path] and path.read_bytes() == before


@pytest.mark.parametrize("said", [{}, {"start": "2026"}, {"start": ["land"]}, {"start": "dock", "land": {"sets": 1}}])
def test_without_that_word_it_is_taken_for_the_water_as_before(exported, said, tmp_path) -> None:
    kept = {key: value for key, value in meta_of(exported).items() if key not in ("start", "land")}
    (exported / "meta.json").write_text(json.dumps(kept | said))
    assert replayed(exported, tmp_path / "o.json")["flights"]


def test_a_plan_that_cannot_be_read_changes_nothing_but_the_plan(exported) -> None:
    (exported / "meta.json").write_text(json.dumps(meta_of(exported) | {"land": {"tempos": "?"}}))
    outing = open_outing(str(exported), None)
    assert armed(outing) == "land" and "land" not in outing.meta and not outing.flights and outing.cycles
