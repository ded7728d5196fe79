"""Benchmark of the running coach: what compression costs and gains, and how late sound and store are.

python -m tests.live.bench_live            (a minute; figures of one machine, to be compared within a run)
"""

from __future__ import annotations

import json
import os
import sys
import tempfile
import threading
import time
import zlib
from pathlib import Path

import numpy as np

from cadence_coach.core import events as ev
from cadence_coach.core.settings import Settings
from cadence_coach.live import Server
from cadence_coach.sim.outing import simulate_outing
from cadence_coach.sources.simulated import rows_of
from cadence_coach.store import chunks
from tests.live import build


def ride(rate: float = 100.0, gyro: bool = True, until: float = 60.0) -> list[ev.Row]:
    outing = simulate_outing(7, "calm", rate)
    rows = [r for part in rows_of(outing.accel, outing.gyro if gyro else None, outing.fixes) for r in part]
    return [r for r in rows if r[1] < until]


def plain(rows: chunks.Rows) -> bytes:
    """The bytes without any packing: int64 ns, float32."""
    out = rows.kinds.tobytes()
    for stream in (rows.accel, rows.gyro):
        out += np.rint(stream[:, 0] * 1e9).astype("<i8").tobytes() + stream[:, 1:].astype("<f4").tobytes()
    return out + rows.fixes.astype("<f8").tobytes()


def compression() -> None:
    print("raw rows, one minute at 100 Hz in a chunk           MB an hour   us a row to pack")
    for gyro in (False, True):
        rows = chunks.Rows.of(ride(gyro=gyro))
        hours = (rows.accel[-1, 0] - rows.accel[0, 0]) / 3600
        ways = {
            "as it is": plain,
            "zlib 6": lambda r: zlib.compress(plain(r), 6),
            "differences, shuffled, zlib 1": lambda r: chunks.pack(r, 1),
            "differences, shuffled, zlib 6 (ours)": chunks.pack,
            "differences, shuffled, zlib 9": lambda r: chunks.pack(r, 9),
        }
        for name, way in ways.items():
            began = time.perf_counter()
            size = len(way(rows))
            cost = (time.perf_counter() - began) / len(rows)
            what = "accel and gyro" if gyro else "accel"
            print(f"  {what:<15}{name:<37}{size / 2**20 / hours:8.2f} {1e6 * cost:12.2f}")


def throughput() -> None:
    rows = ride(200.0)
    engine = build.engine_of(Settings(), build.band())
    began = time.perf_counter()
    for n in range(0, len(rows), 20):
        engine.receive(rows[n : n + 20])
        engine.events()
    alone = (time.perf_counter() - began) / len(rows)
    with tempfile.TemporaryDirectory() as room:
        running = build.live(build.Device(rows), Path(room) / "a.outing")
        running.source.progress = lambda: 0.0  # read as a recording is
        cpu = time.process_time()
        running.run()
        whole = (time.process_time() - cpu) / len(rows)
    print(f"engine alone {1e6 * alone:.1f} us a row; with store, score and snapshot {1e6 * whole:.1f} us a row (CPU)")


def hungry(stop: threading.Event) -> None:
    """A screen that never lets go of the interpreter by itself."""
    while not stop.is_set():
        sum(i * i for i in range(20_000))


def lateness(name: str, seconds: float = 20.0, beside: str | None = None) -> None:
    """Real time at 200 Hz with gyroscope: from the arrival of rows to sound scheduled and store handed over."""
    rows = ride(200.0, until=seconds)
    stop = threading.Event()
    with tempfile.TemporaryDirectory() as room:
        running = build.live(build.Device(rows, size=10), Path(room) / "a.outing", fast=False, count_in=0)
        source = running.source
        running._paced = True
        server, client = None, None
        if beside == "thread":
            threading.Thread(target=hungry, args=(stop,), daemon=True).start()
        if beside in ("thread", "process"):
            server = Server(running, Path(room))
        if beside == "process":
            code = (
                "import sys, time\nfrom pathlib import Path\nfrom cadence_coach.live import Client\n"
                "for s in Client(Path(sys.argv[1])).follow(10):\n"
                "    until = time.monotonic() + 0.08\n"
                "    while time.monotonic() < until: sum(range(1000))\n"
            )
            import subprocess

            client = subprocess.Popen([sys.executable, "-c", code, room], stderr=subprocess.DEVNULL)
        running.start()
        looks = 0
        while not running.join(0.1):
            json.dumps(running.snapshot.plain())
            looks += 1
        stop.set()
        if server is not None:
            server.close()
        if client is not None:
            client.kill()
            client.wait()
        late = 1e3 * np.array(running.delays)
        p50, p99 = np.percentile(late, [50, 99])
        print(f"  {name:<58}{p50:8.2f}{p99:8.2f}{late.max():8.2f}   late clicks {running.score.late}")
        del source


def main() -> None:
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}, Python {sys.version.split()[0]}")
    compression()
    throughput()
    print("from row's arrival to sound scheduled, ms                      median     p99   worst")
    lateness("alone")
    lateness("screen in its own process (ours), 80 % busy", beside="process")
    lateness("hungry thread in the same process (the alternative)", beside="thread")


if __name__ == "__main__":
    main()
