"""An outing being written survives a kill, a power cut, a full disk, a folder without rights; at most 1 s is lost."""

from __future__ import annotations

import math
import os
import random
import re
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
from contextlib import closing
from pathlib import Path

import pytest

from cadence_coach.core import events as ev
from cadence_coach.errors import CouldNot
from cadence_coach.store import rescue as rescue_
from cadence_coach.store import writer as w
from cadence_coach.store.folders import FolderLock, outings_folder
from cadence_coach.store.outing_file import load_outing
from cadence_coach.store.rescue import died, rescue, rescue_folder
from tests.store import made

LONG = bool(os.environ.get("CADENCE_COACH_LONG"))
META = {"uuid": "7a9f6f4e-0000-4000-8000-000000000002", "start_utc": None, "versions": {}}
MOST_LOST_S = 1.0
ROWS = 15_000


def writer(path: Path, **more: object) -> w.OutingWriter:
    return w.OutingWriter(path, {**META, **more}, None, {})


def cycle(n: int, t: float) -> ev.CycleDone:
    return ev.CycleDone(t, t, n, t - 0.6, t - 0.5, t - 0.3, t - 0.1, 1.7, 0.4, 0.6, 0.2)


CHILD = """
import os, sys
from pathlib import Path
from tests.store import made, test_writer as me
rows = made.rows(me.ROWS, gyro=True, seed=3)
out = me.writer(Path(sys.argv[1]))
for n in range(0, len(rows), 20):
    part = rows[n : n + 20]
    out.put(part, [me.cycle(n, n)])
    os.write(1, b"%d\\n" % (n + len(part)))
    out.wait()
"""


def start_child(path: Path) -> subprocess.Popen[bytes]:
    return subprocess.Popen([sys.executable, "-c", CHILD, str(path)], stdout=subprocess.PIPE)


def check(path: Path, rows: list[ev.Row], put: int) -> None:
    """What is in the file is the beginning of what was put, to within MOST_LOST_S of its end, with its
    events."""
    outing = load_outing(path)
    kept = list(outing.rows())
    assert repr(kept) == repr(rows[: len(kept)])
    if put:
        last = kept[-1][1] if kept else 0.0
        assert rows[put - 1][1] - last <= MOST_LOST_S
    assert [c.number for c in outing.cycles] == list(range(0, len(kept), 20))


def test_killed_at_random_moments(tmp_path):
    rows = made.rows(ROWS, gyro=True, seed=3)
    chance = random.Random(7)
    for n in range(300 if LONG else 12):
        path = tmp_path / f"{n}.outing"
        child = start_child(path)
        assert child.stdout is not None
        first = child.stdout.readline()
        time.sleep(chance.uniform(0, 0.3))
        child.send_signal(signal.SIGKILL)
        put = int((first + child.stdout.read()).split()[-1])
        child.wait()
        child.stdout.close()
        assert died(path)
        check(path, rows, put)
        rescue(path)
        assert not died(path) and [p.name for p in tmp_path.glob(f"{n}.outing*")] == [path.name]
        check(path, rows, put)


def test_power_cut(tmp_path):
    """Frozen copies of file and log while they are written; in half of them the last pages of the log are torn."""
    rows = made.rows(ROWS, gyro=True, seed=3)
    chance = random.Random(8)
    path = tmp_path / "a.outing"
    child = start_child(path)
    assert child.stdout is not None
    child.stdout.readline()
    copies = []
    for n in range(100 if LONG else 8):
        time.sleep(chance.uniform(0, 0.08))
        room = tmp_path / f"cut{n}"
        room.mkdir()
        shutil.copyfile(path, room / "a.outing")
        shutil.copyfile(tmp_path / "a.outing-wal", room / "a.outing-wal")
        copies.append(room)
    child.kill()
    child.communicate()
    for n, room in enumerate(copies):
        torn = room / "a.outing-wal"
        if n % 2 and (size := torn.stat().st_size) > 40_000:
            with torn.open("r+b") as file:
                for _ in range(3):  # pages of the last 8 kB that never reached the disk, or half
                    file.seek(size - chance.randrange(8000))
                    file.write(chance.randbytes(chance.randrange(1, 1500)) if n % 4 == 1 else bytes(1024))
        check(room / "a.outing", rows, 0)
        rescue(room / "a.outing")
        check(room / "a.outing", rows, 0)
        with closing(sqlite3.connect(room / "a.outing")) as db:
            assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_closed_it_is_one_file_and_nothing_is_missing(tmp_path):
    rows = made.rows(5000)
    out = writer(tmp_path / "a.outing")
    for n in range(0, len(rows), 30):
        out.put(rows[n : n + 30], [])
    assert out.close("stopped", {"clock": {"drift": 1e-6}}) is None
    assert [p.name for p in tmp_path.iterdir()] == ["a.outing"]
    outing = load_outing(tmp_path / "a.outing")
    assert repr(list(outing.rows())) == repr(rows)
    assert outing.meta["ended"] == "stopped" and outing.meta["clock"] == {"drift": 1e-6}


def test_read_while_it_is_written(tmp_path):
    rows = made.rows(2000)
    out = writer(tmp_path / "a.outing")
    out.put(rows[:1500], [cycle(0, 1.0)])
    assert out.flush()
    outing = load_outing(tmp_path / "a.outing")
    assert repr(list(outing.rows())) == repr(rows[:1500]) and outing.meta["ended"] == w.RUNNING
    out.put(rows[1500:], [])
    out.close("stopped")
    assert repr(list(load_outing(tmp_path / "a.outing").rows())) == repr(rows)


def test_what_is_being_written_is_not_yet_on_the_disk(tmp_path, monkeypatch):
    """Asked while the store's thread has taken the rows and is still at it."""
    taken, asked, usual = threading.Event(), threading.Event(), w.OutingWriter._write

    def slow(self, *what):
        taken.set()
        assert asked.wait(30)
        usual(self, *what)

    monkeypatch.setattr(w.OutingWriter, "_write", slow)
    rows = made.rows(500)
    out = writer(tmp_path / "a.outing")
    out.put(rows, [])
    assert taken.wait(10)
    assert not out.flush(timeout=0.0)
    asked.set()
    assert out.flush(30)
    assert repr(list(load_outing(tmp_path / "a.outing").rows())) == repr(rows)
    out.close("stopped")


def test_small_chunks_become_large_ones(tmp_path, monkeypatch):
    monkeypatch.setattr(w, "MERGE_ROWS", 1000)
    rows = made.rows(4000)
    out = writer(tmp_path / "a.outing")
    for n in range(0, len(rows), 100):
        out.put(rows[n : n + 100], [])
        out.wait()
    out.close("stopped")
    with closing(sqlite3.connect(tmp_path / "a.outing")) as db:
        sizes = [r for (r,) in db.execute("SELECT rows FROM chunks")]
    assert sum(sizes) == len(rows) and min(sizes[:-1]) >= 1000
    assert repr(list(load_outing(tmp_path / "a.outing").rows())) == repr(rows)


def test_a_long_log_is_folded_in_between(tmp_path, monkeypatch):
    monkeypatch.setattr(w, "LONGEST_WAL", 100_000)
    monkeypatch.setattr(w, "LOOK_AT_DISK_EVERY", 0.0)
    rows = made.rows(8000)
    out = writer(tmp_path / "a.outing")
    longest = 0
    for n in range(0, len(rows), 100):
        out.put(rows[n : n + 100], [])
        out.wait()
        wal = tmp_path / "a.outing-wal"  # made with the first commit
        longest = max(longest, wal.stat().st_size if wal.exists() else 0)
    out.close("stopped")
    assert longest < 250_000
    assert repr(list(load_outing(tmp_path / "a.outing").rows())) == repr(rows)


def test_thinned_when_the_disk_is_nearly_full(tmp_path, monkeypatch):
    rows = [r for r in made.rows(4000) if not math.isnan(r[1])]
    out = writer(tmp_path / "a.outing")
    half = len(rows) // 2
    out.put(rows[:half], [])
    out.flush()
    monkeypatch.setattr(w, "DISK_LOW", 1 << 60)
    monkeypatch.setattr(out, "_looked", time.monotonic())  # the disk is looked at later; free_bytes is what it found
    out.put(rows[half:], [cycle(1, 30.0)])
    out.close("stopped")
    outing = load_outing(tmp_path / "a.outing")
    kept = list(outing.rows())
    assert repr(kept[:half]) == repr(rows[:half])
    late = kept[half:]
    assert {r[0] for r in late} == {ev.ACCEL, ev.FIX}
    assert abs(sum(r[0] == ev.ACCEL for r in late) * 2 - sum(r[0] == ev.ACCEL for r in rows[half:])) <= 1
    assert outing.meta["thinned"] == [[rows[half][1], "half"]] and len(outing.cycles) == 1


@pytest.fixture
def small_disk(tmp_path):
    """A real file system of 2 MB, so that ENOSPC comes from the kernel."""
    room = tmp_path / "small"
    room.mkdir()
    done = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=2m", "none", str(room)], capture_output=True, text=True)
    if done.returncode:
        assert re.search("superuser|denied|not permitted", done.stderr), (
            done.stderr
        )  # only the missing right is no failure
        pytest.skip(f"NOT RUN: a full disk needs the right to mount a small one ({done.stderr.strip()})")
    yield room
    subprocess.run(["umount", "-l", str(room)], check=True)


def test_disk_full(small_disk, monkeypatch):
    monkeypatch.setattr(w, "DISK_LOW", 0)  # no thinning: straight into the wall
    monkeypatch.setattr(w, "DISK_FULL", 0)
    rows = made.rows(30_000)
    path = small_disk / "a.outing"
    out = writer(path)
    for n in range(0, len(rows), 100):
        out.put(rows[n : n + 100], [cycle(n, n)])
        out.wait()
    assert out.trouble is not None and "\n" not in out.trouble
    out.close("stopped")
    outing = load_outing(path)
    kept = list(outing.rows())
    assert len(kept) > 5000 and repr(kept) == repr(rows[: len(kept)])
    # once there is room again the file is made whole
    room = small_disk.parent
    for name in ("a.outing", "a.outing-wal"):
        if (small_disk / name).exists():
            shutil.copyfile(small_disk / name, room / name)
    rescue(room / "a.outing")
    assert len(list(load_outing(room / "a.outing").rows())) == len(kept)


def test_disk_full_for_a_while(small_disk, monkeypatch):
    """What could not be written waits in memory and is written when there is room."""
    monkeypatch.setattr(w, "DISK_LOW", 0)
    monkeypatch.setattr(w, "DISK_FULL", 0)
    rows = made.rows(3000)
    out = writer(small_disk / "a.outing")
    out.put(rows[:1000], [])
    out.flush()
    with (small_disk / "ballast").open("wb", buffering=0) as file, pytest.raises(OSError):
        while True:
            file.write(bytes(4096))
    out.put(rows[1000:2000], [])
    until = time.monotonic() + 60
    while out.trouble is None and time.monotonic() < until:
        out.flush(0.1)
    assert out.trouble is not None
    (small_disk / "ballast").unlink()
    out.put(rows[2000:], [])
    until = time.monotonic() + 60
    while out.trouble and time.monotonic() < until:
        time.sleep(0.1)
    assert out.close("stopped") is None
    assert repr(list(load_outing(small_disk / "a.outing").rows())) == repr(rows)


NOBODY = 65534


def as_nobody(code: str, home: Path) -> subprocess.CompletedProcess[str]:
    """Runs code without root's rights (root may write everywhere)."""
    drop = f"import os; os.setgid({NOBODY}); os.setuid({NOBODY})\n" if os.getuid() == 0 else ""
    pre = "import fcntl, platformdirs, cadence_coach.store.folders, cadence_coach.store.writer\n"
    pre += "from cadence_coach.errors import CouldNot\n"
    env = {**os.environ, "CADENCE_COACH_HOME": str(home)}
    return subprocess.run([sys.executable, "-c", pre + drop + code], env=env, capture_output=True, text=True)


@pytest.fixture
def open_room():
    """A folder that everybody may enter: pytest's own it shuts to others again whenever a run of it begins."""
    with tempfile.TemporaryDirectory() as room:
        Path(room).chmod(0o755)
        yield Path(room)


def test_folder_without_write_rights(open_room):
    home = open_room / "home"
    (home / "outings").mkdir(parents=True)
    home.chmod(0o555)
    (home / "outings").chmod(0o555)
    code = """
from cadence_coach.store import folders
try: folders.FolderLock(folders.outings_folder()).take()
except CouldNot as e: print("lock:", e)
try: cadence_coach.store.writer.OutingWriter(folders.outings_folder() / "a.outing", {}, None, {})
except CouldNot as e: print("write:", e)
"""
    done = as_nobody(code, home)
    assert "lock:" in done.stdout and "write:" in done.stdout, done.stderr
    assert "write rights" in done.stdout and len(done.stdout.splitlines()) == 2


def test_one_engine_a_folder(tmp_path, monkeypatch):
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path / "new" / "home"))
    folder = outings_folder()
    code = """
import time
from cadence_coach.store.folders import FolderLock, outings_folder
with FolderLock(outings_folder()).take():
    print("held", flush=True); time.sleep(60)
"""
    other = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True)
    assert other.stdout is not None and other.stdout.readline() == "held\n"
    with pytest.raises(CouldNot, match=f"process {other.pid}"):
        FolderLock(folder).take()
    other.kill()
    other.communicate()
    with FolderLock(folder).take():  # a killed engine holds nothing
        pass


def test_an_outing_is_never_written_over(tmp_path):
    writer(tmp_path / "a.outing").close("stopped")
    with pytest.raises(CouldNot, match="never written over"):
        writer(tmp_path / "a.outing")


def test_rescue_folder_tidies_up(tmp_path):
    out = writer(tmp_path / "a.outing")
    out.put(made.rows(500), [])
    out.flush()
    for p in list(tmp_path.glob("a.outing*")):  # as a kill leaves it
        shutil.copyfile(p, tmp_path / p.name.replace("a.", "b."))
    out.close("stopped")
    assert rescue_folder(tmp_path, most_bytes=1000) == [] and died(tmp_path / "b.outing")  # too long for now
    assert len(load_outing(tmp_path / "b.outing").kinds) > 900
    gone = subprocess.Popen([sys.executable, "-c", ""])
    gone.wait()
    left = [tmp_path / f".c.outing.{number}.new{end}" for number in (gone.pid, 10**30) for end in ("", "-wal")]
    for path in left:
        path.write_bytes(b"half")
    (tmp_path / "d.outing").write_bytes((tmp_path / "b.outing").read_bytes()[:3000])
    told = dict(rescue_folder(tmp_path))
    assert told[tmp_path / "b.outing"] is None and told[tmp_path / "d.outing"] is not None
    assert tmp_path / "a.outing" not in told and not any(path.exists() for path in left)
    assert load_outing(tmp_path / "b.outing").meta["ended"] == "rescued"


def test_notes_and_tags_are_added_later(tmp_path):
    from cadence_coach.store.outing import Note

    path = tmp_path / "a.outing"
    writer(path).close("stopped")
    note = Note("n7", "Invented Ina", "2026-05-01T10:00:00Z", None, "windy")
    rescue_.add_note(path, note)
    rescue_.set_tag(path, "kit", "small wing")
    outing = load_outing(path)
    assert outing.notes == [note] and outing.tags == {"kit": "small wing"}


def test_what_the_store_cannot_take_is_told_at_the_end_and_stops_no_engine(tmp_path):
    """A mistake of the caller's (text as a time) ends the writing, not the outing: later puts are taken, closing says
    what it was, and what was committed before is there."""
    out = writer(tmp_path / "a.outing")
    rows = made.rows(1000)
    out.put(rows[:500], [])
    assert out.flush()
    out.put([(ev.ACCEL, 6.0, "up", 0.0, 9.8)], [])
    assert not out.flush()
    assert out.trouble is not None and "no longer written" in out.trouble
    out.put(rows[500:], [])
    out.wait()
    with pytest.raises(Exception, match=r"."):
        out.close("stopped")
    assert len(list(load_outing(tmp_path / "a.outing").rows())) == 500
