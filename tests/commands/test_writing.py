"""Places for what is written that are no plain files: nothing of them is ever replaced."""

from __future__ import annotations

import json
import os
import threading
from pathlib import Path

import pytest

from cadence_coach import cli
from cadence_coach.store.outing_file import save_outing
from cadence_coach.store.recordings import write_recording
from tests.review.build import Plan, make
from tests.review.test_outing import flies

ASKED = (("replay", "--json"), ("review", "--json"), ("review", "--report"))


@pytest.fixture(autouse=True)
def lake(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path / "home"))
    monkeypatch.chdir(tmp_path)
    write_recording(tmp_path / "lake", make(Plan(flies([12], pause=15.0))).accel)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
@pytest.mark.parametrize(("command", "option"), ASKED)
def test_what_is_no_file_is_written_into(command: str, option: str) -> None:
    """As root, /dev/null would be a file from then on, for all programs."""
    os.mkfifo("pipe")
    read: list[str] = []
    reader = threading.Thread(target=lambda: read.append(Path("pipe").read_text()), daemon=True)
    reader.start()
    assert cli.run([command, "lake", option, "pipe"]) == 0
    assert Path("pipe").is_fifo()
    reader.join(10.0)
    assert read and read[0]


@pytest.mark.parametrize(("command", "option"), ASKED[:2])
def test_a_link_stays_one(command: str, option: str) -> None:
    Path("kept").mkdir()
    Path("kept/old.json").write_text("old")
    Path("link.json").symlink_to("kept/old.json")
    assert cli.run([command, "lake", option, "link.json"]) == 0
    assert Path("link.json").is_symlink()
    assert json.loads(Path("kept/old.json").read_text())["format"]
    assert [p.name for p in Path("kept").iterdir()] == ["old.json"]


@pytest.mark.parametrize("name", ["link.json", "LINK.OUTING"])
def test_nothing_is_written_over_an_outing_file_by_another_name(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = save_outing(make(Plan(flies([12], pause=15.0))), tmp_path / "one.outing")
    before = path.read_bytes()
    if name == "link.json":
        Path(name).symlink_to(path)
    else:
        path.rename(name)
    assert cli.run(["replay", "lake", "--json", name]) == 2
    assert "the name of an outing file" in capsys.readouterr().err
    assert Path(name).read_bytes() == before
