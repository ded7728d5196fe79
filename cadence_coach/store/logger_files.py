"""Several CSVs of one logger, a sensor each, as one recording: acceleration, rotation, gravity, place and speed.

What a file holds is told by its columns, and where they are a bare x, y, z by its name. Files are laid beside each
other by the clock they share: all from 1970, or all from the same start; where they share none nothing is guessed.
"""

from __future__ import annotations

import re
import zipfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import attrs
import numpy as np

from cadence_coach.errors import CouldNot, Refused
from cadence_coach.store import column_guess, csv_text
from cadence_coach.store import generic_csv as one
from cadence_coach.store import unit_guess as guess
from cadence_coach.store.asking import Ask, refuse
from cadence_coach.store.recordings import write_recording

ENDINGS = (".csv", ".csv.gz", ".txt", ".tsv")
META = "meta.json"
MOST_BYTES = 4 << 30
"""A packed file that says it unpacks to more is no outing: at 400 Hz that would be a week."""

PLACE_STEPS_S = (0.05, 20.0)
"""Time from fix to fix [s]."""

AXES = {"accel": ("ax", "ay", "az"), "gyro": ("wx", "wy", "wz"), "gravity": column_guess.GRAVITY}
PLACE = ("speed", "lat", "lon", "heading", "speed_accuracy")

FILE_NAMES = (
    ("gyro", re.compile(r"gyr|angular|rotation[ _-]?rate|drehrate")),
    ("accel", re.compile(r"acc|beschleunigung|kraft|force")),
    ("gravity", re.compile(r"gravit|schwere")),
)
"""What a file of a bare x, y, z holds, by its own name; the first that fits."""

SPARE = re.compile(r"uncal|unkal")
"""The same sensor a second time, before its own correction."""


@attrs.frozen
class Sheet:
    """A file and what it holds: `kind` accel, gyro, gravity, place or other; its columns, and where they are."""

    path: Path
    kind: str
    names: tuple[str, ...]
    delimiter: str
    line: int
    at: dict[str, str]


def sheets(paths: Sequence[Path]) -> list[Sheet]:
    """What each file holds. One that is no table is "other"."""
    return [_sheet(path) for path in paths]


def kind_of(path: Path) -> str:
    """Accel, gyro, gravity, place or other."""
    return _sheet(path).kind


def joined(found: Sequence[Sheet]) -> list[Sheet] | None:
    """The sheets that make one recording, acceleration first; None where they are recordings of their own (none lacks
    an acceleration). Raises Refused where it cannot be told which acceleration the others belong to."""
    rest = _without_spares([s for s in found if s.kind in ("gyro", "gravity", "place")])
    if not rest:
        return None
    main = _without_spares([s for s in found if s.kind == "accel"])
    if len(main) > 1:
        main = [s for s in main if not column_guess.WITHOUT_GRAVITY.search(s.path.stem.lower())] or main
    names = ", ".join(s.path.name for s in found)
    if not main:
        raise Refused(f"{names}: no file holds an acceleration; give the logger's accelerometer file with the others")
    for kind in ("accel", "gyro", "gravity", "place"):
        alike = [s.path.name for s in (*main, *rest) if s.kind == kind]
        if len(alike) > 1:
            raise Refused(
                f"{' and '.join(alike)} hold the same kind of figures, and other files lie beside them; "
                "import the files of one recording at a time"
            )
    return [*main, *rest]


def to_recording(
    parts: Sequence[Sheet],
    folder: Path,
    ask: Ask = refuse,
    columns: Mapping[str, str] | None = None,
    units: Mapping[str, str] | None = None,
    left_out: list[str] | None = None,
) -> tuple[Path, list[str]]:
    """Writes one recording of the sheets that `joined` gave into `folder`; returns it and what was taken for what.

    columns, units and left_out as for one file: a column counts for the files that have it, a unit for all.
    """
    given = one.checked_units(dict(units or {}))
    parts = [_chosen(sheet, dict(columns or {}), parts) for sheet in parts]
    said: list[str] = []
    read = {sheet.kind: (sheet, *_read(sheet, given, ask, said)) for sheet in parts}
    sheet, table, t, first = read["accel"]
    start = one.start_utc(first)
    _share_a_clock(read)
    accel = _three(table, "accel")
    there = np.isfinite(accel).any(axis=1)
    if not there.any():
        raise Refused(f"{sheet.path}: no row has an acceleration; choose the columns with --columns ax=NAME,...")
    if left_out is not None:
        for held, columns_of, _, _ in read.values():
            left_out += one.without_numbers(held.path, held.delimiter, held.line, columns_of)
    if "gravity" in read and guess.shaken(t[there], accel[there]) > guess.FLOATS:
        _, other, s, begun = read["gravity"]
        accel = accel + guess.at_times(t, s + (begun - first), _three(other, "gravity"))
        there = np.isfinite(accel).all(axis=1)
        said.append("gravity added to the acceleration")
    accel = one.in_si(sheet.path, t, accel, there, sheet.at["ax"], given, ask, said)
    gyro = None
    if "gyro" in read:
        turning, other, s, begun = read["gyro"]
        s, turns = s + (begun - first), _three(other, "gyro")
        beside = guess.at_times(s, t[there], accel[there])
        rows = np.isfinite(turns).all(axis=1) & np.isfinite(beside).all(axis=1)
        turns = one.turned_si(turning.path, s, beside, turns, rows, turning.at["wx"], given, ask, said)
        gyro = np.column_stack([s, turns])[np.isfinite(turns).any(axis=1)]
    fixes = None
    if "place" in read:
        placed, other, s, begun = read["place"]
        fixes = one.fixes(placed.path, other, s + (begun - first), placed.at, given, ask, said)
        if fixes is None:
            said.append(f"{placed.path.name} has no speed and was left out")
    meta: dict[str, Any] = {"device": "imported from " + ", ".join(s.path.name for s in parts)}
    if start:
        meta["start_utc"] = start
    return write_recording(folder, np.column_stack([t, accel])[there], gyro, fixes, meta), said


def unpacked(path: Path, room: Path) -> list[Path]:
    """The tables in a packed file, and what a recording of ours says of itself, each written into `room` under its own
    name; the paths of the tables. Raises Refused, CouldNot."""
    try:
        with zipfile.ZipFile(path) as packed:
            members = [m for m in packed.infolist() if _wanted(m)]
            if sum(m.file_size for m in members) > MOST_BYTES:
                raise Refused(f"{path}: unpacks to more than {MOST_BYTES >> 30} GB; unpack it and give the files")
            made: list[Path] = []
            for member in members:
                target = room / Path(member.filename).name  # no folders: a name must not lead out of the room
                if target in made:
                    raise Refused(f"{path}: {target.name} is in it twice; unpack it and give one recording's files")
                with packed.open(member) as source:
                    target.write_bytes(source.read())
                made.append(target)
    except (zipfile.BadZipFile, RuntimeError, NotImplementedError, EOFError) as error:
        raise Refused(f"{path}: cannot be unpacked ({error}); unpack it and give the files in it") from None
    except OSError as error:
        raise CouldNot(f"{path}: {error.strerror or error}; check the path and the free disk") from None
    made = [target for target in made if target.name != META]
    if not made:
        raise Refused(f"{path}: no .csv, .txt, .tsv is in it; give the file that the logger wrote")
    return sorted(made)


def _wanted(member: zipfile.ZipInfo) -> bool:
    name = Path(member.filename).name
    if member.is_dir() or name.startswith("."):
        return False
    return name.lower().endswith(ENDINGS) or name == META


# ---- what a file holds ----


def _sheet(path: Path) -> Sheet:
    def fit(names: Sequence[str]) -> int:
        return 2 * (_kind(path, names)[0] != "other") + any(column_guess.means(n, "time") for n in names)

    for least in (4, 3, 2):  # a place may be a time and two columns more
        try:
            names, delimiter, line = csv_text.header(path, least, fit)
        except Refused:
            continue
        kind, at = _kind(path, names)
        if kind != "other":
            return Sheet(path, kind, tuple(names), delimiter, line, at)
    return Sheet(path, "other", (), ",", 0, {})


def _kind(path: Path, names: Sequence[str]) -> tuple[str, dict[str, str]]:
    """Kind, and the columns of its roles, without the time's."""
    bare = {n.strip().lower(): n for n in names if n.strip().lower() in ("x", "y", "z")}
    own = [n for n in names if n not in bare.values()]
    for kind, axes in AXES.items():
        at = {role: n for role in axes for n in reversed(own) if column_guess.means(n, role)}
        if len(at) == 3:
            return kind, at
    if len(bare) == 3:
        stem = path.stem.lower()
        for kind, pattern in FILE_NAMES:
            if pattern.search(stem):
                return kind, dict(zip(AXES[kind], (bare[c] for c in "xyz"), strict=True))
        return "other", {}
    place = {role: n for role in PLACE for n in reversed(own) if column_guess.means(n, role)}
    return ("place", place) if "speed" in place or {"lat", "lon"} <= set(place) else ("other", {})


def _without_spares(found: list[Sheet]) -> list[Sheet]:
    """Of each kind those that are not a second view of the same sensor, where there are such."""
    plain = {s.kind for s in found if not SPARE.search(s.path.stem.lower())}
    return [s for s in found if s.kind not in plain or not SPARE.search(s.path.stem.lower())]


def _chosen(sheet: Sheet, columns: dict[str, str], parts: Sequence[Sheet]) -> Sheet:
    """With the columns that a person named, and a time."""
    at = dict(sheet.at)
    for role, name in columns.items():
        if role not in column_guess.ROLES:
            raise Refused(f"--columns {role}={name}: no such role; choose from {', '.join(column_guess.ROLES)}")
        if not any(name in s.names for s in parts):
            raise Refused(f"--columns {role}={name}: none of {', '.join(s.path.name for s in parts)} has such a column")
        if name in sheet.names and (role == "time" or role in at):
            at[role] = name
    if "time" not in at:
        free = [n for n in sheet.names if n not in at.values() and column_guess.means(n, "time")]
        if not free:
            raise Refused(f"{sheet.path}: no column looks like the time; name it with --columns time=NAME")
        at["time"] = free[0]
    return attrs.evolve(sheet, at=at)


# ---- reading, and one clock for all ----

Read = tuple[Sheet, dict[str, np.ndarray], np.ndarray, float]
"""A sheet, its columns by role, seconds from its first row, and its clock there [s]."""


def _read(
    sheet: Sheet, given: Mapping[str, str], ask: Ask, said: list[str]
) -> tuple[dict[str, np.ndarray], np.ndarray, float]:
    table, dates, neither = csv_text.columns(sheet.path, sheet.delimiter, sheet.line, sheet.names, sheet.at)
    steps = PLACE_STEPS_S if sheet.kind == "place" else guess.STEPS_S
    t, first, unit = one.clock(sheet.path, table["time"], dates, neither, sheet.at["time"], given, ask, steps)
    said.append(f"{sheet.path.name}: {sheet.kind}, time in {unit}, columns {', '.join(sheet.at.values())}")
    return table, t, first


def _share_a_clock(read: Mapping[str, Read]) -> None:
    """Raises Refused where the files do not lie beside each other on one clock."""
    sheet, _, t, first = read["accel"]
    for other, _, s, begun in read.values():
        if (first > one.EPOCH_S) != (begun > one.EPOCH_S):
            dated, bare = (sheet, other) if first > one.EPOCH_S else (other, sheet)
            raise Refused(
                f"{dated.path.name} tells the date and {bare.path.name} does not, so nothing says how they lie to each "
                "other; choose the time that both have with --columns time=NAME, or leave one out"
            )
        if begun + np.nanmax(s) < first or begun > first + np.nanmax(t):
            raise Refused(
                f"{other.path.name} and {sheet.path.name} have no moment in common; give files of one recording, or "
                "the time's unit with --units time=UNIT"
            )


def _three(table: Mapping[str, np.ndarray], kind: str) -> np.ndarray:
    return np.stack([table[role] for role in AXES[kind]], 1)
