"""The phone that this runs on as a source: acceleration, rotation, satellite speed, headset button.

Python asks Java, never the other way round: a Python listener costs fifty microseconds an event and can crash the
process when it is collected; a Java one costs a tenth of a microsecond, and a block of a hundred events is a numpy
array in one call. Java classes are looked up when the source is opened: do it on the thread that Java started Python
on, others do not find them.
"""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Iterator
from typing import Any

import numpy as np

from cadence_coach.core.events import ACCEL, FIX, GYRO, Row
from cadence_coach.errors import CouldNot, Refused
from cadence_coach.sources.phone_clocks import SensorClock
from cadence_coach.sources.phone_rows import (
    BUTTON_RECORD,
    FIX_RECORD,
    NS,
    SENSOR_RECORD,
    RowMerger,
    from_the_first,
    unpack,
)

RATE_HZ = 100
RATES_HZ = (50, 200)
POLL_S = 0.02
"""While somebody waits for the next rows; the shell asks when it likes (`poll`)."""
IDLE_S = 0.25
"""Without rows an empty list comes this often, so that the shell can see to its deadlines [s]."""
SENSOR_ROOM, FIX_ROOM = 16384, 256
"""Records that wait in Java: 40 s of two sensors at 200 Hz, four minutes of fixes."""
FIX_PERIOD_MS = 1000
WORST_PLACE_M = 50.0
"""A place that is stated to be less certain is none: it would call back a rider who is near, or put the start where
it is not (engineering choice: a third of the turn-back distance, half of it in cold water)."""

LOCATION_STATES = ("waiting for satellites", "running", "switched off", "not allowed", "no receiver")


def open(rest: str = "") -> PhoneSource:
    """phone: or phone:RATE with a rate of 50 to 200 [Hz]."""
    try:
        rate = int(rest) if rest else RATE_HZ
    except ValueError:
        rate = 0
    if not RATES_HZ[0] <= rate <= RATES_HZ[1]:
        raise Refused(
            f"phone:{rest}: the sensor rate must be {RATES_HZ[0]} to {RATES_HZ[1]} Hz; leave it out for {RATE_HZ}"
        )
    try:
        from jnius import autoclass
    except (ImportError, KeyError, OSError) as error:
        raise CouldNot(
            f"phone: only a phone has these sensors ({error}); name a recording, or sim:KIND:SEED"
        ) from error
    return PhoneSource(autoclass, rate)


class PhoneSource:
    """See `sources`; live only, so progress() is None. `monotonic(t)` says when a row's time was on the monotonic
    clock."""

    def __init__(self, autoclass: Any, rate: int = RATE_HZ) -> None:
        self._phone = Phone = autoclass("cadencecoach.phone.Phone")
        context = Phone.context()
        SensorBatcher = autoclass("cadencecoach.phone.SensorBatcher")
        LocationSink = autoclass("cadencecoach.phone.LocationSink")
        HeadsetButton = autoclass("cadencecoach.phone.HeadsetButton")
        self.name = "phone"
        self.notes: list[str] = []
        self.rate = rate
        self._sensors = SensorBatcher(context, SENSOR_ROOM)
        self._location = LocationSink(context, FIX_ROOM)
        self._button = HeadsetButton(context)
        self.clock = SensorClock()
        self._merger = RowMerger(rotation=self._sensors.hasGyroscope())
        self._first: int | None = None
        self._early = np.empty(0, SENSOR_RECORD)  # what came before that is known
        self._dropped = self._fixes_dropped = 0
        self._closed = False
        self._lock = threading.Lock()
        if not self._sensors.hasAccelerometer():
            raise CouldNot("phone: it has no accelerometer; another phone or a logger can record, see `import`")
        if not self._sensors.start(1_000_000 // rate, 0):
            raise CouldNot("phone: the accelerometer did not start; close other apps that use it, or restart the phone")
        if not self._sensors.hasGyroscope():
            self.notes.append("no gyroscope: which way is up is known less well")
        self._location.start(FIX_PERIOD_MS)
        self._button.start()
        self.meta: dict[str, Any] = {
            "device": Phone.model(),
            "accelerometer": self._sensors.name(),
            "range_m_s2": float(self._sensors.range()),
            "rate_hz": rate,
        }

    @property
    def start_s(self) -> float:
        """The sensor's own time at the rows' time 0 [s]; 0 before the first sample."""
        return (self._first or 0) / NS

    def __iter__(self) -> Iterator[list[Row]]:
        return self

    def __next__(self) -> list[Row]:
        """The next rows; after IDLE_S without any an empty list. Ends once close() has been called, with what
        waited."""
        waited = 0.0
        while True:
            if self._closed:
                rows = self._merger.rest()
                if rows:
                    return rows
                raise StopIteration
            rows = self.poll()
            if rows or waited >= IDLE_S:
                return rows
            time.sleep(POLL_S)
            waited += POLL_S

    def poll(self) -> list[Row]:
        """What has come since the last call; does not wait."""
        with self._lock:  # the shell closes from another thread than the one that asks
            now = self._fetch()
            return self._merger.take(now) if self._first is not None else []

    def _fetch(self) -> float:
        """Empties the rings of Java; gives back the sensor time at which that was [s]."""
        self._take_sensors()
        now = self.now()  # the clocks, before fixes are dated by them
        if self._first is not None:
            self._take_fixes()
        return now

    def now(self) -> float:
        """Sensor time at this moment [s from the first sample]; 0 before it."""
        before, boot, after = (ns / NS for ns in self._phone.clocks())
        self.clock.read(before, boot, after)
        return self.clock.sensor(boot) if self.clock.known else 0.0

    def monotonic(self, t: float) -> float:
        """Monotonic time [s] at a row's time [s]."""
        return self.clock.monotonic(t)

    def progress(self) -> None:
        return None

    def trouble(self) -> dict[str, int]:
        """Samples and fixes that Java had to drop because nobody fetched them, and steps between the clocks."""
        return {"dropped": self._dropped, "fixes_dropped": self._fixes_dropped, "clock_steps": self.clock.steps}

    def location_state(self) -> str:
        return LOCATION_STATES[self._location.state()]

    def presses(self) -> list[tuple[float, int]]:
        """Presses of the headset button since the last call: monotonic time [s], key code."""
        _, records = unpack(self._button.drain().tostring(), BUTTON_RECORD)
        return [(down / NS, key) for down, key in records.tolist()]

    def close(self) -> None:
        with self._lock:
            if self._closed:
                return
            self._sensors.stop()
            self._location.stop()
            self._button.stop()
            self._fetch()
            self._closed = True

    def _take_sensors(self) -> None:
        self._dropped, records = unpack(self._sensors.drain().tostring(), SENSOR_RECORD)
        if not len(records):
            return
        if self._first is None:
            self._first, records = from_the_first(np.concatenate([self._early, records]))
            if self._first is None:
                self._early = records
                return
        times = ((records["stamp"] - self._first) / NS).tolist()
        for t, arrived in zip(times, (records["arrived"] / NS).tolist(), strict=True):
            self.clock.add(t, arrived)
        kinds = [GYRO if kind else ACCEL for kind in records["kind"].tolist()]
        self._merger.add([(k, t, *v) for k, t, v in zip(kinds, times, records["xyz"].tolist(), strict=True)])

    def _take_fixes(self) -> None:
        self._fixes_dropped, records = unpack(self._location.drain().tostring(), FIX_RECORD)
        rows: list[Row] = []
        for r in records:
            came = self.clock.sensor(int(r["arrived"]) / NS)
            fixed = came - (int(r["arrived"]) - int(r["fixed"])) / NS
            speed, lat, lon, accuracy, heading = (
                float(r[n]) for n in ("speed", "lat", "lon", "speed_accuracy", "heading")
            )
            if r["place_accuracy"] > WORST_PLACE_M:
                lat = lon = math.nan
            rows.append((FIX, came, fixed, speed, lat, lon, accuracy, heading))
        self._merger.add(rows)
