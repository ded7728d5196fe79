"""A disk that cannot be looked at, takes nothing for a while or is nearly full: what that costs, and where it is
noted."""

from __future__ import annotations

import errno
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest

from cadence_coach.core import events as ev
from cadence_coach.core.engine import Engine
from cadence_coach.store import writer as w
from cadence_coach.store.outing_file import load_outing
from cadence_coach.store.rescue import rescue
from tests.store import made
from tests.store.test_writer import cycle, writer


def soon(there: Callable[[], bool], seconds: float = 60.0) -> None:
    until = time.monotonic() + seconds
    while not there():
        assert time.monotonic() < until
        time.sleep(0.01)


def lost(path: object) -> None:
    raise OSError(errno.EIO, "Input/output error")


def test_a_disk_that_cannot_be_looked_at_for_a_while_ends_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rows = made.rows(1500)
    monkeypatch.setattr(w, "LOOK_AT_DISK_EVERY", 0.02)
    out = writer(tmp_path / "a.outing")
    free = out.free_bytes
    with monkeypatch.context() as away:
        away.setattr(shutil, "disk_usage", lost)
        soon(lambda: out.trouble is not None)
        out.put(rows[:1000], [])
        assert out.flush(60.0), "what comes is taken all the same"
        assert out.trouble == "the free space on the disk is not known (Input/output error)"
        assert out.free_bytes == free
    soon(lambda: out.trouble is None)
    out.put(rows[1000:], [])
    assert out.close("stopped") is None
    assert repr(list(load_outing(tmp_path / "a.outing").rows())) == repr(rows)


def test_closed_while_the_disk_cannot_be_looked_at(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(w, "LOOK_AT_DISK_EVERY", 0.02)
    out = writer(tmp_path / "a.outing")
    monkeypatch.setattr(shutil, "disk_usage", lost)
    soon(lambda: out.trouble is not None)
    out.put(made.rows(500), [])
    assert out.close("stopped") is None and out.trouble is None, "all of it is in the file"
    assert load_outing(tmp_path / "a.outing").meta["ended"] == "stopped"


def test_nothing_is_collected_for_a_store_that_has_ended(tmp_path: Path) -> None:
    out = writer(tmp_path / "a.outing")
    out.put([(ev.ACCEL, 1.0, "up", 0.0, 9.8)], [])
    assert not out.flush(60.0)
    for _ in range(10):
        out.put(made.rows(500), [ev.Gap(7.0, 7.5, 7.5)])
    assert not out._waiting()


KILLED = """
import os, signal, sys
from pathlib import Path
from cadence_coach.store import writer as w
from tests.store import made
from tests.store.test_writer import writer
out = writer(Path(sys.argv[1]))
rows = made.rows(1000, gyro=False)
out.put(rows[:500], [])
assert out.flush(60.0)
w.DISK_LOW = 1 << 60
out.put(rows[500:], [])
assert out.flush(60.0)
os.kill(os.getpid(), signal.SIGKILL)
"""


def test_a_killed_outing_says_from_when_on_it_was_thinned(tmp_path: Path) -> None:
    """Else the rescue would take what is left for all there was, and let a fresh engine judge it."""
    path = tmp_path / "a.outing"
    assert subprocess.run([sys.executable, "-c", KILLED, str(path)]).returncode == -signal.SIGKILL
    since = made.rows(1000, gyro=False)[500][1]
    assert load_outing(path).meta["thinned"] == [[since, "half"]]
    outing = rescue(path, lambda outing: Engine())
    assert outing.meta["thinned"] == [[since, "half"]] and outing.meta["rescued_whole"] is False


@pytest.fixture
def stubborn(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[w.OutingWriter, sqlite3.Connection]]:
    """A store that gives up a commit at once while another program holds the file, which `BEGIN IMMEDIATE` does."""
    usual = w._connect

    def connect(path: Path) -> sqlite3.Connection:
        db = usual(path)
        db.execute("PRAGMA busy_timeout = 0")
        return db

    monkeypatch.setattr(w, "_connect", connect)
    out = writer(tmp_path / "a.outing")
    with closing(
        sqlite3.connect(tmp_path / "a.outing", isolation_level=None, timeout=60.0, check_same_thread=False)
    ) as other:
        yield out, other


def test_rows_that_the_memory_could_not_hold_are_noted(
    stubborn: tuple[w.OutingWriter, sqlite3.Connection], monkeypatch: pytest.MonkeyPatch
) -> None:
    out, other = stubborn
    monkeypatch.setattr(w, "MOST_WAITING", 400)
    rows = [row for row in made.rows(3000, gyro=False) if row[1] == row[1] and row[0] == ev.ACCEL]
    out.put(rows[:1000], [])
    assert out.flush(60.0)
    other.execute("BEGIN IMMEDIATE")
    out.put(rows[1000:2000], [cycle(1, 15.0)])
    soon(lambda: out.trouble is not None)
    assert not out.flush(0.0)
    soon(lambda: len(out._rows) == 400)
    other.execute("ROLLBACK")
    soon(lambda: out.trouble is None)
    out.put(rows[2000:], [])
    other.close()
    assert out.close("stopped") is None
    outing = load_outing(out.path)
    assert repr(list(outing.rows())) == repr(rows[:1000] + rows[1600:])
    assert outing.meta["thinned"] == [[rows[1000][1], "none"], [rows[1600][1], "all"]]
    assert [c.number for c in outing.cycles] == [1]


def test_a_commit_that_waits_for_the_disk_is_no_thinning(
    stubborn: tuple[w.OutingWriter, sqlite3.Connection],
) -> None:
    out, other = stubborn
    rows = made.rows(2000)
    other.execute("BEGIN IMMEDIATE")
    out.put(rows, [])
    soon(lambda: out.trouble is not None)
    other.execute("ROLLBACK")
    other.close()
    soon(lambda: out.trouble is None)
    assert out.close("stopped") is None
    outing = load_outing(out.path)
    assert repr(list(outing.rows())) == repr(rows) and "thinned" not in outing.meta


def test_rows_that_there_was_no_time_for_at_the_end_are_noted(
    stubborn: tuple[w.OutingWriter, sqlite3.Connection], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The disk takes something again right after the last commit was given up."""
    out, other = stubborn
    rows, usual = made.rows(1000), w.OutingWriter._finish
    out.put(rows[:500], [])
    assert out.flush(60.0)
    other.execute("BEGIN IMMEDIATE")
    out.put(rows[500:], [])
    soon(lambda: out.trouble is not None)

    def finish(self: w.OutingWriter, db: sqlite3.Connection) -> None:
        other.close()
        usual(self, db)

    monkeypatch.setattr(w.OutingWriter, "_finish", finish)
    assert "takes no more" in (out.close("stopped") or "")
    outing = load_outing(out.path)
    assert repr(list(outing.rows())) == repr(rows[:500])
    assert outing.meta["thinned"] == [[rows[500][1], "none"]]
