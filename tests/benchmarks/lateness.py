"""The running coach in real time on one core, sound and store with it: from a row's arrival to its events scheduled
as sound and handed to the store, beside a screen that takes all it can get; and what packing the raw rows costs."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import threading
import time
import zlib
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

import numpy as np

from cadence_coach.core.events import Row
from cadence_coach.live import Server
from cadence_coach.sim.outing import simulate_outing
from cadence_coach.sources.simulated import rows_of
from cadence_coach.store import chunks
from tests.live import build

from .tables import missed, table

GOAL_MS = 10.0
"""p99, our own goal: little beside the 60 ms within which a pump is known."""
SECONDS = 20.0
SCREEN = """
import sys, time
from pathlib import Path
from cadence_coach.live import Client
for s in Client(Path(sys.argv[1])).follow(10):
    until = time.monotonic() + 0.08
    while time.monotonic() < until: sum(range(1000))
"""
"""A screen that follows the snapshots ten times a second and is busy for 80 % of the time."""


def ride(rate: float = 100.0, gyro: bool = True, until: float = 60.0) -> list[Row]:
    outing = simulate_outing(7, "calm", rate)
    rows = [r for part in rows_of(outing.accel, outing.gyro if gyro else None, outing.fixes) for r in part]
    return [r for r in rows if r[1] < until]


def report() -> tuple[str, list[str]]:
    pinned = hasattr(os, "sched_setaffinity")
    rows, short = [], []
    for name, beside, goal in (
        ("engine, sound and store on one core", None, True),
        ("the same; a screen, 80 % busy, in its process on another core", "elsewhere", True),
        ("the same; that screen on the same core", "here", False),
        ("hungry thread in the same process (the alternative)", "thread", False),
    ):
        late, clicks = lateness(beside)
        p50, p99 = np.percentile(late, [50, 99])
        rows.append([name, f"{p50:.2f}", f"{p99:.2f}", f"{late.max():.2f}", f"{clicks}"])
        if goal:
            short += missed(p99, GOAL_MS, f"lateness p99 {p99:.0f} ms, goal {GOAL_MS:g}")
    head = ["200 Hz with gyroscope, ms", "median", "p99", "worst", "clicks too late"]
    note = "" if pinned else "\n\nThis system pins no process to a core: nothing was pinned."
    return f"{table(head, rows)}{note}\n\n{packing()}", short


@contextmanager
def on_core(number: int) -> Iterator[None]:
    """This thread, and the threads and processes it starts, on one core; afterwards where they may be."""
    if not hasattr(os, "sched_setaffinity"):
        yield
        return
    allowed = os.sched_getaffinity(0)
    os.sched_setaffinity(0, {sorted(allowed)[number % len(allowed)]})
    try:
        yield
    finally:
        os.sched_setaffinity(0, allowed)


def hungry(stop: threading.Event) -> None:
    """A screen that never lets go of the interpreter by itself."""
    while not stop.is_set():
        sum(i * i for i in range(20_000))


def lateness(beside: str | None) -> tuple[np.ndarray, int]:
    """Delays [ms], one a list of rows, and how many clicks came too late for the sound."""
    stop = threading.Event()
    with tempfile.TemporaryDirectory() as room, ExitStack() as ends:
        with on_core(0):
            running = build.live(
                build.Device(ride(200.0, until=SECONDS), size=10), Path(room) / "a.outing", fast=False, count_in=0
            )
            running._paced = True
            ends.callback(Server(running, Path(room)).close)
            if beside == "thread":
                threading.Thread(target=hungry, args=(stop,), daemon=True).start()
                ends.callback(stop.set)
            if beside == "here":
                ends.callback(end, screen(room))
            running.start()
        if beside == "elsewhere":
            with on_core(1):
                ends.callback(end, screen(room))
        while not running.join(0.1):
            pass
        return 1e3 * np.array(running.delays), running.score.late


def screen(room: str) -> subprocess.Popen[bytes]:
    return subprocess.Popen([sys.executable, "-c", SCREEN, room], stderr=subprocess.DEVNULL)


def end(process: subprocess.Popen[bytes]) -> None:
    process.kill()
    process.wait()


def plain(rows: chunks.Rows) -> bytes:
    """The bytes without any packing: int64 ns, float32."""
    out = rows.kinds.tobytes()
    for stream in (rows.accel, rows.gyro):
        out += np.rint(stream[:, 0] * 1e9).astype("<i8").tobytes() + stream[:, 1:].astype("<f4").tobytes()
    return out + rows.fixes.astype("<f8").tobytes()


def packing() -> str:
    ways = {
        "as it is": plain,
        "zlib 6": lambda r: zlib.compress(plain(r), 6),
        "differences, shuffled, zlib 1": lambda r: chunks.pack(r, 1),
        "differences, shuffled, zlib 4 (ours)": chunks.pack,
        "differences, shuffled, zlib 6": lambda r: chunks.pack(r, 6),
        "differences, shuffled, zlib 9": lambda r: chunks.pack(r, 9),
    }
    lines = []
    for gyro in (False, True):
        rows = chunks.Rows.of(ride(gyro=gyro))
        hours = (rows.accel[-1, 0] - rows.accel[0, 0]) / 3600
        for name, way in ways.items():
            began = time.perf_counter()
            size = len(way(rows))
            cost = (time.perf_counter() - began) / len(rows)
            what = "accelerometer and gyroscope" if gyro else "accelerometer"
            lines.append([what, name, f"{size / 2**20 / hours:.2f}", f"{1e6 * cost:.2f}"])
    return table(["raw rows, one minute at 100 Hz in a chunk", "", "MB an hour", "us a row to pack"], lines)
