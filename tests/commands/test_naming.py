"""What names on the command line stand for, and the profile that is taken where none is named."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from cadence_coach import cli
from cadence_coach.commands.naming import OWN_PROFILE, count, each, own_profile
from cadence_coach.sim.outing import simulate_outing
from cadence_coach.store.recordings import write_recording


@pytest.fixture
def club(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with recordings at two depths, another logger's CSV and a note to oneself."""
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path / "home"))
    made = simulate_outing(5, "short", 50.0)
    for name in ("ana", "deeper/ben"):
        write_recording(tmp_path / "club" / name, made.accel, None, None, {"rider": name}, None)
    (tmp_path / "club/lake.csv").write_text("time,ax,ay,az\n", "utf-8")
    (tmp_path / "club/readme.md").write_text("not this", "utf-8")
    return tmp_path / "club"


def test_a_folder_stands_for_what_is_in_it(club: Path) -> None:
    assert each([str(club)]) == [str(club / "ana"), str(club / "deeper/ben")]
    assert each([str(club)], (".csv",)) == [str(club / "ana"), str(club / "deeper/ben"), str(club / "lake.csv")]


def test_a_recording_and_what_is_not_there_stand_for_themselves(club: Path, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    named = [str(club / "ana"), "sim:calm:3", str(tmp_path / "empty"), "nowhere"]
    assert each(named) == named


def test_replay_and_import_take_a_folder_of_recordings(
    club: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (club / "lake.csv").unlink()
    assert cli.run(["replay", str(club), "--json", str(tmp_path / "out")]) == 0
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == ["ana.json", "ben.json"]
    assert cli.run(["import", str(club)]) == 0
    said = capsys.readouterr()
    assert "pumps -> " in said.out
    assert "No profile: " in said.err and "--template" in said.err


def test_the_profile_in_the_data_folder_is_taken_where_none_is_named(club: Path, tmp_path: Path) -> None:
    assert own_profile(None) is None
    assert own_profile(Path("other.toml")) == Path("other.toml")
    assert cli.run(["band", "--template", str(tmp_path / "home" / OWN_PROFILE)]) == 0
    assert own_profile(None) == tmp_path / "home" / OWN_PROFILE


def test_the_template_is_a_profile_and_replaces_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path / "home"))
    mine = tmp_path / "me.toml"
    assert cli.run(["band", "--template", str(mine)]) == 0
    text = mine.read_text("utf-8").replace("mass_kg = 72 ", "mass_kg = 81 ")
    assert tomllib.loads(text)["rider"]["mass_kg"] == 81
    mine.write_text(text, "utf-8")
    assert cli.run(["band", str(mine), "--speeds", "4.5"]) == 0
    assert cli.run(["band", "--template", str(mine)]) == 2
    assert "is there already" in capsys.readouterr().err
    assert mine.read_text("utf-8") == text


def test_counts_have_their_plural() -> None:
    assert [count(n, "flight") for n in (0, 1, 2)] == ["0 flights", "1 flight", "2 flights"]
    assert count(2, "try", "tries") == "2 tries"
