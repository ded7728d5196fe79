"""A disk that cannot be looked at, takes nothing for a while or is nearly full: what that costs, and where it is
noted."""

from __future__ import annotations

import errno
import shutil
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from cadence_coach.core import events as ev
from cadence_coach.store import writer as w
from cadence_coach.store.outing_file import load_outing
from tests.store import made
from tests.store.test_writer import writer


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
