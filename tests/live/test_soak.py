"""Hours of riding as fast as it goes: memory stays flat, the file small, and the clocks together."""

from __future__ import annotations

import os
import resource
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from cadence_coach.core import events as ev
from cadence_coach.core.settings import Settings
from cadence_coach.sim.outing import simulate_outing
from cadence_coach.sources.simulated import rows_of
from cadence_coach.store.chunks import to_grid
from cadence_coach.store.outing_file import load_outing
from tests.live import build

LONG = bool(os.environ.get("CADENCE_COACH_LONG"))
HOURS = 10.0 if LONG else 0.08
MB_AN_HOUR = {"accel": 8.0, "gyro": 16.0}
"""At 100 Hz (design rule)."""


class Loop:
    """One simulated outing again and again, time going on: hours of rows without hours of memory."""

    def __init__(self, rate: float, hours: float, gyro: bool) -> None:
        outing = simulate_outing(4, "mixed", rate)
        self.rows = [r for part in rows_of(outing.accel, outing.gyro if gyro else None, outing.fixes) for r in part]
        self.span = self.rows[-1][1] + 1.0 / rate
        self.until = hours * 3600
        self.name, self.start_s, self.meta, self.notes = "loop", 0.0, {}, []
        self.rss: list[tuple[float, float]] = []
        self._lists = self._all()
        self._t = 0.0

    def _all(self) -> Iterator[list[ev.Row]]:
        turn = 0
        while True:
            for n in range(0, len(self.rows), 400):
                shift = turn * self.span
                out = []
                for r in self.rows[n : n + 400]:
                    t = to_grid(r[1] + shift)
                    if t > self.until:
                        return
                    out.append((r[0], t, to_grid(r[2] + shift), *r[3:]) if r[0] == ev.FIX else (r[0], t, *r[2:]))
                self._t = out[-1][1]
                yield out
            turn += 1
            self.rss.append((self._t / 3600, rss_mb()))

    def __iter__(self):  # type: ignore[no-untyped-def]
        return self

    def __next__(self) -> list[ev.Row]:
        return next(self._lists)

    def progress(self) -> float:
        return self._t / self.until

    def close(self) -> None:
        self._lists.close()


MOST_GROWTH_MB = 6.0
"""Of the whole process after the first fifth of the time. Measured over ten hours: 2 MB, then no more: the index of the
store's log, 8 bytes a page of 1 kB, until the log is folded at 256 MB. The rest is for other allocators."""


def rss_mb() -> float:
    with open("/proc/self/statm") as file:
        return int(file.read().split()[1]) * resource.getpagesize() / 2**20


def peak(path: Path) -> int:
    wal = path.with_name(path.name + "-wal")
    return path.stat().st_size + (wal.stat().st_size if wal.exists() else 0)


@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="NOT RUN: memory is read from /proc")
def test_hours_at_200_hz(tmp_path):
    path = tmp_path / "a.outing"
    source = Loop(200.0, HOURS, gyro=False)
    running = build.live(source, path, settings=Settings(lead="target"))
    worst = [0.0, 0]
    heard = running.score.receive

    def listen(event):  # type: ignore[no-untyped-def]
        if isinstance(event, ev.Click):
            worst[0] = max(worst[0], abs(running._frame_of(event.time) / running.sink.rate - event.time))
            worst[1] += 1
        heard(event)

    running.score.receive = listen
    running.run()
    hours = running.snapshot.time_s / 3600
    assert hours == pytest.approx(HOURS, abs=0.001)
    assert worst[1] > 10 and worst[0] <= 0.5 / running.sink.rate + 1e-9  # half a frame, after ten hours as at once
    size = path.stat().st_size / 2**20 / hours
    memory = source.rss[:: max(1, len(source.rss) // 10)]
    print(f"{hours:.2f} h: {size:.1f} MB an hour, {worst[1]} clicks, memory [h, MB] {memory}")
    assert size <= 2 * MB_AN_HOUR["accel"]
    early = [mb for h, mb in source.rss if h <= max(hours / 5, 0.1)] or [source.rss[0][1]] if source.rss else [rss_mb()]
    if LONG:
        assert source.rss[-1][1] - max(early) < MOST_GROWTH_MB, source.rss
        return
    outing = load_outing(path)
    onsets = np.array([c.onset for c in outing.cycles])
    assert onsets[-1] <= outing.accel[-1, 0] and len(outing.accel) == pytest.approx(HOURS * 3600 * 200, rel=0.02)


@pytest.mark.parametrize("what", ["accel", "gyro"])
def test_size_at_100_hz(tmp_path, what):
    path = tmp_path / "a.outing"
    running = build.live(Loop(100.0, 0.06, gyro=what == "gyro"), path)
    running.run()
    size = path.stat().st_size / 2**20 / (running.snapshot.time_s / 3600)
    print(f"{what}: {size:.2f} MB an hour")
    assert size <= MB_AN_HOUR[what]
