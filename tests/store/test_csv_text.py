"""The text of another logger's CSV as crashes, spreadsheets and damaged copies leave it: a line that is wrong costs
itself alone, and a table that is wrong is refused."""

from __future__ import annotations

import csv
import tracemalloc
from pathlib import Path

import numpy as np
import pytest

from cadence_coach.errors import Refused
from cadence_coach.store import csv_text, generic_csv, logger_files
from cadence_coach.store.columns import BLOCK
from tests.store.test_generic_csv import A, G, T, W, taken, write

NAMES = ["time", "ax", "ay", "az"]


def lines_of(tmp_path: Path, names: list[str] = NAMES) -> list[str]:
    return write(tmp_path / "log.csv", names, [T, *A.T]).read_text().splitlines()


def spoilt(tmp_path: Path, at: int, line: str) -> Path:
    lines = lines_of(tmp_path)
    lines[at] = line
    (tmp_path / "log.csv").write_text("\n".join(lines) + "\n")
    return tmp_path / "log.csv"


@pytest.mark.parametrize("line", ['5,"0,0,9.8', '"5,0,0,9.8', '5,0,0,"', "\0" * 200_000, '"' + "\0" * 200_000, '"'])
def test_a_line_that_is_wrong_swallows_no_other(tmp_path, line):
    left_out: list[str] = []
    _, a, _, _ = taken(tmp_path, spoilt(tmp_path, 501, line), left_out=left_out)
    whole = np.isfinite(a).all(axis=1)
    np.testing.assert_allclose(a[whole, 1:], np.delete(A, 500, axis=0), rtol=2e-6, atol=2e-5)
    told = left_out == ["log.csv: 1 rows without numbers, the first in line 502"]
    assert told or np.count_nonzero(~whole) == 1  # which the engine counts


def test_zeros_behind_the_rows_as_a_crash_leaves_them(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text("\n".join(lines_of(tmp_path)) + "\n" + "\0" * 200_000)
    left_out: list[str] = []
    assert len(taken(tmp_path, path, left_out=left_out)[1]) == len(T)
    assert left_out == [f"log.csv: 1 rows without numbers, the first in line {len(T) + 2}"]


@pytest.mark.parametrize("marked", [NAMES, ["t_s", "ax_m_s2", "ay_m_s2", "az_m_s2"]])
def test_numbers_with_commas_in_quotation_marks(tmp_path, marked):
    """As a spreadsheet saves them where numbers have commas, though the file be one of ours."""
    lines = [",".join(f'"{cell.replace(".", ",")}"' for cell in line.split(",")) for line in lines_of(tmp_path)[1:]]
    path = tmp_path / "log.csv"
    path.write_text("\n".join([",".join(marked), *lines]) + "\n")
    assert not generic_csv.is_ours(path)
    _, a, _, _ = taken(tmp_path, path)
    np.testing.assert_allclose(a[:, 1:], A, rtol=2e-6, atol=2e-5)


def test_rows_with_more_cells_than_names_are_refused(tmp_path):
    """Numbers with commas under names parted by commas: hundredths would be taken for an axis."""
    path = write(tmp_path / "log.csv", ["time_ms", *NAMES[1:]], [np.round(T * 1000), *np.round(A, 2).T], ",", True)
    for read in (
        lambda: generic_csv.to_recording(path, tmp_path / "out"),
        lambda: logger_files.to_recording(logger_files.sheets([path]), tmp_path / "out"),
    ):
        with pytest.raises(Refused, match=r"log.csv line 2: 7 cells under 4 names, and so in most rows; write") as told:
            read()
        assert "\n" not in str(told.value)


@pytest.mark.parametrize("more", [",", ", ", ",,", "\t"])
def test_nothing_behind_the_last_comma_is_no_cell(tmp_path, more):
    lines = lines_of(tmp_path)
    (tmp_path / "log.csv").write_text("\n".join([lines[0], *(line + more for line in lines[1:])]) + "\n")
    assert len(taken(tmp_path, tmp_path / "log.csv")[1]) == len(T)


def test_some_rows_with_more_cells_than_names_are_taken(tmp_path):
    lines = lines_of(tmp_path)
    lines[1:1000] = [line + ",lap" for line in lines[1:1000]]
    (tmp_path / "log.csv").write_text("\n".join(lines) + "\n")
    assert len(taken(tmp_path, tmp_path / "log.csv")[1]) == len(T)


# ---- which line holds the names ----

NOTE = "Sensors: acceleration, rotation, place, pressure, in the time, as asked\n\n"


@pytest.mark.parametrize(
    ("names", "columns"), [(NAMES, {}), (["n", "p", "q", "r"], dict(zip(NAMES, "npqr", strict=True)))]
)
def test_a_note_with_commas_is_no_line_of_names(tmp_path, names, columns):
    path = tmp_path / "log.csv"
    path.write_text(NOTE + "\n".join(lines_of(tmp_path, names)) + "\n")
    _, a, _, _ = taken(tmp_path, path, columns=columns)
    np.testing.assert_allclose(a[:, 1:], A, rtol=2e-6, atol=2e-5)


def test_a_note_with_commas_hides_no_file_of_several(tmp_path):
    paths = [
        write(tmp_path / "acc.csv", ["time (s)", "ax (g)", "ay (g)", "az (g)"], [T, *(A / G).T]),
        write(tmp_path / "gyr.csv", ["time (s)", "x", "y", "z"], [T, *W.T]),
        write(tmp_path / "place.csv", ["time (s)", "lat", "lon"], [T[::100], 54 + T[::100], T[::100]]),
    ]
    for path in paths:
        path.write_text(NOTE + path.read_text())
    found = logger_files.sheets(paths)
    assert [(sheet.kind, sheet.line) for sheet in found] == [("accel", 3), ("gyro", 3), ("place", 3)]


def test_memory_is_that_of_the_numbers(tmp_path):
    """Eight bytes a number, four columns; and as much again while they are laid beside each other."""
    n = 8 * BLOCK
    path = tmp_path / "log.csv"
    path.write_text("time,ax,ay,az\n" + "".join(f"{i / 100:.2f},{i % 97},0.5,9.8\n" for i in range(n)))
    tracemalloc.start()
    table, _, _ = csv_text.columns(path, ",", 1, NAMES, dict(zip(NAMES, NAMES, strict=True)))
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert len(table["ax"]) == n
    assert peak < 2 * 8 * 4 * n


@pytest.mark.parametrize(
    ("line", "cells"),
    [
        ('"1","2","3"\r\n', ["1", "2", "3"]),
        ('"1,5","2",""', ["1,5", "2", ""]),
        ('"1","a ""word""","3"', ["1", 'a "word"', "3"]),
        ('"1",2,"3"\n', ["1", "2", "3"]),
        ('"a"', ["a"]),
        ('"', [""]),
        ('""', [""]),
        ('"""",""', ['"', ""]),
        ('1,"2', ["1", "2"]),
        ("1;2", ["1;2"]),
        ("", []),
    ],
)
def test_cells_in_quotation_marks_as_the_standard_librarys_reader_has_them(line, cells):
    assert csv_text._quoted(line, ",") == cells == next(csv.reader([line]), [])
