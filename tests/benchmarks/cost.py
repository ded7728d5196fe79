"""What a sample costs and what hours cost: CPU time and memory, beside scipy's filters alone in blocks."""

from __future__ import annotations

import os
import platform
import sys
import tempfile
import time
import tracemalloc
from pathlib import Path

import numpy as np
from scipy.signal import butter, sosfilt

from cadence_coach.core.engine import Engine
from cadence_coach.core.events import ACCEL, FIX, Row
from cadence_coach.sim import simulate_outing
from cadence_coach.sources.simulated import rows_of
from tests.live import build

from .tables import missed, table

HOURS = 10.0
GOAL_US = 10.0
"""us a sample, the whole live path."""


def machine() -> str:
    cpu = platform.processor() or platform.machine()
    info = Path("/proc/cpuinfo")
    if info.exists():
        names = [
            line.split(":", 1)[1].strip() for line in info.read_text().splitlines() if line.startswith("model name")
        ]
        cpu = names[0] if names else cpu
    load = f", load {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    python = sys.version.split()[0]
    return f"{platform.system()} {platform.machine()}, {cpu}, {os.cpu_count()} cores{load}, Python {python}"


def stream(rate: float, seed: int = 734_100, kind: str = "mixed", gyro: bool = True) -> list[Row]:
    o = simulate_outing(seed, kind, rate)
    if gyro and o.gyro is None:
        raise ValueError(f"the outing of seed {seed} has no gyroscope; choose another")
    return [r for part in rows_of(o.accel, o.gyro if gyro else None, o.fixes) for r in part]


def engine_us(rows: list[Row], size: int = 20) -> float:
    """Best of three [us an accelerometer sample], rows in pieces of 20 as a phone delivers them."""
    accel = sum(r[0] == ACCEL for r in rows)
    best = float("inf")
    for _ in range(3):
        engine = Engine()
        began = time.process_time()
        for n in range(0, len(rows), size):
            engine.receive(rows[n : n + size])
            engine.events()
        best = min(best, time.process_time() - began)
    return 1e6 * best / accel


class Watched(build.Device):
    """Rows as a device hands them over; notes what the process had used after a tenth of them and after all [s]."""

    def __next__(self) -> list[Row]:
        if self._at == len(self.lists) // 10:
            self.began = time.process_time()
        elif self._at == len(self.lists):
            self.ended = time.process_time()
        return super().__next__()


def live_us(rows: list[Row]) -> float:
    """Best of three [us an accelerometer sample]: all threads of the live path, with silent sound, snapshots, and the
    outing file in the temporary folder, forced to its disk each 0.75 s of the sensor's time. Lists of 50 ms. The first
    tenth is left out: what is loaded and made at the start."""
    size = max(1, round(0.05 * len(rows) / (rows[-1][1] - rows[0][1])))
    best = float("inf")
    for _ in range(3):
        with tempfile.TemporaryDirectory() as room:
            source = Watched(rows, size=size)
            running = build.live(source, Path(room) / "a.outing")
            source.progress = lambda: 0.0  # read as a recording is: no waiting
            running.run()
        samples = sum(r[0] == ACCEL for part in source.lists[len(source.lists) // 10 :] for r in part)
        best = min(best, (source.ended - source.began) / samples)
    return 1e6 * best


def real_time_us(rows: list[Row], seconds: float = 20.0, asked: bool = False) -> float:
    """us an accelerometer sample in real time, all threads, a list each 50 ms by the clock: the same path with what it
    costs to wake up twenty times a second with cold caches, and with ten snapshots a second. The first 4 s are left
    out. asked: by the engine's thread, as the phone is; else a thread of its own feeds the engine."""
    began = rows[0][1]
    part = [r for r in rows if r[1] - began < seconds]
    per_s = sum(r[0] == ACCEL for r in part) / seconds
    with tempfile.TemporaryDirectory() as room:
        source = (build.Polled if asked else build.Device)(part, size=max(1, round(0.05 * len(part) / seconds)))
        running = build.live(source, Path(room) / "a.outing", fast=False, count_in=0)
        running._paced = not asked
        running.start()
        time.sleep(4.0)
        used, clock = time.process_time(), time.monotonic()
        time.sleep(seconds - 6.0)
        used, clock = time.process_time() - used, time.monotonic() - clock
        while not running.join(0.1):
            pass
    return 1e6 * used / clock / per_s


def scipy_us(rows: list[Row], rate: float, size: int = 20) -> float:
    """Best of three [us a sample]: gravity and smoothing of three axes by sosfilt in blocks of 20, nothing else."""
    a = np.array([r[2:5] for r in rows if r[0] == ACCEL])
    gravity, smooth = butter(2, 0.2, fs=rate, output="sos"), butter(2, 8.0, fs=rate, output="sos")
    best = float("inf")
    for _ in range(3):
        zg, zs = np.zeros((1, 2, 3)), np.zeros((1, 2, 3))
        began = time.process_time()
        for n in range(0, len(a), size):
            _, zg = sosfilt(gravity, a[n : n + size], axis=0, zi=zg)
            _, zs = sosfilt(smooth, a[n : n + size], axis=0, zi=zs)
        best = min(best, time.process_time() - began)
    return 1e6 * best / len(a)


def memory(hours: float = HOURS) -> tuple[float, float, float]:
    """Hours gone through, and memory of the engine [kB] after the first and after the last round of an outing that
    is flown over and over."""
    rows = stream(50.0, kind="rough", gyro=False)
    length = rows[-1][1] + 1.0
    rounds = max(3, int(hours * 3600 / length))
    tracemalloc.start()
    engine, sizes = Engine(), []
    for k in range(rounds):
        by = k * length
        engine.receive((r[0], r[1] + by, r[2] + by, *r[3:]) if r[0] == FIX else (r[0], r[1] + by, *r[2:]) for r in rows)
        engine.events()
        sizes.append(tracemalloc.get_traced_memory()[0] / 1024)
    tracemalloc.stop()
    return rounds * length / 3600, sizes[1], sizes[-1]


def report() -> tuple[str, list[str]]:
    """CPU time a sample by rate, and memory over hours."""
    short, rows = [], []
    for rate in (50.0, 100.0, 200.0):
        plain = stream(rate, gyro=False)
        ours = engine_us(plain)
        turned = engine_us(stream(rate))
        whole = live_us(plain)
        filters = scipy_us(plain, rate)
        rows.append([f"{rate:.0f} Hz", f"{ours:.1f}", f"{turned:.1f}", f"{whole:.1f}", f"{filters:.1f}"])
        short += missed(whole, GOAL_US, f"{whole:.1f} us a sample at {rate:.0f} Hz, goal {GOAL_US:g}")
    gone, first, last = memory(HOURS if os.environ.get("CADENCE_COACH_LONG") else 1 / 3)
    head = ["engine with coach", "with gyroscope rows", "whole live path", "scipy sosfilt alone, blocks of 20"]
    text = table(["us a sample", *head], rows)
    fed, asked = (real_time_us(stream(100.0, gyro=False), asked=how) for how in (False, True))
    text += f"\n\nIn real time, 100 Hz, woken each 50 ms: {asked:.0f} us a sample, {asked / 100:.1f} % of a core"
    text += f"; with a thread that feeds the engine {fed:.0f}"
    return f"{text}\n\nMemory of the engine over {gone:.2f} h at 50 Hz: {first:.0f} kB, at the end {last:.0f} kB", short
