"""Which outing is meant where none is named: the one that began last."""

from __future__ import annotations

import os
from pathlib import Path

import attrs
import pytest

from cadence_coach import cli
from cadence_coach.commands.looking import IMPORTED, newest
from cadence_coach.store.outing_file import save_outing
from tests.store.made import outing

JUNE, JULY, AUGUST = ("2026-06-20T09:00:00Z", "2026-07-01T23:30:00-02:00", "2026-07-02T01:00:00Z")
"""In UTC the second is the last."""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path))
    (tmp_path / "outings").mkdir()
    return tmp_path / "outings"


def kept(path: Path, start: str | None, written: float, **meta: str) -> Path:
    made = outing(50)
    save_outing(attrs.evolve(made, start_utc=start, meta={**made.meta, **meta}), path)
    os.utime(path, (written, written))
    return path


def test_it_began_last_whatever_its_name_and_whenever_it_was_written(folder: Path) -> None:
    kept(folder / "z.outing", JUNE, 3e9)
    last = kept(folder / "m.outing", JULY, 1e9)
    kept(folder / "a.outing", AUGUST, 2e9)
    assert newest() == last


def test_a_note_on_an_old_one_does_not_make_it_the_newest(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    old, last = kept(folder / "1.outing", JUNE, 1e9), kept(folder / "2.outing", AUGUST, 1.1e9)
    assert cli.run(["review", str(old), "--note", "Felt heavy"]) == 0
    assert old.stat().st_mtime > last.stat().st_mtime and newest() == last


def test_one_without_a_date_counts_from_when_it_was_taken_in(folder: Path) -> None:
    dated = kept(folder / "1.outing", JULY, 1e9)
    kept(folder / "2.outing", None, 3e9, **{IMPORTED: JUNE})
    assert newest() == dated
    bare = kept(folder / "3.outing", None, 1e9, **{IMPORTED: "2026-07-03T00:00:00Z"})
    assert newest() == bare


def test_a_damaged_one_goes_by_its_name_and_is_named_where_it_is_the_last(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    kept(folder / "1.outing", JULY, 1e9)
    (folder / "2026-06-01T08-00-00Z-1234.outing").write_text("not one")
    assert newest().name == "1.outing"
    (folder / "2026-07-03T08-00-00Z-1234.outing").write_text("not one")
    assert cli.run(["review"]) == 2
    assert "2026-07-03T08-00-00Z-1234.outing: is no outing file" in capsys.readouterr().err


@pytest.mark.parametrize("form", ["json", "text"])
def test_one_text_is_exported_to_the_screen(
    folder: Path, tmp_path: Path, form: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    kept(folder / "1.outing", JUNE, 1e9)
    assert cli.run(["export", "--as", form, "--to", "out"]) == 0
    capsys.readouterr()
    assert cli.run(["export", "--as", form, "--to", "-"]) == 0
    (written,) = (tmp_path / "out").iterdir()
    assert capsys.readouterr().out == written.read_text(encoding="utf-8")
    assert not (tmp_path / "-").exists()


def test_where_there_is_none_yet_the_one_that_demo_left_is_named(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.run(["review"]) == 1
    assert capsys.readouterr().err.endswith("name an outing file or a recording\n")
    (tmp_path / "demo").mkdir()
    shown = kept(tmp_path / "demo" / "demo.outing", JUNE, 1e9)
    assert cli.run(["review"]) == 1
    assert capsys.readouterr().err.endswith(f"a recording, such as {shown}, which `demo` left\n")
    assert cli.run(["review", str(shown)]) == 0


@pytest.mark.parametrize(("riders", "said"), [(5, "E): give"), (7, "E and 2 more): give")])
def test_of_many_riders_five_are_named_and_the_rest_counted(
    folder: Path, riders: int, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    for n, name in enumerate("ABCDEFG"[:riders]):
        made = attrs.evolve(outing(50), uuid=f"00000000-0000-4000-8000-00000000000{n}")
        made = attrs.evolve(made, profile={"rider": {"name": name}})
        save_outing(made, folder / f"{name}.outing")
    assert cli.run(["season", "--report", "s.html"]) == 2
    assert said in capsys.readouterr().err
