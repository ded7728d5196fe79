"""The whole coach killed with -9 at random moments of a fast-forwarded outing."""

from __future__ import annotations

import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing, suppress

from cadence_coach.live import rescue_all
from cadence_coach.sources import open_source
from cadence_coach.store.folders import outings_folder
from cadence_coach.store.outing_file import load_outing
from tests.live import build

MOST_LOST_S = 1.0
TRIES = 300 if os.environ.get("CADENCE_COACH_LONG") else 8

NURSERY = """
import os, sys
from contextlib import ExitStack
from cadence_coach.core.settings import Settings
from cadence_coach.live import Plan, begin
b = sys.modules["cadence_coach.live.begin"]
band = b.band_table(b.demo_profile().setup)   # worked out once; each child is a fork, so that a try costs no start
b.band_table = lambda setup: band

def outing(recording, progress):
    out = os.open(progress, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    with ExitStack() as stack:
        live = begin(Plan(recording, Settings(lead="target"), fast=True), stack)
        put = live.writer.put
        def told(rows, events, commands=()):
            put(rows, events, commands)
            os.write(out, b"%d\\n" % live._received)
        live.writer.put = told
        live.run()

print("ready", flush=True)
for line in sys.stdin:
    pid = os.fork()
    if pid == 0:
        try:
            outing(*line.split())
        finally:
            os._exit(0)
    print(pid, flush=True)
    os.waitpid(pid, 0)
    print("over", flush=True)
"""


def test_killed_at_random_moments(tmp_path, monkeypatch):
    recording = build.recording(tmp_path / "ride", until=60.0)
    rows = [row for part in open_source(str(recording)) for row in part]
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path / "home"))
    nursery = subprocess.Popen(
        [sys.executable, "-c", NURSERY], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert nursery.stdin is not None and nursery.stdout is not None
    assert nursery.stdout.readline() == "ready\n"
    chance = random.Random(9)
    folder, progress = outings_folder(), tmp_path / "progress"
    cut_short = 0
    began = time.monotonic()
    nursery.stdin.write(f"{recording} {progress}\n")  # one to its end, to know how long that takes
    nursery.stdin.flush()
    assert [nursery.stdout.readline() for _ in range(2)][1] == "over\n"
    longest = time.monotonic() - began
    for path in folder.glob("*.outing"):
        path.unlink()
    for _ in range(TRIES):
        progress.unlink(missing_ok=True)
        nursery.stdin.write(f"{recording} {progress}\n")
        nursery.stdin.flush()
        pid = int(nursery.stdout.readline())
        time.sleep(chance.uniform(0.0, longest))
        with suppress(ProcessLookupError):  # it was at its end already
            os.kill(pid, signal.SIGKILL)
        assert nursery.stdout.readline() == "over\n"
        taken = [int(n) for n in progress.read_text().split()] if progress.exists() else []
        found = sorted(folder.glob("*.outing"))
        if not found:
            assert not taken  # killed before there was anything
            continue
        (path,) = found
        before = load_outing(path)  # opens as it is
        rescue_all()
        outing = load_outing(path)
        with closing(sqlite3.connect(path)) as db:
            assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert [p.name for p in folder.glob("*.outing*")] == [path.name]
        kept = list(outing.rows())
        assert repr(kept) == repr(rows[: len(kept)]) and len(kept) == len(list(before.rows()))
        if taken and taken[-1]:  # some rows, not only the command that armed it
            last = kept[-1][1] if kept else 0.0
            assert rows[taken[-1] - 1][1] - last <= MOST_LOST_S
        if before.meta["ended"] == "running":
            cut_short += 1
            assert outing.meta["ended"] == "rescued" and outing.meta["rescued_whole"] is True
        else:
            longest *= 0.7  # the machine is less busy than it was
        assert build.replayed(outing) == build.tables(outing)
        path.unlink()
    nursery.stdin.close()
    nursery.wait(60)
    assert cut_short >= TRIES // 4
