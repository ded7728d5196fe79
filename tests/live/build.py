"""What the tests of the running coach share: one simulated ride as a recording, and sources that behave like
devices."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from cadence_coach.core.events import ACCEL, Row
from cadence_coach.core.settings import Settings
from cadence_coach.core.targets import BandTable
from cadence_coach.foil.band import band_table
from cadence_coach.foil.profile import demo_profile
from cadence_coach.live import Live
from cadence_coach.live.begin import engine_of, plain_band
from cadence_coach.live.feed import VirtualClock
from cadence_coach.sim.outing import simulate_outing
from cadence_coach.sound.sinks import SilentSink
from cadence_coach.sources import open_source
from cadence_coach.store import schema
from cadence_coach.store.outing import Outing
from cadence_coach.store.recordings import write_recording
from cadence_coach.store.writer import OutingWriter

_made: dict[str, Any] = {}


def band() -> BandTable:
    if "band" not in _made:
        _made["band"] = band_table(demo_profile().setup)
    return _made["band"]


def recording(
    folder: Path, kind: str = "short", seed: int = 5, rate: float = 100.0, until: float = 80.0, since: float = 0.0
) -> Path:
    """A stretch of a simulated outing as a recording."""
    outing = simulate_outing(seed, kind, rate)
    streams = [
        s if s is None else s[(s[:, 0] >= since) & (s[:, 0] < until)] for s in (outing.accel, outing.gyro, outing.fixes)
    ]
    write_recording(folder, *streams, outing.meta, None)
    return folder


def still(t: float, seconds: float) -> list[Row]:
    """Rows of somebody who floats, from `t` on, at 100 Hz."""
    return [(ACCEL, t + 0.01 * k, 0.01 * (k % 2), 0.01 * (k % 3), 9.81) for k in range(round(100 * seconds))]


class Gate:
    """Where a device is silent until the test opens it: no test's luck hangs on how long that takes. Once `reached`,
    everything before it was handed over."""

    def __init__(self) -> None:
        self.reached, self.open = threading.Event(), threading.Event()


class Device:
    """Rows as a device hands them over: no end known, as fast as they are taken; `stalls` {list number: seconds, or a
    Gate} where it is silent for a while, `fails_at` the list number at which it breaks."""

    def __init__(
        self,
        rows: str | Path | list[Row],
        stalls: dict[int, float | Gate] | None = None,
        fails_at: int | None = None,
        size: int = 20,
    ) -> None:
        if not isinstance(rows, list):
            rows = [row for part in open_source(str(rows)) for row in part]
        self.lists = [rows[n : n + size] for n in range(0, len(rows), size)]
        self.name, self.start_s, self.meta, self.notes = "device", 0.0, {}, []
        self.stalls, self.fails_at = stalls or {}, fails_at
        self._at = 0
        self._closed = False

    def __iter__(self) -> Iterator[list[Row]]:
        return self

    def __next__(self) -> list[Row]:
        if self._closed or self._at >= len(self.lists):
            raise StopIteration
        if self._at == self.fails_at:
            raise OSError("the device was pulled out")
        if stall := self.stalls.pop(self._at, 0.0):
            self._stall(stall)
            if self._closed:
                raise StopIteration
        self._at += 1
        return self.lists[self._at - 1]

    def _stall(self, stall: float | Gate) -> None:
        gate = stall if isinstance(stall, Gate) else Gate()
        gate.reached.set()
        until = float("inf") if stall is gate else time.monotonic() + stall
        while (left := until - time.monotonic()) > 0 and not gate.open.wait(min(left, 0.05)):
            if self._closed:
                return

    def progress(self) -> None:
        return None

    def close(self) -> None:
        self._closed = True


class Polled(Device):
    """The same as a device that is asked for what it has and knows its own clock, as the phone does; ends by
    itself."""

    _quiet_until = 0.0

    def monotonic(self, t: float) -> float:
        return t

    def poll(self) -> list[Row] | None:
        if stall := self.stalls.pop(self._at, 0.0):
            assert not isinstance(stall, Gate), "who asks must not be kept waiting"
            self._quiet_until = time.monotonic() + stall
        return [] if time.monotonic() < self._quiet_until else next(self, None)


def live(source: Any, path: Path | None, *, fast: bool = True, settings: Settings | None = None, **more: Any) -> Live:
    """A Live without sound; its outing goes to `path`."""
    settings = settings or Settings()
    virtual = VirtualClock()
    sink = more.pop("sink", None) or (SilentSink(clock=virtual) if fast else SilentSink())
    writer = None
    if path is not None:
        meta = {
            "uuid": "7a9f6f4e-0000-4000-8000-000000000003",
            "start_utc": None,
            "versions": {},
            "band": plain_band(band()),
        }
        writer = OutingWriter(path, meta, demo_profile().table, settings.plain())
    return Live(
        source,
        engine_of(settings, band()),
        band(),
        settings,
        sink,
        writer=writer,
        fast=virtual if fast else None,
        **more,
    )


def until(running: Live, there: Callable[[], bool], timeout: float = 30.0) -> None:
    """Waits for something to be there; fails when the engine did or the time is over."""
    end = time.monotonic() + timeout
    while not there():
        over = running.join(0.005)
        assert there() or not over, "the outing was over before"
        assert time.monotonic() < end, running.snapshot


def tables(outing: Outing, *, without: tuple[str, ...] = ()) -> dict[str, str]:
    """Everything an outing holds besides its meta data, so that it can be compared with ==."""
    found = {name: repr(getattr(outing, name)) for name in schema.EVENTS}
    found["rows"] = repr(list(outing.rows()))
    found["used"] = repr(outing.fixes[:, 7].tolist())
    found["commands"] = repr(outing.commands)
    return {name: text for name, text in found.items() if name not in without}


def replayed(outing: Outing) -> dict[str, str]:
    """The same of a fresh engine that gets the outing's samples and commands."""
    import attrs

    from cadence_coach.core import events as ev
    from cadence_coach.live.begin import engine_for
    from cadence_coach.store.rescue import rerun

    lists: dict[str, list[Any]] = {name: [] for name in schema.EVENTS}
    used = set()
    for event in rerun(outing, engine_for(outing)):
        if type(event) in schema.TABLE_OF:
            lists[schema.TABLE_OF[type(event)]].append(event)
        elif isinstance(event, ev.SpeedFix):
            used.add(event.time)
    fixes = outing.fixes.copy()
    fixes[:, 7] = [float(t in used) for t in fixes[:, 1].tolist()]
    return tables(attrs.evolve(outing, fixes=fixes, **lists))


__all__ = ["Device", "ExitStack", "Gate", "band", "live", "recording", "replayed", "tables"]
