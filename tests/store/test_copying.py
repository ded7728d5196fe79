"""An outing file is read from a copy of one moment, whatever others do to it meanwhile or were doing when they died."""

from __future__ import annotations

import os
import shutil
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing, suppress
from pathlib import Path

import pytest

from cadence_coach.errors import CouldNot, Refused
from cadence_coach.store import outing_file, rescue
from cadence_coach.store.outing import Note
from cadence_coach.store.outing_file import load_outing
from tests.store import made
from tests.store.test_outing_file import as_plain
from tests.store.test_writer import writer

CUT_OFF = """
import os, signal, sqlite3, sys
db = sqlite3.connect(sys.argv[1], isolation_level=None)
db.execute("PRAGMA cache_size = 1")  # so that pages go into the file before the change is complete
db.execute("BEGIN IMMEDIATE")
db.execute("DELETE FROM notes")
db.execute("INSERT INTO notes VALUES ('x', 'y', 'z', NULL, ?)", ("q" * 60_000,))
os.kill(os.getpid(), signal.SIGKILL)
"""


def note(n: int, words: str = "windy ") -> Note:
    return Note(f"n{n}", "Invented Ina", "2026-05-01T10:00:00Z", None, words * 200)


def put(path: Path, what: Note) -> None:
    """As another program does it: `rescue.add_note` less its look at the file, which would copy it too."""
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        outing_file.put_note(db, what)


def closed(path: Path, notes: int = 40) -> Path:
    """An outing with notes that fill pages of their own."""
    out = writer(path)
    out.put(made.rows(2000), [])
    out.close("stopped")
    for n in range(notes):
        rescue.add_note(path, note(n))
    return path


@pytest.fixture
def cut_off(tmp_path: Path) -> tuple[Path, dict[str, str]]:
    """An outing whose change was killed between two page writes, and what it held before."""
    path = closed(tmp_path / "a.outing")
    before = as_plain(load_outing(path))
    whole = path.read_bytes()
    assert subprocess.run([sys.executable, "-c", CUT_OFF, str(path)]).returncode == -signal.SIGKILL
    assert path.read_bytes() != whole and path.with_name("a.outing-journal").stat().st_size > 512
    return path, before


def test_a_change_that_was_cut_off_is_taken_back_in_the_copy(cut_off: tuple[Path, dict[str, str]]) -> None:
    path, before = cut_off
    files = {p.name: p.read_bytes() for p in path.parent.iterdir()}
    assert as_plain(load_outing(path)) == before
    assert {p.name: p.read_bytes() for p in path.parent.iterdir()} == files, "reading repairs nothing"


@pytest.mark.parametrize("how", ["a tag", "a note", "the rescue"])
def test_a_change_that_was_cut_off_is_taken_back_for_good(cut_off: tuple[Path, dict[str, str]], how: str) -> None:
    path, before = cut_off
    if how == "a tag":
        rescue.set_tag(path, "kit", "small wing")
        before["tags"] = "{'kit': 'small wing'}"
    elif how == "a note":
        rescue.add_note(path, note(0))
    else:
        assert rescue.died(path) and rescue.rescue_folder(path.parent) == [(path, None)]
    assert [p.name for p in path.parent.iterdir()] == ["a.outing"] and not rescue.died(path)
    after = as_plain(load_outing(path))
    if how == "a note":  # written anew, so it is the last one now
        assert sorted(n.uuid for n in load_outing(path).notes) == sorted(f"n{n}" for n in range(40))
        before["notes"] = after["notes"]
    assert after == before


def names_another(path: Path, other: Path) -> None:
    """Adds to a journal that `other` stands for a change of several files (SQLite's file format, section 3)."""
    name = bytes(other)
    end = len(name).to_bytes(4, "big") + (sum(name) & 0xFFFFFFFF).to_bytes(4, "big")
    with path.with_name(path.name + "-journal").open("ab") as file:
        file.write(bytes(4) + name + end + bytes.fromhex("d9d505f920a163d7"))


@pytest.mark.parametrize(
    "do",
    [load_outing, lambda path: rescue.set_tag(path, "kit", "x"), rescue.rescue],
    ids=["read", "tag", "rescue"],
)
def test_a_strangers_journal_takes_no_other_file_away(
    cut_off: tuple[Path, dict[str, str]], tmp_path: Path, do: Callable[[Path], object]
) -> None:
    """Rolling back, SQLite deletes the file that a journal names as the one above it."""
    path, _ = cut_off
    other = tmp_path / "somebody's.txt"
    other.write_text("is theirs")
    names_another(path, other)
    with pytest.raises(Refused, match="names another file"):
        do(path)
    assert other.read_text() == "is theirs"


def test_sqlite_itself_would_take_it_away(cut_off: tuple[Path, dict[str, str]], tmp_path: Path) -> None:
    """So the test above tests something."""
    path, _ = cut_off
    other = tmp_path / "somebody's.txt"
    other.write_text("is theirs")
    names_another(path, other)
    with closing(sqlite3.connect(path)) as db, suppress(sqlite3.Error):
        db.execute("SELECT count(*) FROM notes").fetchone()
    assert not other.exists()


def in_the_middle(monkeypatch: pytest.MonkeyPatch, path: Path, do: Callable[[], None], times: int = 1) -> list[str]:
    """Copying `path` takes its time: `do` happens when half of it was read. What was copied, in order."""
    usual, copied = shutil.copyfile, []

    def slow(source: Path, to: Path) -> None:
        copied.append(Path(source).name)
        if Path(source) != path or copied.count(path.name) > times:
            usual(source, to)
            return
        with open(source, "rb") as old, open(to, "wb") as new:
            new.write(old.read(os.path.getsize(source) // 2))
            do()
            new.write(old.read())

    monkeypatch.setattr(shutil, "copyfile", slow)
    return copied


def test_a_note_written_while_the_file_is_copied(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = closed(tmp_path / "a.outing")

    def write() -> None:
        for n in range(40):
            put(path, note(n, "a lull, then gusts "))

    copied = in_the_middle(monkeypatch, path, write)
    outing = load_outing(path)
    assert sorted(n.uuid for n in outing.notes) == sorted(f"n{n}" for n in range(40))
    assert {n.text for n in outing.notes} == {"a lull, then gusts " * 200}, "of one moment"
    assert copied == ["a.outing", "a.outing"]


def test_an_outing_that_is_closed_while_it_is_copied(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rows = made.rows(2000)
    path = tmp_path / "a.outing"
    out = writer(path)
    out.put(rows, [])
    assert out.flush()
    in_the_middle(monkeypatch, path, lambda: out.close("stopped"))
    outing = load_outing(path)
    assert outing.meta["ended"] == "stopped" and repr(list(outing.rows())) == repr(rows)


@pytest.mark.parametrize("where, name", [(Path, "open"), (shutil, "copyfile")], ids=["opened", "copied"])
def test_a_log_that_is_put_away_before_it_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, where: object, name: str
) -> None:
    """It was there, then the outing was closed."""
    rows = made.rows(2000)
    path, log = tmp_path / "a.outing", tmp_path / "a.outing-wal"
    out = writer(path)
    out.put(rows, [])
    assert out.flush()
    usual = getattr(where, name)

    def late(what: Path, *given: object) -> object:
        if Path(what) == log and log.exists():
            out.close("stopped")
            assert not log.exists()
        return usual(what, *given)

    monkeypatch.setattr(where, name, late)
    outing = load_outing(path)
    assert outing.meta["ended"] == "stopped" and repr(list(outing.rows())) == repr(rows)


def test_a_file_that_never_stays_still_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = closed(tmp_path / "a.outing", notes=1)
    monkeypatch.setattr("cadence_coach.store.copying.LONGEST_PAUSE_S", 0.0)
    in_the_middle(monkeypatch, path, lambda: put(path, note(0)), times=1000)
    with pytest.raises(CouldNot, match="is being written all the time"):
        load_outing(path)
