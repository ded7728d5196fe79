"""Outings whose program died: made whole again, with the figures that the same samples give in a replay."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from itertools import islice
from pathlib import Path
from typing import Any, Protocol

from cadence_coach.core import events as ev
from cadence_coach.errors import CouldNot, Refused
from cadence_coach.store import copying, schema
from cadence_coach.store import outing_file as of
from cadence_coach.store.outing import Note, Outing
from cadence_coach.store.writer import RUNNING, one_file

AT_ONCE = 2000


class Engine(Protocol):
    """What of core.engine.Engine is needed here."""

    def receive(self, rows: Sequence[ev.Row]) -> None: ...
    def command(self, name: str, **values: Any) -> None: ...
    def advance(self, now: float) -> None: ...
    def end(self) -> None: ...
    def events(self) -> list[ev.Event]: ...


def rerun(outing: Outing, engine: Engine) -> Iterator[ev.Event]:
    """The events that the outing's raw rows and commands lead to in a fresh engine, in order. Refused for a command
    that no engine could have been given."""
    rows = outing.rows()
    done = 0
    for command in outing.commands:
        yield from _received(engine, islice(rows, max(0, command.after_rows - done)))
        done = max(done, command.after_rows)
        try:
            tell(engine, command.name, command.given)
        except (ValueError, TypeError, KeyError, OverflowError) as e:
            raise Refused(f"the command {command.name} in this outing file cannot be ({e}); it is damaged") from None
        yield from engine.events()
    yield from _received(engine, rows)
    engine.end()
    yield from engine.events()


def tell(engine: Engine, name: str, given: dict[str, Any]) -> None:
    """One command. `advance` is the passing of time that a live engine was told of when no row came."""
    if name == "advance":
        engine.advance(given["now"])
    else:
        engine.command(name, **given)


def _received(engine: Engine, rows: Iterable[ev.Row]) -> Iterator[ev.Event]:
    rows = iter(rows)
    while part := list(islice(rows, AT_ONCE)):
        engine.receive(part)
        yield from engine.events()


def died(path: Path) -> bool:
    """Whether the file was left in write-ahead mode, or with pages to be put back: it is being written, or its program
    died."""
    if copying.log_of(path, "-journal") is not None:
        return True
    try:
        with path.open("rb") as file:
            head = file.read(20)
    except OSError:
        return False
    return len(head) == 20 and head.startswith(b"SQLite format 3\0") and head[18] == 2


def rescue(path: Path, engine_for: Callable[[Outing], Engine] | None = None) -> Outing:
    """Repairs one outing whose program died, and closes what was open by replaying its samples.

    What the file holds already is kept when the replay says something else (other versions, thinned samples): then
    only the file is repaired. The folder's lock must be held: a running outing must not be touched.
    """
    with _edited(path) as db:
        verdict = db.execute("PRAGMA integrity_check(1)").fetchone()[0]
        if verdict != "ok":
            raise CouldNot(f"{path}: is damaged beyond its log ({of.flat(verdict)}); use another copy of the file")
        one_file(db)
    outing = of.load_outing(path)
    if outing.meta.get("ended") != RUNNING:
        return outing
    more = _missing(outing, engine_for(outing)) if engine_for and not outing.meta.get("thinned") else None
    with _edited(path) as db:
        db.execute("BEGIN IMMEDIATE")
        of.put_events(db, more or [])
        of.put_meta(db, {"ended": "rescued", "rescued_whole": more is not None})
        db.execute("COMMIT")
    return of.load_outing(path)


def _missing(outing: Outing, engine: Engine) -> list[ev.Event] | None:
    """What a replay says beyond what is stored; None when it contradicts it."""
    stored = {table: [schema.to_row(e) for e in getattr(outing, table)] for table in schema.EVENTS}
    seen = dict.fromkeys(stored, 0)
    more: list[ev.Event] = []
    used = {float(f[1]) for f in outing.fixes if f[7]}
    for event in rerun(outing, engine):
        table = schema.TABLE_OF.get(type(event))
        if isinstance(event, ev.SpeedFix):
            if event.time not in used:
                more.append(event)
        elif table is not None:
            at = seen[table]
            if at >= len(stored[table]):
                more.append(event)
            elif repr(stored[table][at]) != repr(schema.to_row(event)):  # repr: NaN equals NaN
                return None
            seen[table] = at + 1
    return more if all(seen[t] >= len(stored[t]) for t in stored) else None


def rescue_folder(
    folder: Path, engine_for: Callable[[Outing], Engine] | None = None, most_bytes: int | None = None
) -> list[tuple[Path, str | None]]:
    """Every outing there whose program died: (file, None or why it could not be repaired). Its lock must be held.

    With `most_bytes` longer ones are left as they are, to be read all the same and made whole later: a coach that comes
    back in the middle of a ride has no minute to spare for replaying the hour before.
    """
    done: list[tuple[Path, str | None]] = []
    for left in folder.glob(".*.outing.*.new*"):  # never got its name: nothing was recorded in it
        if not _being_written(left):
            left.unlink(missing_ok=True)
    for path in sorted(folder.glob("*.outing")):
        if died(path) and (most_bytes is None or _bytes(path) <= most_bytes):
            try:
                rescue(path, engine_for)
                done.append((path, None))
            except (CouldNot, Refused, ValueError) as e:
                done.append((path, str(e)))
    return done


def _being_written(fresh: Path) -> bool:
    """Whether the process in the name of a new file still runs: an import asks for no lock."""
    number = fresh.name.rpartition(".new")[0].rpartition(".")[2]
    if not number.isdecimal():
        return False
    try:
        if os.name != "nt":  # there it would be ctrl-C to that process
            os.kill(int(number), 0)
            return True
        fresh.unlink(missing_ok=True)  # refused as long as somebody has it open
    except (ProcessLookupError, OverflowError):  # the latter: more than any process number
        return False
    except PermissionError:
        return True
    return False


def _bytes(path: Path) -> int:
    log = path.with_name(path.name + "-wal")
    return path.stat().st_size + (log.stat().st_size if log.exists() else 0)


@contextmanager
def _edited(path: Path) -> Iterator[sqlite3.Connection]:
    """The file itself; a change that was cut off is taken back by SQLite before anything else happens."""
    copying.own_journal(path)
    try:
        with closing(sqlite3.connect(path, isolation_level=None, timeout=10.0)) as db:
            db.execute("PRAGMA synchronous = FULL")
            yield db
    except UnicodeEncodeError as e:  # half a character, as a terminal or JSON may hand it over
        raise Refused(f"{path}: not changed, what was to be kept is no text ({of.flat(e)}); write it again") from None
    except (sqlite3.Error, UnicodeDecodeError) as e:  # the latter from a table's name that is no text
        why = of.flat(e)
        raise CouldNot(f"{path}: cannot be changed ({why}); check write rights, free space, the file") from None


def roll_back(path: Path) -> None:
    """Takes back a change whose program was killed half-way. Its log would be taken for that of any file that later
    gets this name."""
    if path.with_name(path.name + "-journal").exists():
        with _edited(path) as db:
            db.execute("BEGIN IMMEDIATE")
            db.execute("ROLLBACK")


def add_note(path: Path, note: Note) -> None:
    """Adds a note to an outing file of this machine, or replaces the one with the same uuid."""
    keep_said(path, [note], {})


def set_tag(path: Path, name: str, value: str) -> None:
    """Sets a tag of an outing file of this machine (kit, foot_forward, ...)."""
    keep_said(path, [], {name: value})


def keep_said(path: Path, notes: Iterable[Note], tags: Mapping[str, str]) -> None:
    """Notes and tags, all of them or none."""
    with of.opened(path):  # refuses what is none of ours before anything is written
        pass
    with _edited(path) as db:
        db.execute("BEGIN IMMEDIATE")
        for note in notes:
            of.put_note(db, note)
        for name, value in tags.items():
            of.put_tag(db, name, value)
        db.execute("COMMIT")
