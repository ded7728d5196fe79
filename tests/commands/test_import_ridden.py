"""`import` of a recording of an outing with the coach: it is one outing, and what was heard is never lost."""

from __future__ import annotations

from pathlib import Path

import pytest

from cadence_coach import cli
from cadence_coach.store.outing_file import load_outing, save_outing
from tests.commands.test_import import begun, figures, taken


@pytest.fixture(autouse=True)
def there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path / "home"))


def the_one(tmp_path: Path, folder: str = "home/outings") -> Path:
    """Beside it lies who writes there."""
    (found,) = (tmp_path / folder).glob("*.outing")
    return found


@pytest.fixture
def ridden(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    """An outing with a coach, whose fixes are older than they came."""
    assert cli.run(["live", "--source", "sim:short:7", "--yes", "--fast", "--sound", "silent"]) == 0
    path = the_one(tmp_path)
    outing = load_outing(path)
    outing.fixes[:, 1] -= 0.25
    save_outing(outing, path)
    capsys.readouterr()
    return path


@pytest.mark.parametrize("more", [[], ["--no-place"]])
def test_a_recording_of_a_ridden_outing_is_the_same_outing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], ridden: Path, more: list[str]
) -> None:
    before = ridden.read_bytes()
    back = str(tmp_path / "back")
    assert cli.run(["export", str(ridden), "--as", "recording", "--to", back, *more]) == 0
    capsys.readouterr()
    assert "is there already" in taken(capsys, back)
    assert the_one(tmp_path) == ridden and ridden.read_bytes() == before


def test_a_ridden_outing_takes_the_place_of_its_recording(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], ridden: Path
) -> None:
    back, coach = str(tmp_path / "back"), ["--out", str(tmp_path / "coach")]
    assert cli.run(["export", str(ridden), "--as", "recording", "--to", back]) == 0
    capsys.readouterr()
    taken(capsys, back, *coach)
    assert cli.run(["review", str(the_one(tmp_path, "coach")), "--note", "Push sooner"]) == 0
    assert "now has what the coach said" in taken(capsys, str(ridden), *coach)
    after = load_outing(the_one(tmp_path, "coach"))
    assert figures(after) == figures(load_outing(ridden)) and [n.text for n in after.notes] == ["Push sooner"]


def test_the_rest_of_a_recording_does_not_take_the_place_of_what_was_heard(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], ridden: Path
) -> None:
    back = str(tmp_path / "back")
    assert cli.run(["export", str(ridden), "--as", "recording", "--to", back]) == 0
    save_outing(begun(load_outing(ridden), 20.0), ridden)
    before = ridden.read_bytes()
    assert cli.run(["import", back]) == 2
    assert "brings the rest of the samples, but not all that this one has" in capsys.readouterr().err
    assert ridden.read_bytes() == before


def test_a_recording_of_a_recording_names_no_outing(tmp_path: Path, ridden: Path) -> None:
    assert cli.run(["export", str(ridden), "--as", "recording", "--to", str(tmp_path / "back")]) == 0
    assert cli.run(["export", str(tmp_path / "back"), "--as", "recording", "--to", str(tmp_path / "again")]) == 0
    assert "uuid" in (tmp_path / "back" / "meta.json").read_text()
    assert "uuid" not in (tmp_path / "again" / "meta.json").read_text()
