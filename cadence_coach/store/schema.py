"""Schema 1 of the outing file: one table a kind of event, columns with their units, and how columns map to the events'
fields.

The text of the schema is compared word for word when a stranger's file is read, so it is fixed: a change is a new
schema number and a step in `migrate.py`.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable
from dataclasses import fields
from operator import attrgetter
from typing import Any

from cadence_coach.core import events as ev
from cadence_coach.errors import Refused

APPLICATION_ID = 0x43614F75
"""In bytes 68-71 of the file's head ("CaOu"), so that a file tool can tell an outing from any other SQLite file."""

SCHEMA = 1
FORMAT = "cadence-coach-outing/1"

# table: (event class, ((column, type, field), ...)); the order of the columns is the order in the file
EVENTS: dict[str, tuple[type[ev.Event], tuple[tuple[str, str, str], ...]]] = {
    "cycles": (
        ev.CycleDone,
        (
            ("number", "INTEGER", "number"),
            ("onset_s", "REAL", "onset"),
            ("peak_s", "REAL", "peak"),
            ("push_end_s", "REAL", "push_end"),
            ("low_s", "REAL", "low"),
            ("next_onset_s", "REAL", "time"),
            ("peak_g", "REAL", "peak_g"),
            ("lowest_g", "REAL", "lowest_g"),
            ("size_g", "REAL", "size_g"),
            ("travel_m", "REAL", "travel_m"),
            ("whole", "INTEGER", "whole"),
            ("odds", "REAL", "odds"),
            ("known_s", "REAL", "known"),
        ),
    ),
    "attempts": (
        ev.AttemptEnded,
        (
            ("attempt", "INTEGER", "attempt"),
            ("start_s", "REAL", "start"),
            ("end_s", "REAL", "time"),
            ("pumps", "INTEGER", "pumps"),
            ("started_by", "TEXT", "started_by"),
            ("landing_g", "REAL", "landing_g"),
            ("landing_to_push_s", "REAL", "landing_to_push_s"),
            ("ended_by", "TEXT", "ended_by"),
            ("flight", "INTEGER", "flight"),
            ("known_s", "REAL", "known"),
        ),
    ),
    "flight_starts": (
        ev.FlightStarted,
        (
            ("flight", "INTEGER", "flight"),
            ("attempt", "INTEGER", "attempt"),
            ("start_s", "REAL", "time"),
            ("first_cycle", "INTEGER", "first_cycle"),
            ("started_by", "TEXT", "started_by"),
            ("known_s", "REAL", "known"),
        ),
    ),
    "flights": (
        ev.FlightEnded,
        (
            ("flight", "INTEGER", "flight"),
            ("start_s", "REAL", "start"),
            ("end_s", "REAL", "time"),
            ("last_cycle", "INTEGER", "last_cycle"),
            ("pumps", "INTEGER", "pumps"),
            ("cadence_hz", "REAL", "cadence"),
            ("push_share", "REAL", "push_share"),
            ("size_g", "REAL", "size_g"),
            ("steadiness", "REAL", "steadiness"),
            ("started_by", "TEXT", "started_by"),
            ("ended_by", "TEXT", "ended_by"),
            ("coast_s", "REAL", "coast_s"),
            ("skipped", "TEXT", "skipped"),
            ("known_s", "REAL", "known"),
        ),
    ),
    "cues": (
        ev.Cue,
        (
            ("t_s", "REAL", "time"),
            ("kind", "TEXT", "kind"),
            ("reason", "TEXT", "reason"),
            ("known_s", "REAL", "known"),
        ),
    ),
    "held": (
        ev.Held,
        (
            ("t_s", "REAL", "time"),
            ("kind", "TEXT", "kind"),
            ("reason", "TEXT", "reason"),
            ("known_s", "REAL", "known"),
        ),
    ),
    "clicks": (
        ev.Click,
        (
            ("t_s", "REAL", "time"),
            ("sound", "TEXT", "sound"),
            ("period_s", "REAL", "period"),
            ("lead", "TEXT", "lead"),
            ("level", "REAL", "level"),
            ("known_s", "REAL", "known"),
        ),
    ),
    "summaries": (
        ev.Summary,
        (
            ("t_s", "REAL", "time"),
            ("flight", "INTEGER", "flight"),
            ("figures", "TEXT", "figures"),
            ("spoken", "TEXT", "spoken"),
            ("sentence", "TEXT", "sentence"),
            ("known_s", "REAL", "known"),
        ),
    ),
    "gaps": (
        ev.Gap,
        (
            ("start_s", "REAL", "time"),
            ("end_s", "REAL", "end"),
            ("known_s", "REAL", "known"),
        ),
    ),
    "faults": (
        ev.Fault,
        (
            ("t_s", "REAL", "time"),
            ("kind", "TEXT", "kind"),
            ("count", "INTEGER", "count"),
            ("known_s", "REAL", "known"),
        ),
    ),
}

TABLE_OF = {cls: table for table, (cls, _) in EVENTS.items()}

_OTHERS = (
    "CREATE TABLE meta (key TEXT PRIMARY KEY, value TEXT NOT NULL)",
    "CREATE TABLE chunks (id INTEGER PRIMARY KEY, rows INTEGER NOT NULL, start_s REAL, end_s REAL,"
    " codec INTEGER NOT NULL, data BLOB NOT NULL)",
    "CREATE TABLE speeds (fixed_s REAL NOT NULL, known_s REAL NOT NULL)",
    "CREATE TABLE commands (id INTEGER PRIMARY KEY, after_rows INTEGER NOT NULL, t_s REAL, name TEXT NOT NULL,"
    " given TEXT NOT NULL)",
    "CREATE TABLE notes (uuid TEXT PRIMARY KEY, who TEXT NOT NULL, when_utc TEXT NOT NULL, at_s REAL,"
    " text TEXT NOT NULL)",
    "CREATE TABLE tags (name TEXT PRIMARY KEY, value TEXT NOT NULL)",
)

TABLES: tuple[str, ...] = _OTHERS + tuple(
    f"CREATE TABLE {table} (id INTEGER PRIMARY KEY, {', '.join(f'{column} {kind}' for column, kind, _ in columns)})"
    for table, (_, columns) in EVENTS.items()
)

_PLAIN = {"REAL": (float, int), "INTEGER": (int,), "TEXT": (str,)}


def expected_schema() -> dict[str, str]:
    """Table name -> its text in sqlite_master."""
    return {re.split(r"[ (]", sql)[2]: sql for sql in TABLES}


INSERT = {
    cls: f"INSERT INTO {table} ({', '.join(c for c, _, _ in columns)}) VALUES ({', '.join('?' * len(columns))})"
    for table, (cls, columns) in EVENTS.items()
}
SELECT = {
    table: f"SELECT {', '.join(c for c, _, _ in columns)} FROM {table} ORDER BY id"
    for table, (_, columns) in EVENTS.items()
}


_GET: dict[type, Callable[[Any], tuple[Any, ...]]] = {
    cls: attrgetter(*(field for _, _, field in columns)) for cls, columns in EVENTS.values()
}


def to_row(event: ev.Event) -> tuple[Any, ...]:
    """The values of an event in the order of its table's columns. A NaN becomes NULL (SQLite knows none)."""
    return tuple([json.dumps(v) if type(v) is tuple else v for v in _GET[type(event)](event)])


def _tuples(value: Any) -> Any:
    return tuple(_tuples(v) for v in value) if isinstance(value, list) else value


def _figures(text: str) -> tuple[tuple[str, float | str | None], ...]:
    found = _tuples(json.loads(text))
    fits = isinstance(found, tuple) and all(
        isinstance(f, tuple) and len(f) == 2 and isinstance(f[0], str) for f in found
    )
    if not fits or not all(v is None or (isinstance(v, str | float | int)) for _, v in found):
        raise ValueError("figures are pairs of a name and a value")
    return found


def _skipped(text: str) -> tuple[int, ...]:
    found = _tuples(json.loads(text))
    if not isinstance(found, tuple) or not all(type(n) is int for n in found):
        raise ValueError("skipped cycles are numbers")
    return found


def _spoken(text: str) -> tuple[str, ...]:
    found = _tuples(json.loads(text))
    if not isinstance(found, tuple) or not all(isinstance(s, str) for s in found):
        raise ValueError("spoken parts are names")
    return found


_JSON_FIELDS: dict[tuple[type, str], Callable[[str], Any]] = {
    (ev.Summary, "figures"): _figures,
    (ev.Summary, "spoken"): _spoken,
    (ev.FlightEnded, "skipped"): _skipped,
}

_NULL = {cls: {f.name: None if "None" in str(f.type) else math.nan for f in fields(cls)} for cls in TABLE_OF}


def from_row(table: str, row: tuple[Any, ...]) -> ev.Event:
    """An event from a row of its table. Raises Refused for a value of the wrong kind."""
    cls, columns = EVENTS[table]
    values: dict[str, Any] = {}
    for (column, kind, field), value in zip(columns, row, strict=True):
        if value is None:
            value = _NULL[cls][field]
            if value is not None and kind != "REAL":
                raise Refused(f"table {table}: {column} is empty; the file is damaged")
        elif type(value) not in _PLAIN[kind]:
            raise Refused(f"table {table}: {column} holds {type(value).__name__}, not {kind}; the file is damaged")
        elif kind == "REAL":
            value = float(value)
        elif field == "whole":
            value = bool(value)
        elif (cls, field) in _JSON_FIELDS:
            try:
                value = _JSON_FIELDS[cls, field](value)
            except (ValueError, RecursionError):
                raise Refused(f"table {table}: {column} is not what belongs there; the file is damaged") from None
        values[field] = value
    return cls(**values)
