"""The text of another logger's CSV, packed or not: where its table begins, what parts its cells, what a cell says.

Lines before the table (notes of the logger, empty ones) are passed over; commas in numbers and dates in ISO 8601 or
day.month.year are understood. Which column is what, and in which unit, is for generic_csv.
"""

from __future__ import annotations

import codecs
import csv
import gzip
import io
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import islice
from pathlib import Path
from typing import IO, BinaryIO

import numpy as np

from cadence_coach.errors import CouldNot, Refused
from cadence_coach.store.columns import CUT_SHORT

LONGEST_LINE = 1 << 16
JUDGED = 1 << 16
"""Bytes by which it is told what a file is written in."""
PREAMBLE = 40
"""Lines within which the table must begin."""


def header(path: Path, least: int = 4) -> tuple[list[str], str, int]:
    """Column names, what parts the cells, and the number of the line that holds the names (from 1): the first with
    `least` columns.

    Raises CouldNot where the file cannot be read, Refused where no such line is found.
    """
    with _text(path) as file:
        lines = [file.readline(LONGEST_LINE).rstrip("\r\n") for _ in range(PREAMBLE)]
    if not any(lines):
        raise Refused(f"{path}: the file is empty; record again, or copy it again")
    if any(ord(c) < 32 and c != "\t" for line in lines for c in line):
        raise Refused(f"{path}: is not text; give the CSV that the logger wrote, unpacked")
    for at, line in enumerate(lines, start=1):
        delimiter = max(";\t,", key=line.count)
        names = [name.strip() for name in next(csv.reader([line], delimiter=delimiter), [])]
        if len(names) < least or line.lstrip().startswith(("#", "//", "%")):
            continue
        if all(number(name) is not None for name in names):
            raise Refused(f"{path} line {at}: numbers, no names; put a line of column names before them")
        return names, delimiter, at
    raise Refused(f"{path} line 1: no table; a line of column names, a time and three axes, must come before the rows")


def columns(
    path: Path, delimiter: str, skip: int, at: dict[str, int], stamp: str
) -> tuple[dict[str, np.ndarray], list[str]]:
    """Columns by role from the rows after line `skip`, NaN for what is no number; and the cells of the role `stamp` as
    they stand, where they are none."""
    cells: dict[str, list[float]] = {role: [] for role in at}
    stamps: list[str] = []
    nan = float("nan")
    for row in _rows(path, delimiter, skip):
        for role, k in at.items():
            value = number(row[k]) if k < len(row) else None
            cells[role].append(nan if value is None else value)
        if cells[stamp][-1] != cells[stamp][-1]:
            stamps.append(row[at[stamp]] if at[stamp] < len(row) else "")
    if not cells[stamp]:
        raise Refused(f"{path}: no rows after the column names; nothing was recorded, or the copy is not whole")
    return {role: np.array(values) for role, values in cells.items()}, stamps


def _rows(path: Path, delimiter: str, skip: int, lines: list[int] | None = None) -> Iterator[list[str]]:
    """lines: where given, it holds the number of the last row's line."""
    with _text(path) as file:
        for _ in range(skip):
            file.readline(LONGEST_LINE)
        reader = csv.reader(file, delimiter=delimiter)
        for row in reader:
            if row:
                if lines is not None:
                    lines[:] = [skip + reader.line_num]
                yield row


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


def line_of(path: Path, delimiter: str, skip: int, row: int) -> int:
    """Number of the line (from 1) that holds a row (from 0) of those that `columns` gives."""
    lines: list[int] = []
    next(islice(_rows(path, delimiter, skip, lines), row, None), None)
    return lines[-1]


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
