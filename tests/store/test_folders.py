"""Where data live, and that only one coach writes there."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from cadence_coach.errors import CouldNot
from cadence_coach.store.folders import FolderLock, home, outings_folder


def test_the_folder_that_is_asked_for_is_made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("CADENCE_COACH_HOME", "~/by the lake/data")
    assert home() == tmp_path / "by the lake" / "data" and home().is_dir()
    assert outings_folder() == home() / "outings" and outings_folder().is_dir()


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="the folder of this system is another one")
def test_else_it_is_the_systems_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """XDG Base Directory Specification 0.8 (published): $XDG_DATA_HOME, else ~/.local/share."""
    monkeypatch.delenv("CADENCE_COACH_HOME", raising=False)
    monkeypatch.delenv("XDG_DATA_HOME", raising=False)
    monkeypatch.setenv("HOME", str(tmp_path))
    assert home() == tmp_path / ".local" / "share" / "cadence-coach" and home().is_dir()
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "mine"))
    assert home() == tmp_path / "mine" / "cadence-coach"


def test_a_file_in_the_way_is_told_in_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").touch()
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path / "file" / "data"))
    with pytest.raises(CouldNot, match="set CADENCE_COACH_HOME to another one") as told:
        home()
    assert str(tmp_path / "file" / "data") in str(told.value) and "\n" not in str(told.value)
    (tmp_path / "data").mkdir()
    (tmp_path / "data" / "outings").touch()
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path / "data"))
    with pytest.raises(CouldNot, match="outings: cannot be made"):
        outings_folder()


def test_a_lock_can_be_dropped_and_taken_again(tmp_path: Path) -> None:
    first = FolderLock(tmp_path).take()
    with first:  # entering what is held takes nothing anew
        pass
    again = FolderLock(tmp_path).take()
    with pytest.raises(CouldNot, match="another coach"):
        FolderLock(tmp_path).take()
    again.drop()
    again.drop()  # twice is no harm
    with FolderLock(tmp_path):
        other = "import sys, pathlib; from cadence_coach.store.folders import FolderLock as L; "
        other += "L(pathlib.Path(sys.argv[1])).take()"
        command = [sys.executable, "-c", other, str(tmp_path)]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        assert done.returncode and "another coach (process " in done.stderr
    with pytest.raises(CouldNot, match="no write rights"):
        FolderLock(tmp_path / "none").take()
