"""The outing file: one SQLite file an outing, read only from a copy or unchanged, written whole or by `writer`.

Reading treats every file as a stranger's: sizes are limited, the schema must be ours word for word (so no view, trigger
or computed column can run anything), nothing in it is ever executed or unpickled, and the file itself is never touched.
"""

from __future__ import annotations

import json
import os
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import attrs
import numpy as np

from cadence_coach.core import events as ev
from cadence_coach.errors import CouldNot, Refused
from cadence_coach.store import chunks, copying, schema
from cadence_coach.store.dates import known_start
from cadence_coach.store.outing import Command, Note, Outing
from cadence_coach.store.own_time import with_believed

LARGEST_FILE = 2 << 30
"""Bytes: ten hours at 200 Hz with gyroscope take about 0.3 GB."""
MOST_ROWS = 40_000_000
MOST_EVENTS = 2_000_000
MOST_NOTES, MOST_TAGS = 100_000, 10_000
MOST_TEXT = 16 << 20
CHUNK_ROWS = 60_000


# ---- writing ----


def prepare(db: sqlite3.Connection) -> None:
    """Makes the tables of schema 1 in an empty database."""
    db.execute(f"PRAGMA application_id = {schema.APPLICATION_ID}")
    db.execute(f"PRAGMA user_version = {schema.SCHEMA}")
    for sql in schema.TABLES:
        db.execute(sql)


def put_meta(db: sqlite3.Connection, values: dict[str, Any]) -> None:
    db.executemany("INSERT OR REPLACE INTO meta VALUES (?, ?)", [(k, json.dumps(v)) for k, v in values.items()])


_PUT_CHUNK = "INSERT INTO chunks (rows, start_s, end_s, codec, data) VALUES (?, ?, ?, ?, ?)"


def put_chunk(db: sqlite3.Connection, rows: chunks.Rows) -> None:
    db.execute(_PUT_CHUNK, (len(rows), *rows.span(), chunks.CODEC, chunks.pack(rows)))


def put_plain(db: sqlite3.Connection, rows: list[ev.Row]) -> tuple[bytes, bytes, bytes, bytes]:
    """The rows of a second, for the time being: gives back their columns."""
    columns = chunks.columns(rows)
    db.execute(_PUT_CHUNK, (len(rows), *chunks.span_of(rows), chunks.PLAIN_CODEC, b"".join(columns)))
    return columns


def put_events(db: sqlite3.Connection, events: list[ev.Event]) -> None:
    """Adds those events that have a table; a believed speed is kept as a mark on its fix."""
    for event in events:
        if (sql := schema.INSERT.get(type(event))) is not None:
            db.execute(sql, schema.to_row(event))
        elif isinstance(event, ev.SpeedFix):
            db.execute("INSERT INTO speeds VALUES (?, ?)", (event.time, event.known))


def put_commands(db: sqlite3.Connection, commands: list[Command]) -> None:
    sql = "INSERT INTO commands (after_rows, t_s, name, given) VALUES (?, ?, ?, ?)"
    db.executemany(sql, [(c.after_rows, c.time, c.name, json.dumps(c.given)) for c in commands])


def put_note(db: sqlite3.Connection, note: Note) -> None:
    db.execute("INSERT OR REPLACE INTO notes VALUES (?, ?, ?, ?, ?)", attrs.astuple(note))


def put_tag(db: sqlite3.Connection, name: str, value: str) -> None:
    db.execute("INSERT OR REPLACE INTO tags VALUES (?, ?)", (name, value))


def save_outing(outing: Outing, path: str | Path) -> Path:
    """Writes a whole outing at once: a new file that takes the place of `path` only when it is complete. Raises
    CouldNot, and nothing is written, where it holds more than is ever read."""
    path = Path(path)
    samples = sum(0 if s is None else len(s) for s in (outing.accel, outing.gyro, outing.fixes))
    events = max(len(getattr(outing, name)) for name in (*schema.EVENTS, "commands"))
    if samples > MOST_ROWS or events > MOST_EVENTS or len(outing.notes) > MOST_NOTES or len(outing.tags) > MOST_TAGS:
        held = f"{samples} samples, {events} events of a kind"
        raise CouldNot(f"{path}: not written, it would hold more than any outing ({held}); cut it into shorter ones")
    fresh = path.with_name(f".{path.name}.{os.getpid()}.new")
    try:
        fresh.unlink(missing_ok=True)  # left by a process that died and had our number
        with closing(sqlite3.connect(fresh, isolation_level=None)) as db:
            db.execute("PRAGMA journal_mode = OFF")  # nobody else sees this file before it is complete
            db.execute("BEGIN")
            prepare(db)
            _put_all(db, outing)
            db.execute("COMMIT")
        if (size := fresh.stat().st_size) > LARGEST_FILE:
            raise CouldNot(f"{path}: not written, {size >> 20} MB are more than any outing; cut it into shorter ones")
        to_disk(fresh)
        os.replace(fresh, path)
        to_disk(path.parent)
    except (sqlite3.Error, OSError) as e:
        raise CouldNot(f"{path}: the outing could not be written ({e}); check the folder and the free space") from None
    finally:
        fresh.unlink(missing_ok=True)
    return path


def _put_all(db: sqlite3.Connection, outing: Outing) -> None:
    meta = {"format": schema.FORMAT, "uuid": outing.uuid, "start_utc": outing.start_utc}
    put_meta(db, {**outing.meta, **meta, "profile": outing.profile, "settings": outing.settings})
    for part in _parts(outing.raw()):
        put_chunk(db, part)
    used = outing.fixes[outing.fixes[:, 7] > 0] if len(outing.fixes) else []
    db.executemany("INSERT INTO speeds VALUES (?, ?)", [(float(f[1]), float(f[0])) for f in used])
    for field in schema.EVENTS:  # a table is named like its field
        put_events(db, getattr(outing, field))
    put_commands(db, outing.commands)
    for note in outing.notes:
        put_note(db, note)
    for name, value in outing.tags.items():
        put_tag(db, name, value)


def _parts(rows: chunks.Rows) -> Iterator[chunks.Rows]:
    done = [0, 0, 0]
    for at in range(0, len(rows), CHUNK_ROWS):
        kinds = rows.kinds[at : at + CHUNK_ROWS]
        upto = [done[k] + int(np.count_nonzero(kinds == k)) for k in range(3)]
        streams = (rows.accel, rows.gyro, rows.fixes)
        yield chunks.Rows(kinds, *(s[a:b] for s, a, b in zip(streams, done, upto, strict=True)))
        done = upto


def to_disk(path: Path) -> None:
    """Forces a file, or the names in a folder, to the disk."""
    if path.is_dir() and os.name == "nt":
        return  # a folder cannot be opened there, and renames are in the journal
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


# ---- reading ----


@contextmanager
def opened(path: str | Path, whole: bool = True) -> Iterator[sqlite3.Connection]:
    """A read-only connection to a private copy of an outing file, checked as a stranger's. With a log beside it (an
    outing that is going on, or died; a note that was cut off) the copy takes that too: the original is never repaired
    by reading."""
    path = Path(path)
    _recognised(path)
    with tempfile.TemporaryDirectory(prefix="outing-") as room:
        copy = Path(room) / "copy.outing"
        copying.copy_whole(path, copy, LARGEST_FILE)
        try:
            with closing(sqlite3.connect(copy, isolation_level=None)) as db:
                _guard(db)
                _check(db, path, whole)
                yield db
        except (sqlite3.Error, UnicodeDecodeError, OverflowError) as e:
            raise Refused(f"{path}: is damaged ({flat(e)}); use another copy of the file") from None


def _recognised(path: Path) -> None:
    """Raises Refused for what is no outing file by its head, or too large."""
    try:
        size = path.stat().st_size
        head = path.open("rb").read(72) if path.is_file() else b""
    except OSError as e:
        raise Refused(f"{path}: cannot be read ({e.strerror}); name an .outing file") from None
    ours = head.startswith(b"SQLite format 3\0") and head[68:72] == schema.APPLICATION_ID.to_bytes(4, "big")
    first_moments = size < 4096 and copying.log_of(path, "-wal")  # all of an outing is in the log then
    if not ours and not first_moments:
        raise Refused(f"{path}: is no outing file; name a file that this program wrote")
    if size > LARGEST_FILE:
        raise Refused(f"{path}: {size >> 20} MB is larger than any outing ({LARGEST_FILE >> 20} MB)")


def flat(text: object) -> str:
    """What SQLite says, in one line."""
    return " ".join(str(text).split())


def _guard(db: sqlite3.Connection) -> None:
    db.execute("PRAGMA trusted_schema = OFF")
    db.execute("PRAGMA cell_size_check = ON")
    db.execute("PRAGMA mmap_size = 0")
    for limit, value in (
        (sqlite3.SQLITE_LIMIT_LENGTH, 256 << 20),
        (sqlite3.SQLITE_LIMIT_SQL_LENGTH, 20_000),
        (sqlite3.SQLITE_LIMIT_ATTACHED, 0),
        (sqlite3.SQLITE_LIMIT_TRIGGER_DEPTH, 1),
    ):
        db.setlimit(limit, value)


def _check(db: sqlite3.Connection, path: Path, whole: bool) -> None:
    pages, page = (db.execute(f"PRAGMA {name}").fetchone()[0] for name in ("page_count", "page_size"))
    if pages * page > LARGEST_FILE:  # a log can claim what no file that was looked at had
        raise Refused(f"{path}: {pages * page >> 20} MB is larger than any outing ({LARGEST_FILE >> 20} MB)")
    version = db.execute("PRAGMA user_version").fetchone()[0]
    if db.execute("PRAGMA application_id").fetchone()[0] != schema.APPLICATION_ID:
        raise Refused(f"{path}: is no outing file; name a file that this program wrote")
    if version != schema.SCHEMA:
        from cadence_coach.store.migrate import migrate  # only old files need it

        migrate(db, version, path)
    db.execute("PRAGMA query_only = ON")
    # sqlite_autoindex_* belong to the PRIMARY KEYs and have no text
    found = {n: (t, s) for t, n, s in db.execute("SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL")}
    if found != {name: ("table", sql) for name, sql in schema.expected_schema().items()}:
        raise Refused(
            f"{path}: its tables are not those of schema {schema.SCHEMA}; it is damaged or made by another program"
        )
    if not whole:
        return
    verdict = db.execute("PRAGMA integrity_check(1)").fetchone()[0]
    if verdict != "ok":
        raise Refused(f"{path}: is damaged ({flat(verdict)}); use another copy of the file")


def _number(value: Any, where: str) -> float | None:
    if value is None:
        return None
    if type(value) not in (float, int):
        raise Refused(f"{where} holds no number; the file is damaged")
    return float(value)


def _text(value: Any, where: str) -> str:
    if not isinstance(value, str) or len(value) > MOST_TEXT:
        raise Refused(f"{where} holds no text; the file is damaged")
    return value


def _json(text: Any, where: str) -> Any:
    try:
        return json.loads(_text(text, where), parse_constant=lambda name: None)  # NaN is no JSON
    except (ValueError, RecursionError):
        raise Refused(f"{where} is no JSON; the file is damaged") from None


def _few(db: sqlite3.Connection, sql: str, most: int = MOST_EVENTS) -> Iterator[tuple[Any, ...]]:
    for count, row in enumerate(db.execute(sql)):
        if count >= most:
            raise Refused(f"more than {most} rows in a table, as no outing has; the file is damaged, use another copy")
        yield row


def read_meta(db: sqlite3.Connection) -> dict[str, Any]:
    found = {_text(k, "meta"): _json(v, f"meta {k}") for k, v in _few(db, "SELECT key, value FROM meta", 1000)}
    return known_start(found)


def read_raw(db: sqlite3.Connection) -> chunks.Rows:
    parts, total = [], 0
    for number, codec, rows, data in _few(db, "SELECT id, codec, rows, data FROM chunks ORDER BY id"):
        if codec not in (chunks.CODEC, chunks.PLAIN_CODEC):
            raise Refused(f"chunk {number}: codec {codec!r} is not known; a newer program may read it")
        if type(rows) is not int or type(data) is not bytes or (total := total + rows) > MOST_ROWS:
            raise Refused(f"chunk {number}: is damaged or too long (at most {MOST_ROWS} rows an outing)")
        parts.append(chunks.unpack(data, rows, codec))
    return chunks.Rows.joined(parts)


def read_commands(db: sqlite3.Connection) -> list[Command]:
    out = []
    for after, t, name, given in _few(db, "SELECT after_rows, t_s, name, given FROM commands ORDER BY id"):
        values = _json(given, "commands given")
        if type(after) is not int or not isinstance(values, dict):
            raise Refused("table commands: is damaged; use another copy of the file")
        out.append(Command(after, _number(t, "commands t_s"), _text(name, "commands name"), values))
    return out


def read_notes(db: sqlite3.Connection) -> list[Note]:
    found = _few(db, "SELECT uuid, who, when_utc, at_s, text FROM notes ORDER BY rowid", MOST_NOTES)
    w = "table notes"
    return [Note(_text(u, w), _text(who, w), _text(at, w), _number(s, w), _text(t, w)) for u, who, at, s, t in found]


def read_events(db: sqlite3.Connection, table: str) -> list[Any]:
    return [schema.from_row(table, row) for row in _few(db, schema.SELECT[table])]


def load_outing(path: str | Path) -> Outing:
    """Reads an outing file, whoever made it. Raises Refused with one line when it is none, or damaged."""
    with opened(path) as db:
        meta = read_meta(db)
        raw = read_raw(db)
        uuid, start = meta.pop("uuid", None), meta.pop("start_utc", None)
        profile, settings = meta.pop("profile", None), meta.pop("settings", None) or {}
        if not isinstance(uuid, str) or not isinstance(start, str | None):
            raise Refused(f"{path}: has no uuid or a broken start; the file is damaged")
        if not isinstance(profile, dict | None) or not isinstance(settings, dict):
            raise Refused(f"{path}: profile or settings are broken; the file is damaged")
        speeds = (_number(s, "speeds") for (s,) in _few(db, "SELECT fixed_s FROM speeds"))
        used = {s for s in speeds if s is not None}
        found = _few(db, "SELECT name, value FROM tags ORDER BY rowid", MOST_TAGS)
        outing = Outing(
            uuid=uuid,
            start_utc=start,
            meta=meta,
            profile=profile,
            settings=settings,
            accel=raw.accel,
            gyro=raw.gyro if len(raw.gyro) else None,
            fixes=np.column_stack([raw.fixes, np.zeros(len(raw.fixes))]),
            **{table: read_events(db, table) for table in schema.EVENTS},
            notes=read_notes(db),
            tags={_text(k, "tags"): _text(v, "tags") for k, v in found},
            kinds=raw.kinds,
            commands=read_commands(db),
        )
        return with_believed(outing, used)


def peek(path: str | Path) -> dict[str, Any]:
    """What a file says of itself (uuid, start_utc, profile, ...), for looking through a folder: nothing is copied,
    which for 200 outings would be a gigabyte. Raises Refused."""
    path = Path(path)
    _recognised(path)
    if any(path.with_name(path.name + end).exists() for end in ("-wal", "-journal")):
        with opened(path, whole=False) as db:
            return read_meta(db)
    try:
        where = f"{path.resolve().as_uri()}?mode=ro&immutable=1"  # immutable: no lock, and no file made beside it
        with closing(sqlite3.connect(where, uri=True, isolation_level=None)) as db:
            _guard(db)
            if db.execute("PRAGMA user_version").fetchone()[0] == schema.SCHEMA:
                _check(db, path, whole=False)
                return read_meta(db)
    except (sqlite3.Error, UnicodeDecodeError, OverflowError) as e:
        raise Refused(f"{path}: is damaged ({flat(e)}); use another copy of the file") from None
    with opened(path, whole=False) as db:  # of an older schema: brought up to date in a copy
        return read_meta(db)
