"""Writes an outing while it goes on: rows, events and commands come from the engine's thread, one thread commits them.

While live the file has a write-ahead log that is never moved into the file by itself (wal_autocheckpoint=0) and is
forced to the disk at each commit (synchronous=FULL), so that a kill or a power cut loses what came after the last
commit and nothing else. Rows and the events they led to are in one transaction: a file never holds an event without its
samples, but for those that had to go for want of room. When that began, and when it was over, is `thinned` in the meta
data: times [s] with "all", "half" or "none", in the transaction that they hold for.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import threading
import time
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path
from typing import Any

from cadence_coach.core import events as ev
from cadence_coach.errors import CouldNot
from cadence_coach.store import chunks, schema
from cadence_coach.store import outing_file as of
from cadence_coach.store.outing import Command

COMMIT_EVERY = 0.75
"""Seconds of sensor time, or of real time, between commits: with the commit itself under 1 s is lost."""
MERGE_ROWS = 6_000
"""Small chunks become one of this many rows (a minute at 100 Hz), packed within 2 % of any longer. What they took is
free for the next ones and stays in a short file."""
PAGE = 1024
"""Bytes. A commit touches about six pages however small its rows are: small pages keep the log small."""
LONGEST_WAL = 256 << 20
"""Bytes of log after which it is moved into the file in between (after many hours)."""
LOOK_AT_DISK_EVERY = 5.0
DISK_LOW = 50 << 20
"""Free bytes under which raw data are thinned: rotation goes, and every second acceleration row."""
DISK_FULL = 10 << 20
"""Free bytes under which only events are kept, so that the outing can still be closed."""
MOST_WAITING = 200_000
"""Rows kept in memory while the disk takes none; then the oldest go."""

RUNNING = "running"


class OutingWriter:
    """One outing file in the making.

    path: a new file. meta: uuid, start_utc, versions, band and what else is known at the start. Raises CouldNot when
    the file cannot be made. `committed_s` is the sensor time up to which everything is on the disk [s]; `trouble` says
    what is wrong with the disk, None when nothing is; `free_bytes` is its free space.
    """

    def __init__(
        self,
        path: Path,
        meta: dict[str, Any],
        profile: dict[str, Any] | None,
        settings: dict[str, Any],
        tags: dict[str, str] | None = None,
    ) -> None:
        self.path = path
        self._stuck: str | None = None  # the last commit was not taken
        self._blind: str | None = None  # the disk could not be looked at
        self.free_bytes = shutil.disk_usage(path.parent).free if path.parent.is_dir() else 0
        self.thinned: list[tuple[float, str]] = []
        self._noted = 0
        self.untouched = True
        """Nothing has been put, and it was not closed."""
        _create(
            path,
            {**meta, "format": schema.FORMAT, "ended": RUNNING, "profile": profile, "settings": settings},
            tags or {},
        )
        self._changed = threading.Condition()
        self._rows: list[ev.Row] = []
        self._events: list[ev.Event] = []
        self._commands: list[Command] = []
        self._put_s = self.committed_s = 0.0
        self._first_put = 0.0
        self._closing = self._hurry = self._committing = False
        self._ending: dict[str, Any] = {"ended": "error"}
        self._small: list[tuple[bytes, bytes, bytes, bytes]] = []
        self._small_rows = 0
        self._small_from = 0
        self._odd = 0
        self._looked = -LOOK_AT_DISK_EVERY
        self._retry_at = 0.0
        self._error: BaseException | None = None
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._run, name="store", daemon=True)
        self._thread.start()

    @property
    def trouble(self) -> str | None:
        return self._stuck or self._blind

    # ---- from the engine's thread ----

    def put(self, rows: Sequence[ev.Row], events: Sequence[ev.Event], commands: Sequence[Command] = ()) -> None:
        """Takes over what the engine received and said, as long as somebody writes it. Never waits."""
        if not (rows or events or commands) or self._error is not None:
            return  # nobody would ever take it out of the memory again
        self.untouched = False
        with self._changed:
            if not (self._rows or self._events or self._commands):
                self._first_put = time.monotonic()
            self._rows.extend(rows)
            self._events.extend(events)
            self._commands.extend(commands)
            for row in reversed(rows):
                if row[1] == row[1]:
                    self._put_s = max(self._put_s, row[1])
                    break
            if self._put_s - self.committed_s >= COMMIT_EVERY:
                self._changed.notify_all()

    def wait(self) -> None:
        """Waits until less than COMMIT_EVERY of sensor time is uncommitted: for a source faster than real time."""
        if self._put_s - self.committed_s < COMMIT_EVERY:
            return
        with self._changed:
            while self._put_s - self.committed_s >= COMMIT_EVERY and self._thread.is_alive() and self._stuck is None:
                self._changed.wait(1.0)

    def flush(self, timeout: float = 5.0) -> bool:
        """Waits until everything put so far is on the disk; False when that took too long."""
        until = time.monotonic() + timeout
        with self._changed:
            self._hurry = True
            self._changed.notify_all()
            while (self._waiting() or self._committing) and self._thread.is_alive():
                left = until - time.monotonic()
                if left <= 0:
                    return False
                self._changed.wait(left)
        return self._stuck is None

    def close(self, ended: str, meta: dict[str, Any] | None = None, timeout: float = 60.0) -> str | None:
        """Commits the rest and makes it one file again. What could not be done, in one line, or None."""
        self.untouched = False
        with self._changed:
            self._ending = {"ended": ended, **(meta or {})}
            self._closing = True
            self._changed.notify_all()
        self._over.wait(timeout)  # not Thread.join: see Live.join
        if self._error is not None:
            raise self._error
        return self._stuck

    # ---- the store's own thread ----

    def _run(self) -> None:
        try:
            with closing(_connect(self.path)) as db:
                while not self._closing or self._waiting():
                    self._await_work()
                    self._look_at_disk(db)
                    self._commit(db)
                    if self._stuck is not None and self._closing:
                        break
                self._finish(db)
                self._blind = None  # nothing is to come that would need room
        except BaseException as e:  # the engine must go on without a store, and close() says why
            self._error = e
            self._stuck = f"the outing is no longer written ({e})"
            with self._changed:
                self._rows, self._events, self._commands, self._committing = [], [], [], False
                self._changed.notify_all()
        finally:
            self._over.set()

    def _waiting(self) -> bool:
        return bool(self._rows or self._events or self._commands)

    def _await_work(self) -> None:
        with self._changed:
            while not self._closing:
                now = time.monotonic()
                if self._waiting() and now >= self._retry_at:
                    due = self._first_put + COMMIT_EVERY - now
                    if self._hurry or self._put_s - self.committed_s >= COMMIT_EVERY or due <= 0:
                        return
                    self._changed.wait(due)
                else:
                    self._changed.wait(LOOK_AT_DISK_EVERY if not self._waiting() else max(0.05, self._retry_at - now))
                    if time.monotonic() - self._looked >= LOOK_AT_DISK_EVERY:
                        return

    def _look_at_disk(self, db: sqlite3.Connection) -> None:
        now = time.monotonic()
        if now - self._looked < LOOK_AT_DISK_EVERY:
            return
        self._looked = now
        wal = self.path.with_name(self.path.name + "-wal")
        try:
            before, self.free_bytes = self.free_bytes, shutil.disk_usage(self.path.parent).free
            long = wal.exists() and wal.stat().st_size > LONGEST_WAL
        except OSError as e:  # what is being written is still taken, or the commit says why not
            self._blind = f"the free space on the disk is not known ({e.strerror or e})"
            return
        self._blind = None
        if (self.free_bytes < DISK_LOW <= before) or long:
            self._try_checkpoint(db)  # while there is still room for a second copy of the log

    def _try_checkpoint(self, db: sqlite3.Connection) -> None:
        try:
            db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
        except sqlite3.Error as e:
            self._stuck = f"the disk takes no more ({e})"

    def _commit(self, db: sqlite3.Connection) -> None:
        with self._changed:
            rows, events, commands, put_s = self._rows, self._events, self._commands, self._put_s
            self._rows, self._events, self._commands = [], [], []
            self._first_put = time.monotonic()
            self._hurry, self._committing = False, True
        if rows or events or commands:
            small, thinned = (self._small.copy(), self._small_rows, self._small_from), self.thinned.copy()
            try:
                db.execute("BEGIN IMMEDIATE")
                self._write(db, rows, events, commands)
                db.execute("COMMIT")
                self._stuck, self._noted = None, len(self.thinned)
            except sqlite3.Error as e:
                if db.in_transaction:
                    db.execute("ROLLBACK")
                (self._small, self._small_rows, self._small_from), self.thinned = small, thinned
                self._stuck = f"the disk takes no more ({e})"
                self._retry_at = time.monotonic() + 2.0
                with self._changed:  # back in front of what has come since
                    self._rows = self._bearable(rows + self._rows)
                    self._events[:0] = events
                    self._commands[:0] = commands
                    self._committing = False
                    self._changed.notify_all()
                return
        with self._changed:
            self.committed_s, self._committing = put_s, False
            self._changed.notify_all()

    def _write(
        self, db: sqlite3.Connection, rows: list[ev.Row], events: list[ev.Event], commands: list[Command]
    ) -> None:
        if rows := self._kept(rows):
            self._small.append(of.put_plain(db, rows))
            self._small_rows += len(rows)
            if self._small_rows >= MERGE_ROWS:
                self._merge(db)
        if len(self.thinned) > self._noted:
            of.put_meta(db, {"thinned": self.thinned})
        of.put_events(db, events)
        of.put_commands(db, commands)

    def _merge(self, db: sqlite3.Connection) -> None:
        db.execute("DELETE FROM chunks WHERE id > ?", (self._small_from,))
        of.put_chunk(db, chunks.of_columns(*(b"".join(column) for column in zip(*self._small, strict=True))))
        self._small_from = db.execute("SELECT max(id) FROM chunks").fetchone()[0]
        self._small, self._small_rows = [], 0

    def _bearable(self, rows: list[ev.Row]) -> list[ev.Row]:
        """Those of the rows that wait for the disk which the memory may hold, and a note of when others went."""
        kept = rows[-MOST_WAITING:] if self.free_bytes >= DISK_FULL else []
        if len(kept) < len(rows):
            self._note(rows[0][1], "none")
        return kept

    def _note(self, since: float, how: str) -> None:
        if how != (self.thinned[-1][1] if self.thinned else "all"):
            self.thinned.append((since, how))

    def _kept(self, rows: list[ev.Row]) -> list[ev.Row]:
        """All rows while there is room; else what design allows to go, and a note of when that began."""
        how = "none" if self.free_bytes < DISK_FULL else "half" if self.free_bytes < DISK_LOW else "all"
        if rows:
            self._note(rows[0][1], how)
        if how == "all":
            return rows
        kept = []
        for row in rows if how == "half" else ():
            if row[0] == ev.ACCEL:
                self._odd ^= 1
            if row[0] == ev.FIX or (row[0] == ev.ACCEL and self._odd):
                kept.append(row)
        return kept

    def _finish(self, db: sqlite3.Connection) -> None:
        try:
            db.execute("BEGIN IMMEDIATE")
            if self._small:
                self._merge(db)
            if self._rows:  # the last commit was not taken, and there is no time for another
                self._note(self._rows[0][1], "none")
            of.put_meta(db, {**self._ending, **({"thinned": self.thinned} if self.thinned else {})})
            db.execute("COMMIT")
            one_file(db)
        except sqlite3.Error as e:
            if db.in_transaction:
                db.execute("ROLLBACK")
            self._stuck = f"{self.path.name} could not be closed ({e}); it will be when there is room on the disk"


def one_file(db: sqlite3.Connection) -> None:
    """Moves the log into the file and takes it out of write-ahead mode."""
    db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
    mode = db.execute("PRAGMA journal_mode = DELETE").fetchone()[0]
    if mode != "delete":
        raise sqlite3.OperationalError("another program has the file open")


def _connect(path: Path) -> sqlite3.Connection:
    db = sqlite3.connect(path, isolation_level=None, timeout=10.0, check_same_thread=False)
    db.execute("PRAGMA wal_autocheckpoint = 0")
    db.execute("PRAGMA synchronous = FULL")
    db.execute("PRAGMA secure_delete = OFF")  # zeros over chunks that are there again as one: twice the log for nothing
    return db


def _create(path: Path, meta: dict[str, Any], tags: dict[str, str]) -> None:
    """A complete empty outing under its name at once, so that there is no moment at which a kill leaves half a file."""
    fresh = path.with_name(f".{path.name}.{os.getpid()}.new")
    try:
        if path.exists():
            raise CouldNot(f"{path}: is there already; an outing is never written over")
        with closing(sqlite3.connect(fresh, isolation_level=None)) as db:
            db.execute(f"PRAGMA page_size = {PAGE}")
            db.execute("PRAGMA journal_mode = WAL")
            db.execute("BEGIN")
            of.prepare(db)
            of.put_meta(db, meta)
            for name, value in tags.items():
                of.put_tag(db, name, value)
            db.execute("COMMIT")
        of.to_disk(fresh)
        os.rename(fresh, path)
        of.to_disk(path.parent)
    except (sqlite3.Error, OSError) as e:
        raise CouldNot(f"{path}: the outing cannot be written ({e}); check write rights and free space") from None
    finally:
        fresh.unlink(missing_ok=True)
