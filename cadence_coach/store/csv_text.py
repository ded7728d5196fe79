"""The text of another logger's CSV, packed or not: where its table begins, what parts its cells, what a cell says.

Lines before the table (notes of the logger, empty ones) are passed over; commas in numbers and dates in ISO 8601 or
day.month.year are understood. Which column is what, and in which unit, is for generic_csv.
"""

from __future__ import annotations

import codecs
import csv
import gzip
import io
from array import array
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from itertools import islice
from pathlib import Path
from typing import IO, BinaryIO

import numpy as np

from cadence_coach.errors import CouldNot, Refused
from cadence_coach.store.columns import CUT_SHORT, NAN
from cadence_coach.store.dates import moment

LONGEST_LINE = 1 << 16
JUDGED = 1 << 16
"""Bytes by which it is told what a file is written in."""
PREAMBLE = 40
"""Lines within which the table must begin."""


def header(
    path: Path, least: int = 4, fit: Callable[[Sequence[str]], int] = lambda names: 0
) -> tuple[list[str], str, int]:
    """Column names, what parts the cells, and the number of the line that holds the names (from 1): of those with
    `least` columns the one whose names `fit` best, as a note may have commas too; the first of equals.

    Raises CouldNot where the file cannot be read, Refused where no such line is found.
    """
    with _text(path) as file:
        lines = [file.readline(LONGEST_LINE).rstrip("\r\n") for _ in range(PREAMBLE)]
    if not any(lines):
        raise Refused(f"{path}: the file is empty; record again, or copy it again")
    if any(ord(c) < 32 and c != "\t" for line in lines for c in line):
        raise Refused(f"{path}: is not text; give the CSV that the logger wrote, unpacked")
    could = []
    for at, line in enumerate(lines, start=1):
        delimiter = max(";\t,", key=line.count)
        names = [name.strip() for name in _quoted(line, delimiter)]
        if len(names) >= least and not line.lstrip().startswith(("#", "//", "%")):
            could.append((names, delimiter, at))
    if not could:
        raise Refused(
            f"{path} line 1: no table; a line of column names, a time and three axes, must come before the rows"
        )
    names, delimiter, at = max(could, key=lambda one: fit(one[0]))
    if all(number(name) is not None for name in names):
        raise Refused(f"{path} line {at}: numbers, no names; put a line of column names before them")
    return names, delimiter, at


def columns(
    path: Path, delimiter: str, skip: int, names: Sequence[str], at: Mapping[str, str]
) -> tuple[dict[str, np.ndarray], np.ndarray, str]:
    """Columns by role (`at`: role to name) from the rows after line `skip`, NaN for what is no number; what the role
    time says as dates, in seconds since 1970, NaN where it is none; and the first of its cells that is neither."""
    cells = {role: array("d") for role in at}  # not lists: an hour's rows would be ten times their numbers
    picked = [(names.index(name), cells[role].append) for role, name in at.items()]
    time = names.index(at["time"])
    width = len(names)
    dated, moments, neither = array("q"), array("d"), ""
    rows = too_wide = 0
    first_wide = ""
    for line, row in _rows(path, delimiter, skip):
        for k, add in picked:
            try:
                value = float(row[k])
            except (ValueError, IndexError):
                value = number(row[k]) if k < len(row) else None
                if value is None:
                    value = NAN
            add(value)
            if k == time and value != value:
                written = row[k] if k < len(row) else ""
                dated.append(rows)
                moments.append(moment(written))
                if not neither and moments[-1] != moments[-1]:
                    neither = written
        if len(row) > width and any(cell.strip() for cell in row[width:]):
            too_wide += 1
            first_wide = first_wide or f"line {line}: {len(row)} cells under {width} names"
        rows += 1
    if not rows:
        raise Refused(f"{path}: no rows after the column names; nothing was recorded, or the copy is not whole")
    if 2 * too_wide > rows:
        raise Refused(
            f"{path} {first_wide}, and so in most rows; write numbers with points, or semicolons between the cells, "
            "and a name for every column"
        )
    dates = np.full(rows, NAN)
    dates[np.array(dated, int)] = moments
    return {role: np.frombuffer(values) for role, values in cells.items()}, dates, neither


def _rows(path: Path, delimiter: str, skip: int) -> Iterator[tuple[int, list[str]]]:
    """The cells of each line after line `skip` that has any, with its number. Line by line: to a reader of the whole
    file a stray quotation mark opens a cell that ends with the file."""
    with _text(path) as file:
        for _ in range(skip):
            file.readline(LONGEST_LINE)
        for at, line in enumerate(file, skip + 1):
            if '"' in line:
                yield at, _quoted(line, delimiter)
            elif not line.isspace():
                yield at, line.split(delimiter)


def _quoted(line: str, delimiter: str) -> list[str]:
    bare = line.rstrip("\r\n")
    cells = bare[1:-1].split(f'"{delimiter}"')
    if bare[:1] == bare[-1:] == '"' and bare.count('"') == 2 * len(cells):
        return cells  # each in its marks; to make a csv reader a line takes longer than that
    try:
        return next(csv.reader([line], delimiter=delimiter), [])
    except csv.Error:  # a cell longer than csv takes
        return line.split(delimiter)


@contextmanager
def _text(path: Path) -> Iterator[IO[str]]:
    """The text of a file, packed or not. Raises CouldNot where it cannot be read, Refused where it cannot be
    unpacked."""
    try:
        with _bytes(path) as raw:
            encoding = _encoding(raw.read(JUDGED))
        with _bytes(path) as raw, io.TextIOWrapper(raw, encoding, errors="replace", newline="") as file:
            yield file
    except CUT_SHORT as error:
        raise Refused(
            f"{path}: cannot be unpacked to its end ({error}); copy it again, or unpack what is whole"
        ) from None
    except OSError as error:
        raise CouldNot(f"{path}: {error.strerror}; check the path and that you may read it") from None


def _bytes(path: Path) -> BinaryIO:
    return gzip.open(path, "rb") if path.name.lower().endswith(".gz") else path.open("rb")  # type: ignore[return-value]


def _encoding(head: bytes) -> str:
    """What a file is written in, by its beginning: what is no UTF-8 is of an older Windows."""
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    try:
        codecs.getincrementaldecoder("utf-8")().decode(head)  # a character cut by the end is none that is wrong
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8-sig"


def plain(path: Path) -> bool:
    """Whether a file is text as our own files are; Latin letters in a note do no harm."""
    with _bytes(path) as raw:
        return _encoding(raw.read(JUDGED)) != "utf-16"


def commas_in_cells(path: Path) -> bool:
    """Whether commas stand in a cell of the first rows, in quotation marks, where commas part the cells."""
    return any("," in cell for _, row in islice(_rows(path, ",", 1), PREAMBLE) for cell in row)


def line_of(path: Path, delimiter: str, skip: int, row: int) -> int:
    """Number of the line (from 1) that holds a row (from 0) of those that `columns` gives."""
    return next(islice(_rows(path, delimiter, skip), row, None))[0]


def number(cell: str) -> float | None:
    """What the cell says, with a point or one comma; None where it is no number."""
    cell = cell.strip()
    try:
        return float(cell)
    except ValueError:
        try:
            return float(cell.replace(",", ".")) if cell.count(",") == 1 else None
        except ValueError:
            return None
