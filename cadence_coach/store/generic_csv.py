"""The CSV of any sensor logger, another phone's or a wearable's, as a recording of ours.

Which column is what is read from the names (column_guess.py), the units from names and numbers (unit_guess.py); what
stays in doubt is asked, and where nobody can be asked it is refused with the option that answers it. The samples
themselves are only scaled: gaps, repeated times and bad values go on into the recording, where the engine sees and
reports them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np

from cadence_coach.errors import Refused
from cadence_coach.store import column_guess, csv_text
from cadence_coach.store import unit_guess as guess
from cadence_coach.store.asking import Ask, Question, answer, refuse
from cadence_coach.store.checks import COARSEST_STEP, FINEST_STEP
from cadence_coach.store.column_guess import GRAVITY, NEEDED, ROLES
from cadence_coach.store.recordings import ACCEL_COLUMNS, write_recording

QUANTITIES = {"accel": guess.ACCEL, "gyro": guess.ROTATION, "time": guess.TIME, "speed": guess.SPEED}
EPOCH_S = 1e9
"""Times beyond this are seconds since 1970 ..."""
LAST_S = 253402300799.0
"""... up to the last second of the year 9999, where written dates end."""


def is_ours(path: Path) -> bool:
    """Whether the header is that of a recording, and the rows are not those of a spreadsheet that saved one with commas
    in its numbers."""
    names, delimiter, line = _header(path)
    ours = line == 1 and delimiter == "," and set(ACCEL_COLUMNS) <= set(names)
    return ours and csv_text.plain(path) and not csv_text.commas_in_cells(path)


def _header(path: Path, given: Mapping[str, str] | None = None) -> tuple[list[str], str, int]:
    """As csv_text.header, by a time and axes, or the names that are given for them; where a table lacks a column, it is
    said which."""
    chosen = given or {}

    def fit(names: Sequence[str]) -> int:
        return sum(chosen.get(role) in names or any(column_guess.means(n, role) for n in names) for role in NEEDED)

    try:
        return csv_text.header(path, 4, fit)
    except Refused:
        try:
            names, _, line = csv_text.header(path, 2)
        except Refused:
            names = []
        found = {role: [name for name in names if column_guess.means(name, role)] for role in NEEDED}
        if sum(map(bool, found.values())) < 2:  # a sentence with a comma, not a table
            raise
    lacking = ", ".join(role for role, of in found.items() if not of)
    raise Refused(
        f"{path} line {line}: no column looks like {lacking}; there are {column_guess.there(names)}, and a time and "
        "three axes of acceleration are needed: record again with all of them"
    )


def to_recording(
    path: Path,
    folder: Path,
    ask: Ask = refuse,
    columns: Mapping[str, str] | None = None,
    units: Mapping[str, str] | None = None,
    left_out: list[str] | None = None,
) -> tuple[Path, list[str]]:
    """Writes a recording into `folder` (new or empty); returns it and what was taken for what, a line each.

    columns: role (ROLES) to column name; units: quantity (QUANTITIES) to unit; both overrule the guesses. left_out:
    takes what of the file is not in the recording, a line each.
    """
    names, delimiter, line = _header(path, columns)
    at = column_guess.columns(path, names, dict(columns or {}), ask)
    table, dates, neither = csv_text.columns(path, delimiter, line, names, at)
    given = checked_units(dict(units or {}))
    said = [f"{role}: column {at[role]!r}" for role in ROLES if role in at]
    t, first, unit = clock(path, table["time"], dates, neither, at["time"], given, ask)
    said.append(f"time in {unit}")
    accel = np.stack([table[r] for r in ("ax", "ay", "az")], 1)
    if GRAVITY[0] in at:
        accel += np.stack([table[r] for r in GRAVITY], 1)
    there = np.isfinite(accel).any(axis=1)
    if not there.any():
        raise Refused(f"{path}: no row has an acceleration; choose the columns with --columns ax=NAME,ay=NAME,az=NAME")
    accel = in_si(path, t, accel, there, at["ax"], given, ask, said)
    if left_out is not None:
        left_out += without_numbers(path, delimiter, line, table)
    gyro = None
    if "wx" in at:
        turns = np.stack([table[r] for r in ("wx", "wy", "wz")], 1)
        rows = np.isfinite(turns).any(axis=1)
        if rows.any():
            gyro = np.column_stack([t, turned_si(path, t, accel, turns, there & rows, at["wx"], given, ask, said)])[
                rows
            ]
    seen_at = fixes(path, table, t, at, given, ask, said)
    meta: dict[str, Any] = {"device": f"imported from {path.name}"}
    if start := start_utc(first):
        meta["start_utc"] = start
    made = write_recording(folder, np.column_stack([t, accel])[there], gyro, seen_at, meta)
    return made, said


def without_numbers(path: Path, delimiter: str, line: int, table: Mapping[str, np.ndarray]) -> list[str]:
    """Says how many rows hold no number but a time, and where the first is; nothing where there are none. line: of the
    column names."""
    empty = ~np.isfinite([column for role, column in table.items() if role != "time"]).any(axis=0)
    if not empty.any():
        return []
    first = csv_text.line_of(path, delimiter, line, int(np.argmax(empty)))
    return [f"{path.name}: {np.count_nonzero(empty)} rows without numbers, the first in line {first}"]


def in_si(
    path: Path,
    t: np.ndarray,
    accel: np.ndarray,
    there: np.ndarray,
    column: str,
    given: Mapping[str, str],
    ask: Ask,
    said: list[str],
) -> np.ndarray:
    """Acceleration (n, 3) in m/s2, gravity in it; there: rows that have one. Raises Refused where gravity is not."""
    unit = given.get("accel") or _accel_unit(path, t[there], accel[there], column, ask)
    said.append(f"acceleration in {unit}")
    return accel * guess.ACCEL[unit]


def turned_si(
    path: Path,
    t: np.ndarray,
    accel: np.ndarray,
    turns: np.ndarray,
    rows: np.ndarray,
    column: str,
    given: Mapping[str, str],
    ask: Ask,
    said: list[str],
) -> np.ndarray:
    """Rotation (n, 3) in rad/s; rows: where both it and the acceleration at those times are known."""
    unit = given.get("gyro") or _gyro_unit(path, t, accel, turns, rows, column, ask)
    said.append(f"rotation in {unit}")
    return turns * guess.ROTATION[unit]


# ---- units ----


def checked_units(given: dict[str, str]) -> dict[str, str]:
    for quantity, unit in given.items():
        if quantity not in QUANTITIES:
            raise Refused(f"--units {quantity}={unit}: no such quantity; choose from {', '.join(QUANTITIES)}")
        if unit not in QUANTITIES[quantity]:
            raise Refused(f"--units {quantity}={unit}: choose one of {', '.join(QUANTITIES[quantity])}")
    return given


def clock(
    path: Path,
    raw: np.ndarray,
    dates: np.ndarray,
    neither: str,
    column: str,
    given: Mapping[str, str],
    ask: Ask,
    steps: tuple[float, float] = guess.STEPS_S,
) -> tuple[np.ndarray, float, str]:
    """Seconds from the first row, what the file's own clock said there [s], and the unit. raw, dates, neither: as
    csv_text.columns has them. steps: shortest and longest likely time from row to row [s]."""
    written = dates[np.isfinite(dates)]
    if len(written) > np.count_nonzero(np.isfinite(raw)):  # beside dates a number is a cut one, or a footer
        first = float(written[0])
        _paced(path, dates, "dates", column, steps)
        return dates - first, first, "dates"
    if 2 * np.count_nonzero(np.isnan(raw)) > len(raw):
        raise Refused(
            f"{path}: {column} is {neither!r}, neither a number nor a date and time in ISO 8601; choose the "
            "time's column with --columns time=NAME, or write it in seconds"
        )
    moving = np.diff(raw[np.isfinite(raw)])
    moving = moving[moving > 0]
    if not len(moving):
        raise _still(path, column)
    step = float(np.median(moving))
    unit = given.get("time") or _agreed(
        "time",
        guess.named(column, guess.TIME),
        guess.time_unit(step, steps),
        f"{path.name}: the time goes up by {step:g} a row",
        ask,
    )
    _paced(path, raw * guess.TIME[unit], unit, column, steps)
    first = float(raw[np.isfinite(raw)][0])
    return (raw - first) * guess.TIME[unit], first * guess.TIME[unit], unit


def _paced(path: Path, t: np.ndarray, unit: str, column: str, steps: tuple[float, float]) -> None:
    """Refuses a time [s] too coarse or too fine for rows of a sensor. Here, not where the recording is opened: what can
    be done about it depends on what was taken for what."""
    moving = np.diff(t[np.isfinite(t)])
    moving = moving[moving > 0]
    if not len(moving) and np.count_nonzero(np.isfinite(t)) > 1:
        raise _still(path, column)
    if not len(moving) or steps[1] > COARSEST_STEP or FINEST_STEP <= (step := float(np.median(moving))) < COARSEST_STEP:
        return
    do = "write it with parts of a second" if unit == "dates" else "give its unit with --units time=UNIT"
    raise Refused(
        f"{path}: {column!r} in {unit} goes up by {step:g} s a row, which is no sensor's; {do}, or choose another "
        "column with --columns time=NAME"
    )


def _still(path: Path, column: str) -> Refused:
    return Refused(f"{path}: {column} never moves forward; choose the time's column with --columns time=NAME")


def start_utc(first: float) -> str | None:
    """A clock's reading [s] as UTC, where it counts from 1970 and names a day that can be written."""
    if not EPOCH_S < first < LAST_S:
        return None
    return datetime.fromtimestamp(first, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _accel_unit(path: Path, t: np.ndarray, accel: np.ndarray, column: str, ask: Ask) -> str:
    length = guess.gravity(t, accel)
    named, fits = guess.named(column, guess.ACCEL), guess.accel_unit(length)
    floats = guess.shaken(t, accel) > guess.FLOATS
    if (
        floats
        or (named is not None and not fits)
        or (not fits and not any(length * si > guess.G for si in (1.0, guess.G)))
    ):
        raise Refused(
            f"{path}: the acceleration averages {length:.3g}"
            + (f" {named}" if named else "")
            + " over a second, where every body on earth has 1 g: gravity was taken out, or it is no acceleration; "
            "record with gravity in it"
        )
    return _agreed("accel", named, fits, f"{path.name}: the acceleration averages {length:.4g}", ask)


def _gyro_unit(
    path: Path, t: np.ndarray, accel: np.ndarray, turns: np.ndarray, rows: np.ndarray, column: str, ask: Ask
) -> str:
    named = guess.named(column, guess.ROTATION)
    seen = guess.rotation_unit(t[rows], accel[rows], turns[rows])
    if seen is None and named is not None:
        return named  # too little turning to contradict the name
    return _agreed("gyro", named, [seen] if seen else [], f"{path.name}: the rotation's unit cannot be told", ask)


def _agreed(quantity: str, named: str | None, fits: list[str], text: str, ask: Ask) -> str:
    """The unit that name and numbers agree on, or the only one that fits; otherwise a question."""
    if named in fits or (named is None and len(fits) == 1):
        return named or fits[0]
    if named is not None:
        text += f" where the column's name says {named}"
    choices = tuple(dict.fromkeys([*fits, *([named] if named else []), *([] if fits else QUANTITIES[quantity])]))
    question = Question(quantity, f"{text}: is it {' or '.join(choices)}?", choices, f"--units {quantity}=UNIT")
    return answer(ask, question)


def fixes(
    path: Path,
    table: dict[str, np.ndarray],
    t: np.ndarray,
    at: dict[str, str],
    given: Mapping[str, str],
    ask: Ask,
    said: list[str],
) -> np.ndarray | None:
    """[m, 6] as write_recording takes them; a fix repeated in every row of a faster sensor counts once."""
    if "speed" not in at:
        return None
    unknown = np.full(len(t), np.nan)
    rows = np.column_stack(
        [t, *(table.get(role, unknown) for role in ("speed", "lat", "lon", "speed_accuracy", "heading"))]
    )
    rows = rows[np.isfinite(rows[:, 1])]
    if not len(rows):
        return None
    named = guess.named(at["speed"], guess.SPEED)
    unit = given.get("speed") or named or _agreed("speed", None, [], f"{path.name}: {at['speed']!r} names no unit", ask)
    rows[:, 1] *= guess.SPEED[unit]
    if (accuracy := at.get("speed_accuracy")) is not None:
        rows[:, 4] *= guess.SPEED[guess.named(accuracy, guess.SPEED) or unit]
    new = np.ones(len(rows), bool)
    new[1:] = (np.diff(np.nan_to_num(rows[:, 1:], nan=-1e9), axis=0) != 0).any(axis=1) | (np.diff(rows[:, 0]) >= 0.9)
    said.append(f"speed in {unit}")
    return rows[new]
