"""Names of riders, foils, files, devices are shown as they are: brackets are no styles to them, dollars no formulas."""

from __future__ import annotations

import re
from pathlib import Path

import matplotlib as mpl
import pytest

import cadence_coach
from cadence_coach import cli
from cadence_coach.review.season import season
from cadence_coach.review.season_picture import season_picture
from tests.review.test_season import row

NAMES = ("Foil [small]", "Foil [/2]", "Foil :fire: [red]", "Foil $x^$")
PACKAGE = Path(cadence_coach.__file__).parent


def profile(folder: Path, name: str) -> Path:
    path = folder / "me.toml"
    path.write_text(
        f'[rider]\nname = "{name}"\nmass_kg = 72\n[foil]\nname = "{name}"\nwing_area_m2 = 0.165\nspan_m = 1.28\n'
    )
    return path


@pytest.mark.parametrize("name", NAMES)
def test_band_of_a_foil_with_such_a_name(capsys: pytest.CaptureFixture[str], tmp_path: Path, name: str) -> None:
    path, picture = str(profile(tmp_path, name)), tmp_path / "band [x].svg"
    assert cli.run(["band", path, "--against", path, "--speeds", "4.5", "--picture", str(picture)]) == 0
    out = capsys.readouterr().out
    assert f"{name} on {name}" in out and f"A: {name}   B: {name}" in out
    assert f"<!-- Drag: {name} -->" in picture.read_text()


@pytest.mark.parametrize("name", NAMES)
def test_picture_of_a_season_of_a_rider_with_such_a_name(tmp_path: Path, name: str) -> None:
    path = tmp_path / "season.svg"
    season_picture(season([row(1, rider=name)]), path)
    assert f"<!-- {name} · 1 outing -->" in path.read_text()
    assert mpl.rcParams["text.parse_math"], "what others set stays"


@pytest.mark.parametrize("name", NAMES)
def test_the_console_of_all_commands(capsys: pytest.CaptureFixture[str], name: str) -> None:
    from cadence_coach.commands.writing import console

    console(stderr=True).print(name)
    assert capsys.readouterr().err == f"{name}\n"


def test_no_other_console_and_no_picture_that_reads_formulas() -> None:
    texts = {path.relative_to(PACKAGE).as_posix(): path.read_text("utf-8") for path in PACKAGE.rglob("*.py")}
    assert [name for name, text in texts.items() if re.search(r"\bConsole\(", text)] == ["commands/writing.py"]
    drawing = {name for name, text in texts.items() if re.search(r"savefig\(", text)}
    assert len(drawing) == 3 and all('"text.parse_math": False' in texts[name] for name in drawing)
