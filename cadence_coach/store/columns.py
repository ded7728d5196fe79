"""CSV files of numbers, read in blocks of rows so that a file of any length needs the same memory, and written exactly.

The first column asked for is a time in seconds; it is handled as whole nanoseconds, because seconds since 1970 in a
float are only good to a tenth of a microsecond. All other cells are floats. What is no number is NaN and is counted: a
few such rows are a sensor's mistake, most rows are a wrong file (`Refused`). Own reader rather than csv or
numpy.loadtxt: the one lets a stray quotation mark swallow the file, the other stops at the first bad cell and has no
exact times.
"""

from __future__ import annotations

import gzip
import io
import math
import os
import zlib
from collections.abc import Iterator
from decimal import Decimal, InvalidOperation
from itertools import islice
from operator import itemgetter
from pathlib import Path
from typing import IO

import numpy as np

from cadence_coach.errors import CouldNot, Refused

BLOCK = 4096
"""Rows read at a time: 41 s at 100 Hz."""

NAN = float("nan")
LONGEST_HEADER = 1 << 16
CUT_SHORT = (EOFError, zlib.error, gzip.BadGzipFile)

Block = tuple[list[int | None], list[list[float]]]
"""Times [ns], None where there is none; then one list a column."""


class Unfit(Refused):
    """A file that is not as ours are. `for_import`: the whole line as one who imports is told, who can be helped by
    other means than one who opens the file itself."""

    def __init__(self, what: str, to_do: str, in_import: str = "") -> None:
        super().__init__(f"{what}; {to_do}")
        self.for_import = f"{what}; {in_import}" if in_import else what


def nanoseconds(text: str) -> int | None:
    """A time in seconds as text to whole nanoseconds; None for NaN and infinity. ValueError when it is no number."""
    whole, _, part = text.partition(".")
    if len(part) <= 9 and len(whole) <= 15 and part.isdigit() and whole.isdigit():
        return int(whole) * 1_000_000_000 + int(part) * 10 ** (9 - len(part))
    try:
        exact = Decimal(text.strip())
    except InvalidOperation:
        raise ValueError(text) from None
    if not exact.is_finite() or exact.copy_abs() > 10**15:  # abs() rounds, and overflows at 1e1000000
        return None
    return int((exact * 1_000_000_000).to_integral_value())


class Table:
    """The columns `needed` (all must be there) and `optional` of one CSV file; its header and first block are read.

    `columns` are the names found, in the order asked for. `rows`, `text_rows` count so far; `first_text` says where the
    first cell was that is no number; `cut_at` is the last line of a compressed file that ends too early; `span` is from
    when to when the rows so far reach [ns], None where none has a time.
    """

    def __init__(self, path: Path, needed: tuple[str, ...], optional: tuple[str, ...] = ()) -> None:
        self.path = path
        self.needed = needed
        self.rows = self.text_rows = 0
        self.first_text: str | None = None
        self.cut_at: int | None = None
        self.span: tuple[int, int] | None = None
        self._wide_rows = 0
        self._first_wide = ""
        self._line = 1
        try:
            self.size = path.stat().st_size
            self._raw: IO[bytes] = path.open("rb")
        except OSError as error:
            raise CouldNot(f"{path}: {error.strerror}; check the path and that you may read it") from error
        packed = gzip.GzipFile(fileobj=self._raw) if path.name.lower().endswith(".gz") else self._raw
        self._file = io.TextIOWrapper(packed, encoding="utf-8-sig", errors="replace")  # type: ignore[arg-type]
        try:
            self._read_header(needed, optional)
            self._first = self._read_block()
        except BaseException:
            self.close()
            raise

    def close(self) -> None:
        self._file.close()
        self._raw.close()

    def bytes_read(self) -> int:
        """How far into the file the reading is; with `size`, for a progress bar."""
        return self.size if self._raw.closed else self._raw.tell()

    def first(self) -> Block:
        """The first block, to judge the file by; empty lists when there are no rows."""
        return self._first

    def blocks(self) -> Iterator[Block]:
        """All rows, a block at a time; can be gone through once."""
        block = self._first
        try:
            while block[0]:
                yield block
                block = self._read_block()
        finally:
            self.close()

    def _read_header(self, needed: tuple[str, ...], optional: tuple[str, ...]) -> None:
        try:
            header = self._file.readline(LONGEST_HEADER)
        except (OSError, *CUT_SHORT) as error:
            raise Refused(
                f"{self.path} line 1: cannot be unpacked ({error}); give a .csv or a whole .csv.gz"
            ) from error
        if not header:
            raise Refused(f"{self.path} line 1: the file is empty; its first line must be {','.join(needed)}")
        names = [name.strip().strip('"').strip() for name in header.split(",")]
        for name in needed:
            if name not in names:
                raise Unfit(f"{self.path} line 1: no column {name}{_hint(name, names, needed)}", "or `import` it")
        self.columns = (*needed, *(name for name in optional if name in names))
        for name in self.columns:
            if names.count(name) > 1:
                raise Refused(f"{self.path} line 1: column {name} is there twice; keep one")
        self._width = len(names)
        self._at = [names.index(name) for name in self.columns]
        self._pick = itemgetter(*self._at)

    def _read_block(self) -> Block:
        while True:
            lines: list[str] = []
            if self.cut_at is None:
                try:
                    lines.extend(islice(self._file, BLOCK))
                except CUT_SHORT:
                    self.cut_at = self._line + len(lines)
            start, self._line = self._line, self._line + len(lines)
            times, values = self._read_lines(lines, start)
            self._spread(times)
            if not lines or start == 1:
                self._judge()
            if times or not lines:  # else nothing but blank lines
                return times, values

    def _read_lines(self, lines: list[str], start: int) -> Block:
        rows = [line.split(",") for line in lines]
        if sum(map(len, rows)) > self._width * len(rows):
            self._count_wide(rows, start)
        try:
            columns = list(zip(*map(self._pick, rows), strict=True))
            times: list[int | None] = list(map(nanoseconds, columns[0])) if columns else []
            values = [list(map(float, column)) for column in columns[1:]]
        except (ValueError, IndexError):
            return self._read_with_care(lines, start)
        self.rows += len(times)
        return times, values

    def _spread(self, times: list[int | None]) -> None:
        """A block's ends will do for all of it: times go up, but for single ones."""
        for one_way in (times, reversed(times)):
            ns = next((ns for ns in one_way if ns is not None), None)
            if ns is not None:
                self.span = (min(self.span[0], ns), max(self.span[1], ns)) if self.span else (ns, ns)

    def _count_wide(self, rows: list[list[str]], start: int) -> None:
        """Counts rows in which something stands behind the last column that has a name."""
        for number, row in enumerate(rows, start + 1):
            if len(row) > self._width and any(cell.strip() for cell in row[self._width :]):
                self._wide_rows += 1
                if not self._first_wide:
                    self._first_wide = f"line {number}: {len(row)} cells under {self._width} names"

    def _judge(self) -> None:
        if 2 * self._wide_rows > self.rows:
            raise Refused(
                f"{self.path} {self._first_wide}, and so in most rows; write numbers with points, and a name for every "
                "column"
            )
        if 2 * self.text_rows > self.rows:
            raise Refused(f"{self.path} {self.first_text}; so it is in most rows: is this the right file?")

    def _read_with_care(self, lines: list[str], start: int) -> Block:
        """A block in which some cell is no number: cell by cell, NaN for what cannot be read."""
        times: list[int | None] = []
        values: list[list[float]] = [[] for _ in self.columns[1:]]
        for number, line in enumerate(lines, start + 1):
            if not line.strip():
                continue
            cells = [cell.strip().strip('"').strip() for cell in line.split(",")]
            bad = False
            for place, (name, at) in enumerate(zip(self.columns, self._at, strict=True)):
                cell = cells[at] if at < len(cells) else ""
                try:
                    value = nanoseconds(cell) if place == 0 else float(cell)
                except ValueError:
                    value = None if place == 0 else NAN
                    if cell or name in self.needed:
                        bad = True
                        if self.first_text is None:
                            self.first_text = f"line {number}: {name} is {cell[:40]!r} where a number belongs"
                if place == 0:
                    times.append(value)  # type: ignore[arg-type]
                else:
                    values[place - 1].append(value)  # type: ignore[arg-type]
            self.rows += 1
            self.text_rows += bad
        return times, values


def _hint(name: str, names: list[str], needed: tuple[str, ...]) -> str:
    """What to do about a missing column, from the names that are there."""
    there = ", ".join(names)[:80]
    lower = [other.lower() for other in names]
    if len(names) == 1 and (";" in there or "\t" in there):
        return f" (the line is {there!r}); separate the columns by commas, decimals by points"
    if all(_is_number(other) for other in names):
        return f" but numbers ({there}); put the column names in the first line: {','.join(needed)}"
    if name == "t_s" and any(o.endswith(("_ms", "_us", "_ns", "(ms)", "millis")) for o in lower):
        return f" (there are: {there}); give the time in seconds as t_s, so divide milliseconds by 1000"
    if name.endswith("_m_s2") and any(o in (name[:2] + "_g", name[:2] + "_mg") for o in lower):
        return f" (there are: {there}); multiply g by 9.80665 and name the columns ax_m_s2,ay_m_s2,az_m_s2"
    if name.endswith("_rad_s") and any(o in (name[:2] + "_deg_s", name[:2] + "_dps") for o in lower):
        return f" (there are: {there}); multiply degrees by 0.0174533 and name the columns wx_rad_s,wy_rad_s,wz_rad_s"
    return f" (there are: {there}); the file needs {','.join(needed)}, units as in the names"


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


# ---- writing ----


def exact_seconds(t: float, start_ns: int = 0) -> str:
    """Seconds after a start as text, to the nanosecond, without the rounding of t * 1e9."""
    whole = int(t // 1)
    ns = start_ns + whole * 1_000_000_000 + round((t - whole) * 1e9)
    sign, ns = ("-", -ns) if ns < 0 else ("", ns)
    return f"{sign}{ns // 1_000_000_000}.{ns % 1_000_000_000:09d}".rstrip("0").rstrip(".")


def write_table(
    path: Path, columns: tuple[str, ...], data: np.ndarray, gz: bool = False, single: bool = True, start_ns: int = 0
) -> None:
    """Writes [n, len(columns)]: times to the nanosecond, later by start_ns, the rest in its shortest exact form
    (`single`: as float32).

    NaN is an empty cell, and so is a time that is none.

    Whole or not at all: it is written beside and moved into place. The same data give the same bytes, packed or not.
    """
    beside = path.with_name(path.name + ".part")
    with beside.open("wb") as raw:
        packed = gzip.GzipFile(filename="", fileobj=raw, mode="wb", compresslevel=6, mtime=0) if gz else raw
        with io.TextIOWrapper(packed, encoding="ascii", newline="\n") as file:  # type: ignore[arg-type]
            file.write(",".join(columns) + "\n")
            for start in range(0, len(data), BLOCK):
                block = data[start : start + BLOCK]
                times = [exact_seconds(t, start_ns) if math.isfinite(t) else "" for t in block[:, 0].tolist()]
                texts = block[:, 1:].astype(np.float32 if single else np.float64).astype(str).tolist()
                for t, cells in zip(times, texts, strict=True):
                    file.write(",".join([t, *("" if c == "nan" else c for c in cells)]) + "\n")
    os.replace(beside, path)
