"""What is handed out: the wheel carries everything the program reads, and works without the checkout."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

PROJECT = Path(__file__).parent.parent
DATA = {".py", ".toml", ".wav", ".html", ".css", ".kv", ".json", ".png", ".txt", ".md"}


@pytest.fixture(scope="module")
def unpacked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built without a network and unpacked."""
    folder = tmp_path_factory.mktemp("wheel")
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)]
    subprocess.run(build, cwd=PROJECT, check=True, capture_output=True)
    (wheel,) = folder.glob("*.whl")
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(folder / "site")
    return folder / "site"


def test_every_file_the_program_reads_is_in_the_wheel(unpacked: Path) -> None:
    found = [p.relative_to(PROJECT) for room in ("cadence_coach", "sounds") for p in (PROJECT / room).rglob("*.*")]
    kept = [p for p in found if p.suffix in DATA and "__pycache__" not in p.parts]
    wanted = [p if p.parts[0] == "cadence_coach" else Path("cadence_coach") / p for p in kept]
    assert len(wanted) > 50
    assert [n for n in wanted if not (unpacked / n).exists()] == []


def test_it_runs_from_the_wheel_alone(unpacked: Path, tmp_path: Path) -> None:
    """A simulated outing made and found again, in an empty folder, with the unpacked wheel first on the path."""
    home = tmp_path / "home"
    where = {"PYTHONPATH": str(unpacked), "CADENCE_COACH_HOME": str(home)}

    def coach(*arguments: str) -> str:
        done = subprocess.run(
            [sys.executable, "-m", "cadence_coach", *arguments],
            cwd=tmp_path,
            env={**os.environ, **where},
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        return done.stdout

    place = "import cadence_coach; print(cadence_coach.__file__)"
    done = subprocess.run(
        [sys.executable, "-c", place],
        cwd=tmp_path,
        env={**os.environ, **where},
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.startswith(str(unpacked))
    assert "Usage" in coach("--help")
    coach("simulate", "made", "--count", "1", "--kind", "short", "--seed", "3")
    assert "pumps" in coach("replay", "made/00-short", "--json", "found.json")
    assert (tmp_path / "found.json").exists()
