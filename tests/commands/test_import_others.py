"""`import` of other loggers' files as they lie about: packed, in capitals, in folders, in a wrong unit; what is said of
them helps where it is said."""

from __future__ import annotations

import gzip
import os
from pathlib import Path

import pytest

from cadence_coach import cli
from cadence_coach.store.outing_file import load_outing
from tests.store.test_generic_csv import A, G, T, W, write

NAMES = ["t", "ax", "ay", "az"]
OURS = ["t_s", "ax_m_s2", "ay_m_s2", "az_m_s2"]


@pytest.fixture(autouse=True)
def there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path / "home"))
    (tmp_path / "in").mkdir()
    monkeypatch.chdir(tmp_path / "in")


def run(capsys: pytest.CaptureFixture[str], *arguments: str, command: str = "import") -> tuple[int, str, str]:
    code = cli.run([command, *arguments])
    said = capsys.readouterr()
    return code, said.out, said.err


def complaint(capsys: pytest.CaptureFixture[str], *arguments: str, command: str = "import") -> str:
    code, _, err = run(capsys, *arguments, command=command)
    assert code == 2 and err.count("\n") == 1
    return err


def kept(tmp_path: Path) -> int:
    found = list((tmp_path / "home" / "outings").iterdir())
    assert len(found) == 1 and len(load_outing(found[0]).accel) == len(T)
    gyro = load_outing(found[0]).gyro
    return 0 if gyro is None else len(gyro)


@pytest.mark.parametrize("names", [NAMES, OURS])
@pytest.mark.parametrize("ending", [".csv.gz", "", ".log", ".CSV.GZ"])
def test_packed_or_by_any_name(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], names: list[str], ending: str
) -> None:
    data = write(tmp_path / "log.csv", names, [T, *A.T]).read_bytes()
    Path(f"log{ending}").write_bytes(gzip.compress(data) if ending.lower().endswith("gz") else data)
    assert run(capsys, f"log{ending}")[0] == 0
    assert kept(tmp_path) == 0


def test_a_packed_file_that_is_cut_short_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    data = write(tmp_path / "log.csv", NAMES, [T, *A.T]).read_bytes()
    Path("log.csv.gz").write_bytes(gzip.compress(data)[:-2000])
    assert "log.csv.gz: cannot be unpacked to its end" in complaint(capsys, "log.csv.gz")
    assert not list((tmp_path / "home" / "outings").iterdir())


@pytest.mark.parametrize("name", ["me.toml", "page.html", "noending"])
def test_of_what_is_no_table_that_is_said_and_no_import_is_advised(
    capsys: pytest.CaptureFixture[str], name: str
) -> None:
    Path(name).write_text("[rider]\nmass_kg = 70\n")
    assert f"{name} line 1: no table" in (said := complaint(capsys, name)) and "`import`" not in said


@pytest.mark.parametrize("files", [("ACC.CSV", "GYRO.CSV"), ("accel.csv", "gyro.csv"), ("acc.txt", "gyr.tsv")])
def test_a_folder_stands_for_the_tables_in_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], files: tuple[str, str]
) -> None:
    """In capitals, under our own names with other columns, with other endings; a text beside them is none."""
    Path("walk").mkdir()
    write(Path("walk", files[0]), NAMES, [T, *A.T])
    write(Path("walk", files[1]), ["t", "wx", "wy", "wz"], [T, *W.T])
    Path("walk", "readme.txt").write_text("read, this, first, please\n")
    assert run(capsys, "walk", "--units", "gyro=rad/s")[0] == 0
    assert kept(tmp_path) == len(T)


def test_a_text_in_a_folder_is_no_table_that_fails(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Path("walk").mkdir()
    write(Path("walk", "log.tsv"), NAMES, [T, *A.T])
    Path("walk", "readme.txt").write_text("read, this, first, please\n")
    assert run(capsys, "walk")[0] == 0
    assert kept(tmp_path) == 0


@pytest.mark.parametrize(("unit", "scale"), [("accel=g", (1.0, 1.0 / G)), ("accel=mg", (1.0, 1e3 / G)),
                                             ("time=ms", (1e3, 1.0))])  # fmt: skip
@pytest.mark.parametrize("folder", [True, False])
def test_a_wrong_unit_is_helped_by_an_option_in_import_and_by_numbers_elsewhere(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], unit: str, scale: tuple[float, float], folder: bool
) -> None:
    Path("lake").mkdir()
    path = write(Path("lake", "accel.csv"), OURS, [T * scale[0], *(A * scale[1]).T])
    named = "lake" if folder else str(path)
    said = complaint(capsys, named)
    assert f"say its unit, `import {path} --units {unit}`" in said and "multiply" not in said
    assert "--units" not in complaint(capsys, named, command="replay")
    if folder:
        assert "lake: is a recording, whose names tell" in complaint(capsys, named, "--units", unit)
    assert run(capsys, str(path), "--units", unit)[0] == 0
    assert kept(tmp_path) == 0


def test_a_wrong_unit_that_was_given_names_the_file_that_was_given(capsys: pytest.CaptureFixture[str]) -> None:
    write(Path("my log.csv"), NAMES, [T, *(A / G).T])
    said = complaint(capsys, "my log.csv", "--units", "accel=m/s2")
    assert "cadence-coach: my log.csv: the acceleration has a median" in said
    assert "`import my log.csv --units accel=g`" in said


def test_units_are_asked_for_with_the_name_of_their_file(capsys: pytest.CaptureFixture[str]) -> None:
    write(Path("fast.csv"), [*NAMES, "speed"], [T, *A.T, 4 + T / 30])
    assert "fast.csv: 'speed' names no unit" in complaint(capsys, "fast.csv")
    write(Path("acc.csv"), NAMES, [T, *A.T])
    write(Path("still.csv"), ["t", "wx", "wy", "wz"], [T, *(W * 0).T])
    assert "still.csv: the rotation's unit cannot be told" in complaint(capsys, "acc.csv", "still.csv")


def test_columns_that_a_recording_lacks_are_said_without_a_second_import(capsys: pytest.CaptureFixture[str]) -> None:
    Path("lake").mkdir()
    write(Path("lake", "accel.csv"), OURS, [T, *A.T])
    write(Path("lake", "gyro.csv"), ["t_s", "wx_deg_s", "wy_deg_s", "wz_deg_s"], [T, *W.T])
    said = complaint(capsys, "lake")
    assert f"lake{os.sep}gyro.csv line 1: no column wx_rad_s" in said and "`import`" not in said
    assert said.count("or `import` it") == 0 and "or `import` it" in complaint(capsys, "lake", command="replay")
