"""Recordings: raw sensor data in open files (FILES.md here), read as rows in time order and written exactly.

A folder with accel.csv, optional gyro.csv, speed.csv, meta.json, truth.json; or one CSV of the acceleration; CSVs
also as .csv.gz. What is wrong with the structure is `Refused` before the first row; what is wrong with single rows is
passed on, for the engine to skip, count and report.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from itertools import chain, pairwise, repeat
from pathlib import Path
from typing import Any

import numpy as np

from cadence_coach.core.events import ACCEL, FIX, GYRO, Row
from cadence_coach.core.late import NEXT
from cadence_coach.errors import Refused
from cadence_coach.store import checks
from cadence_coach.store.checks import NS
from cadence_coach.store.columns import NAN, Table, write_table
from cadence_coach.store.dates import known_start
from cadence_coach.store.merge import merged

FORMAT = "cadence-coach-recording/1"

ACCEL_COLUMNS = ("t_s", "ax_m_s2", "ay_m_s2", "az_m_s2")
GYRO_COLUMNS = ("t_s", "wx_rad_s", "wy_rad_s", "wz_rad_s")
SPEED_COLUMNS = ("t_s", "speed_m_s")
PLACE_COLUMNS = ("lat_deg", "lon_deg", "accuracy_m_s", "heading_deg")


class Recording:
    """One recording, checked and ready to be read once.

    name: the folder's, or the file's without ending. start_s: time of the first acceleration that is borne out [s], in
    the recording's own time, which the rows are counted from. meta: what meta.json says. notes: what is not used and
    why, one line each.
    """

    def __init__(self, path: str | Path) -> None:
        self.path = Path(path)
        self.name = name_of(self.path)
        self.notes: list[str] = []
        if self.path.is_dir():
            self.folder: Path | None = self.path
            accel, gyro, speed = (self._find(name) for name in ("accel", "gyro", "speed"))
            if accel is None:
                raise Refused(_no_accel(self.path))
        elif self.path.suffix == ".outing":
            raise Refused(f"{self.path}: is an outing file; look at it with review, or export it as a recording first")
        elif self.path.exists():
            self.folder = None
            accel, gyro, speed = self.path, None, None
        else:
            raise Refused(f"{self.path}: no such recording; give a folder with accel.csv, or a CSV file")
        self._accel = Table(accel, ACCEL_COLUMNS)
        self._gyro = Table(gyro, GYRO_COLUMNS) if gyro else None
        self._speed = Table(speed, SPEED_COLUMNS, PLACE_COLUMNS) if speed else None
        try:
            checks.check_accel(self._accel)
            if self._gyro:
                checks.check_gyro(self._gyro, self._accel, " ".join(str(table.path) for table in self._tables()))
            if self._speed:
                self.notes += checks.check_speed(self._speed, self._accel)
        except Refused:
            self.close()
            raise
        for table in (self._gyro, self._speed):
            if table and not table.rows:
                self.notes.append(f"{table.path.name} has no rows")
        self.start_ns = _begin([ns for ns in self._accel.first()[0] if ns is not None])
        self.start_s = self.start_ns / NS
        self.meta = known_start(self._json("meta.json"))
        self.size = self._accel.size

    def close(self) -> None:
        for table in self._tables():
            table.close()

    def bytes_read(self) -> int:
        """How far the reading is, of `size` (acceleration file, packed bytes)."""
        return self._accel.bytes_read()

    def truth(self) -> dict[str, Any] | None:
        """What truth.json says, None without one. Its times are in the recording's own time."""
        return self._json("truth.json") or None

    def rows(self) -> Iterator[list[Row]]:
        """Rows in time order, in seconds from `start_s`. Ties: fix, rotation, acceleration."""
        blocks = self._vectors(self._accel, ACCEL)
        others = self._vectors(self._gyro, GYRO) if self._gyro else iter(())
        if self._speed:
            others = merged(self._fixes(self._speed), others)
        try:
            yield from merged(chain.from_iterable(others), blocks) if self._gyro or self._speed else blocks
        finally:
            self.close()
        for table in self._tables():
            if checks.apart(table, self._accel):
                self.notes.append(f"{table.path.name} and {self._accel.path.name} have no moment in common")
            if table.cut_at is not None:
                self.notes.append(f"{table.path.name} is cut short after line {table.cut_at}; read up to there")
            if table.text_rows:
                self.notes.append(
                    f"{table.path.name}: {table.text_rows} rows with text, the first in {table.first_text}"
                )

    def _tables(self) -> list[Table]:
        return [table for table in (self._accel, self._gyro, self._speed) if table is not None]

    def _seconds(self, times: list[int | None]) -> list[float]:
        start = self.start_ns
        return [NAN if ns is None else (ns - start) / NS for ns in times]

    def _vectors(self, table: Table, kind: int) -> Iterator[list[Row]]:
        for times, (x, y, z) in table.blocks():
            yield list(zip(repeat(kind), self._seconds(times), _single(x), _single(y), _single(z), strict=False))

    def _fixes(self, table: Table) -> Iterator[Row]:
        for times, values in table.blocks():
            unknown = [NAN] * len(times)
            by_name = dict(zip(table.columns[1:], values, strict=True))
            columns = [by_name.get(name, unknown) for name in ("speed_m_s", *PLACE_COLUMNS)]
            seconds = self._seconds(times)
            yield from zip(repeat(FIX), seconds, seconds, *columns, strict=False)

    def _find(self, name: str) -> Path | None:
        there = [path for path in (self.path / f"{name}.csv", self.path / f"{name}.csv.gz") if path.exists()]
        if len(there) > 1:
            self.notes.append(f"{there[1].name} (the unpacked file is there too)")
        return there[0] if there else None

    def _json(self, name: str) -> dict[str, Any]:
        path = self.folder / name if self.folder else None
        if path is None or not path.exists():
            return {}
        try:
            found = json.loads(path.read_text("utf-8"), parse_constant=lambda name: None)
            if not isinstance(found, dict):
                raise ValueError("not an object")
        except ValueError as error:
            self.notes.append(f"{name} ({error})")
            return {}
        return found


def write_recording(
    folder: str | Path,
    accel: np.ndarray,
    gyro: np.ndarray | None = None,
    fixes: np.ndarray | None = None,
    meta: dict[str, Any] | None = None,
    truth: dict[str, Any] | None = None,
    gz: bool = False,
    start_ns: int = 0,
) -> Path:
    """Writes a recording into a new or empty folder, so that reading gives the same numbers.

    accel: [n, 4] t_s, specific force [m/s2]. gyro: [n, 4] t_s, rotation rate [rad/s]. Both as float32.
    fixes: [m, 6] t_s, speed_m_s, lat_deg, lon_deg, accuracy_m_s, heading_deg, float64, NaN for what is not known.
    Times are kept to the nanosecond, also where they are written from another start than they are given from: a float
    holds no nanoseconds since 1970. Refused when there is something in the folder already.
    """
    folder = Path(folder)
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise Refused(f"{folder}: is there already; choose another name, or remove it first")
    folder.mkdir(parents=True, exist_ok=True)
    ending = ".csv.gz" if gz else ".csv"
    try:
        _write_json(folder / "meta.json", {"format": FORMAT, **(meta or {})})
        if truth is not None:
            _write_json(folder / "truth.json", truth)
        if fixes is not None:
            write_table(folder / f"speed{ending}", (*SPEED_COLUMNS, *PLACE_COLUMNS), fixes, gz, False, start_ns)
        if gyro is not None:
            write_table(folder / f"gyro{ending}", GYRO_COLUMNS, gyro, gz, start_ns=start_ns)
        # last, and whole at once: without it the folder is no recording
        write_table(folder / f"accel{ending}", ACCEL_COLUMNS, accel, gz, start_ns=start_ns)
    except BaseException:  # interrupted, too: half a recording would be taken for a short one
        shutil.rmtree(folder, ignore_errors=True)
        raise
    return folder


def _write_json(path: Path, value: dict[str, Any]) -> None:
    text = json.dumps(value, indent=1, ensure_ascii=False, allow_nan=False, default=_plain)
    path.write_text(text + "\n", "utf-8", errors="replace")  # a file name may hold bytes that are no text


def _plain(value: Any) -> Any:
    """numpy values as JSON can hold them."""
    if isinstance(value, np.generic | np.ndarray):
        return value.tolist()
    raise TypeError(f"{value!r} cannot be written as JSON")


def _single(values: list[float]) -> list[float]:
    """The nearest float32 values, as floats: live, file and replay see the same numbers."""
    with np.errstate(over="ignore"):
        return np.asarray(values, np.float32).tolist()  # type: ignore[no-any-return]


def name_of(path: Path) -> str:
    """A recording's name: its folder's, or its file's without ending."""
    if path.is_dir():
        return path.resolve().name
    name = path.name.removesuffix(".gz").removesuffix(".csv")
    return path.resolve().parent.name if name == "accel" else name


def _no_accel(folder: Path) -> str:
    inside = sorted(p.parent.name for p in folder.glob("*/accel.csv*"))
    what = f"give the recordings in it: {folder}/{inside[0]} ..." if inside else "a recording has an accel.csv in it"
    return f"{folder}: no accel.csv and no accel.csv.gz in this folder; {what}"


def _begin(times: list[int]) -> int:
    """When it begins [ns]: as for the engine, at the first row that another follows, for one stamp may be astray."""
    return next((a for a, b in pairwise(times) if 0 < b - a <= NEXT * NS), times[0])
