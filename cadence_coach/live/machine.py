"""The machine the coach runs on: battery, disk, sound, sensor, watched now and then, told to the engine as faults."""

from __future__ import annotations

import threading
from collections.abc import Callable

from cadence_coach.sound.sinks import Sink
from cadence_coach.store.writer import DISK_LOW, OutingWriter

LOOK_EVERY_S = 30.0
BATTERY_STOP = 8.0
"""Percent: the phone is also the rider's emergency phone. Save, say so, stop."""
BATTERY_LOW = 15.0
BATTERY_COLD = 25.0
COLD_C = 12.0
"""A cold battery gives out suddenly: warned earlier under this water temperature (common practice, no source)."""

FREE_BYTES_LOW = DISK_LOW
FIRST_ROW_S = 3.0
"""A sensor that has not given a sample for so long from the start gives none: it may be switched off (engineering
choice: it takes a fraction of a second to begin). Of one that has, the engine tells silence, by the sensor's time."""


def phone_battery() -> float | None:
    """Percent by plyer; None where the machine does not say."""
    try:
        from plyer import battery

        percent = battery.status.get("percentage")
    except Exception:  # plyer raises whatever a platform raises; a coach without a battery reading coaches all the same
        return None
    return None if percent is None else float(percent)


def battery_fault(percent: float | None, water_c: float | None) -> str | None:
    """The fault that a battery of so many percent is, None when it is fine or unknown."""
    if percent is None:
        return None
    if percent <= BATTERY_STOP:
        return "battery_stop"
    if percent <= BATTERY_LOW:
        return "battery_low"
    if percent <= BATTERY_COLD and water_c is not None and water_c < COLD_C:
        return "battery_cold"
    return None


class Around:
    """Disk, sound output and sensor, looked at by the engine's thread once a second; what has changed is told once."""

    def __init__(self) -> None:
        self.device_lost = False
        self._disk_low = self._deaf = False

    def faults(self, writer: OutingWriter | None, sink: Sink | None, waited_s: float) -> list[str]:
        """writer, sink: None where nothing is kept, nobody listens; waited_s: how long already for the first row."""
        found = []
        low = writer is not None and (writer.free_bytes < FREE_BYTES_LOW or writer.trouble is not None)
        if low and not self._disk_low:
            found.append("disk_low")
        self._disk_low = low
        lost = sink is not None and sink.reason is not None and sink.name != "silent"
        if lost != self.device_lost:
            found.append("device_lost" if lost else "device_back")
        self.device_lost = lost
        if waited_s >= FIRST_ROW_S and not self._deaf:
            self._deaf = True
            found.append("silent")
        return found


class Watch:
    """Looks at the battery in a thread of its own, since a platform may take its time to answer."""

    def __init__(
        self,
        battery: Callable[[], float | None],
        water_c: float | None,
        told: Callable[[str], None],
        every: float = LOOK_EVERY_S,
    ) -> None:
        self.percent: float | None = None
        self._battery = battery
        self._water_c = water_c
        self._told = told
        self._every = every
        self._said: set[str] = set()
        self._ending = threading.Event()
        self._thread = threading.Thread(target=self._run, name="machine", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def close(self) -> None:
        self._ending.set()  # not joined: a platform's answer may never come

    def _run(self) -> None:
        while True:
            self.percent = self._battery()
            fault = battery_fault(self.percent, self._water_c)
            if fault is not None and fault not in self._said:
                self._said.add(fault)
                self._told(fault)
            if self._ending.wait(self._every):
                return
