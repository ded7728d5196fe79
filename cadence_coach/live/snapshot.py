"""What a screen shows of the coach at one moment: one frozen plain value, folded from events, that goes through
JSON."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from cadence_coach.core import events as ev
from cadence_coach.core.likely import median
from cadence_coach.core.targets import Band, BandTable
from cadence_coach.live.training import TrainingShown
from cadence_coach.store.outing import Command

PROTOCOL = "cadence-coach-live/1"

RECENT = 5
"""Pumps that the shown cadence and push share are the median of: the window of the coach's own looks."""
RATE_PIECES = 21
"""The shown rate is that of the samples between so many times of the engine: a second in pieces of 50 ms."""
SPEED_OLD_S = 6.0
"""An older speed says nothing about now, and the band is that of the cruise speed."""


@dataclass(frozen=True, slots=True)
class Snapshot:
    """Times in s of the outing, cadence in Hz; None for what is not known.

    phase: ready, armed, going, paused, ended. motion: quiet, moving, attempt, flight. sensor: waiting, ok, or the
    fault that holds. band: lo, target, hi [Hz], reason, share_lo, share_hi, size_needed [g], speed [m/s] it is for,
    and whether that is the rider's cruise speed. land: see `training.TrainingShown`.
    """

    uuid: str = ""
    file: str | None = None
    source: str = ""
    phase: str = "ready"
    motion: str = "quiet"
    start: str = "dock"
    time_s: float = 0.0
    cadence_hz: float | None = None
    push_share: float | None = None
    size_g: float | None = None
    band: dict[str, Any] | None = None
    flight_s: float | None = None
    flight_pumps: int = 0
    flights: int = 0
    attempts: int = 0
    best_s: float = 0.0
    last_flight_s: float | None = None
    rest_from_s: float | None = None
    last_cue: dict[str, Any] | None = None
    summary: dict[str, Any] | None = None
    sensor: str = "waiting"
    sensor_hz: float | None = None
    rotation: bool = False
    faults: dict[str, int] | None = None
    speed_m_s: float | None = None
    speed_age_s: float | None = None
    sink: str = ""
    sink_reason: str | None = None
    sink_trouble: dict[str, int] | None = None
    store: str | None = None
    battery_percent: float | None = None
    free_bytes: int | None = None
    muted: bool = False
    focus: str | None = None
    lead: str = "rider"
    progress: float | None = None
    late_s: float | None = None
    ended_by: str | None = None
    land: dict[str, Any] | None = None

    def plain(self) -> dict[str, Any]:
        """Numbers, strings, booleans, None, lists and dicts; a number that is none becomes None (JSON has no NaN)."""
        return {key: _finite(value) for key, value in asdict(self).items()}

    @classmethod
    def from_plain(cls, values: dict[str, Any]) -> Snapshot:
        """The inverse of `plain`; names of a newer version are left out."""
        return cls(**{k: v for k, v in values.items() if k in cls.__dataclass_fields__})


def _finite(value: Any) -> Any:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dict):
        return {k: _finite(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(v) for v in value]
    return value


class Tracker:
    """Folds rows' times and events into a snapshot. Bounded memory; no clock."""

    def __init__(self, first: Snapshot, band: BandTable) -> None:
        self._shown = first
        self._table = band
        self._cycles: deque[ev.CycleDone] = deque(maxlen=64)
        self._pumping: tuple[float, float, float] | tuple[None, None, None] = (None, None, None)
        self._band: tuple[float | None, dict[str, Any]] = (None, {})
        self._flight: ev.FlightStarted | None = None
        self._pumps = 0
        self._fix: ev.SpeedFix | None = None
        self._heard: deque[tuple[float, int]] = deque(maxlen=RATE_PIECES)
        self._time, self._samples = 0.0, 0
        self._faults: dict[str, int] = {}
        self._sensor_fault: str | None = None
        self._rotation_at = -math.inf
        self._training = TrainingShown()

    @property
    def start(self) -> str:
        """How the outing starts, as chosen so far."""
        return self._shown.start

    @property
    def time(self) -> float:
        """The engine's own time [s]: no stamp astray moves it, nor a sensor's clock that is set anew."""
        return self._time

    def rows(self, rows: Sequence[ev.Row], time: float | None) -> None:
        """The engine has taken these, and its own time is now `time`."""
        if time is None:
            return
        kinds = [row[0] for row in rows]
        if ev.GYRO in kinds:
            self._rotation_at = time
        self._samples += kinds.count(ev.ACCEL)
        if time > self._time or not self._heard:
            self._heard.append((time, self._samples))
        self._time = time

    def tell(self, command: Command) -> None:
        """A command that the engine took."""
        given = command.given
        if command.name in _PHASES:
            self._set(phase=_PHASES[command.name])
        known = {k: given[k] for k in ("start", "focus", "lead") if k in given}
        if command.name == "mute":
            known["muted"] = given["on"]
        self._set(**known)

    def events(self, events: Iterable[ev.Event]) -> None:
        for e in events:
            self._training.fold(e)
            if isinstance(e, ev.CycleDone):
                self._cycles.append(e)
                self._pumping = self._figures()
                self._sensor_fault = None
                if self._flight is not None and e.number >= self._flight.first_cycle:
                    self._pumps += 1
            elif isinstance(e, ev.SpeedFix):
                self._fix = e
            elif (fold := _FOLDS.get(type(e))) is not None:
                fold(self, e)

    def _set(self, **changes: Any) -> None:
        self._shown = replace(self._shown, **changes)

    def _attempt_started(self, e: ev.AttemptStarted) -> None:
        self._set(motion="attempt", attempts=self._shown.attempts + 1, summary=None, rest_from_s=None)

    def _attempt_ended(self, e: ev.AttemptEnded) -> None:
        self._set(motion="moving", rest_from_s=e.time)

    def _flight_started(self, e: ev.FlightStarted) -> None:
        self._flight = e
        self._pumps = sum(c.number >= e.first_cycle for c in self._cycles)
        self._set(motion="flight", last_flight_s=None)

    def _flight_ended(self, e: ev.FlightEnded) -> None:
        self._flight = None
        seconds = e.time - e.start
        best = max(self._shown.best_s, seconds)
        self._set(motion="moving", flights=self._shown.flights + 1, flight_pumps=e.pumps, last_flight_s=seconds)
        self._set(best_s=best, summary=None)  # its word is still to come: that of the flight before is none of it

    def _cue(self, e: ev.Cue) -> None:
        self._set(last_cue={"kind": e.kind, "reason": e.reason, "t_s": e.time})

    def _summary(self, e: ev.Summary) -> None:
        told = {
            "flight": e.flight,
            "figures": [list(f) for f in e.figures],
            "spoken": list(e.spoken),
            "sentence": e.sentence,
        }
        self._set(summary=told)

    def _fault(self, e: ev.Fault) -> None:
        self._faults[e.kind] = e.count
        if e.kind in ("stuck", "rate_halved", "clock_jump"):  # silence is seen as long as it lasts
            self._sensor_fault = e.kind

    def _calm(self, e: ev.Event) -> None:
        if self._shown.motion == "moving":
            self._set(motion="quiet")

    def _stirred(self, e: ev.Event) -> None:
        if self._shown.motion == "quiet":
            self._set(motion="moving")

    def _figures(self) -> tuple[float, float, float]:
        """Cadence, push share and size of the last pumps: worked out when one comes, not each time it is shown."""
        recent = list(self._cycles)[-RECENT:]
        cadence = 1 / median([c.period for c in recent])
        return cadence, median([c.push_share for c in recent]), median([c.size_g for c in recent])

    def _band_at(self, speed: float | None) -> dict[str, Any]:
        if self._band[0] != speed or not self._band[1]:
            self._band = (speed, _shown_band(self._table.at(speed), speed is None))
        return self._band[1]

    def snapshot(self, now: float, **changes: Any) -> Snapshot:
        """The value to show at sensor time `now` [s], with what the shell knows besides."""
        last = self._cycles[-1] if self._cycles else None
        if last is None or now - last.time > max(1.6, 2.5 * last.period):
            self._pumping = (None, None, None)
        cadence, push_share, size = self._pumping
        flying = self._flight
        age = None if self._fix is None else now - self._fix.time
        fresh = age is not None and age <= SPEED_OLD_S
        speed = self._fix.speed if self._fix is not None and fresh else None
        heard, hz = bool(self._heard) and now - self._heard[-1][0] < 2.0, None
        silent = bool(self._heard) or "silent" in self._faults
        if heard and (samples := self._heard[-1][1] - self._heard[0][1]) >= 10:
            hz = samples / (self._heard[-1][0] - self._heard[0][0])
        return replace(
            self._shown,
            time_s=now,
            cadence_hz=cadence,
            push_share=push_share,
            size_g=size,
            band=self._band_at(speed),
            flight_s=None if flying is None else max(0.0, now - flying.time),
            flight_pumps=self._pumps if flying is not None else self._shown.flight_pumps,
            sensor=self._sensor_fault or ("ok" if heard else "silent" if silent else "waiting"),
            sensor_hz=hz,
            rotation=now - self._rotation_at < 2.0,
            faults=dict(self._faults) or None,
            speed_m_s=speed,
            speed_age_s=age,
            land=self._training.plain,
            **changes,
        )


_PHASES = {"arm": "armed", "start": "going", "pause": "paused"}

_FOLDS: dict[type, Any] = {
    ev.AttemptStarted: Tracker._attempt_started,
    ev.AttemptEnded: Tracker._attempt_ended,
    ev.FlightStarted: Tracker._flight_started,
    ev.FlightEnded: Tracker._flight_ended,
    ev.Cue: Tracker._cue,
    ev.Summary: Tracker._summary,
    ev.Fault: Tracker._fault,
    ev.Calm: Tracker._calm,
    ev.Still: Tracker._calm,
    ev.Stirred: Tracker._stirred,
}


def _shown_band(band: Band, cruise: bool) -> dict[str, Any]:
    names = ("lo", "target", "hi", "share_lo", "share_hi", "size_needed", "speed", "reason")
    return {**{name: getattr(band, name) for name in names}, "cruise": cruise}
