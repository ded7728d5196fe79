"""Joins the clocks: sensor, monotonic, audio. The wall clock only dates an outing and is not in here.

    sensor time --(bracketed readings or earliest arrivals, slow fit)--> monotonic --(the sink's slow fit)--> audio
    frame

Two quartz clocks differ by an offset and by some tens of parts per million (common practice, no source: 20-100 ppm),
that is 0.1 s in half an hour: enough to spoil a rhythm, so the drift is fitted too. Everything here is pure: it reads
no clock itself, readings are handed in.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass

MEMORY_S = 60.0
"""Readings fade with this time constant: one late reading must not move a rhythm."""
PRIOR_S = 10.0
"""The drift is taken for nil until readings reach over this many seconds."""
LARGEST_DRIFT = 500e-6
"""Beyond any crystal: a larger slope is a mistake of the readings."""
FLOOR_S = 0.0005
"""No single reading is believed better than this."""


@dataclass(frozen=True, slots=True)
class Reading:
    """Two clocks read at one moment: `x` and `y` on their own scales, `width` [s] how far the moment is uncertain."""

    x: float
    y: float
    width: float


def bracketed(other: Callable[[], float], monotonic: Callable[[], float] = time.monotonic, tries: int = 5) -> Reading:
    """Read the other clock between two readings of the monotonic one, several times; the tightest pair counts."""
    best = None
    for _ in range(tries):
        before = monotonic()
        x = other()
        after = monotonic()
        if best is None or after - before < best.width:
            best = Reading(x, (before + after) / 2, after - before)
    assert best is not None
    return best


class SlowFit:
    """y = line in x, by weighted least squares that forgets slowly. `slope` is the nominal one (1, or frames per
    second).

    The sums are kept relative to the last x and to the nominal line, so that hours of large numbers lose no digits. A
    prior holds the drift at 0 until the readings reach far enough; it is never let beyond LARGEST_DRIFT.
    """

    def __init__(self, slope: float = 1.0, memory_s: float = MEMORY_S) -> None:
        self.slope = slope
        self.memory_s = memory_s
        self.readings = 0
        self._x = self._y = 0.0
        self._w = self._wx = self._wd = self._wxx = self._wxd = 0.0
        self._offset = self.drift = 0.0

    def add(self, x: float, y: float, width: float = 0.0) -> None:
        """One reading; `width` [in x's unit, s] is how uncertain it is. x that goes back is ignored."""
        if self.readings == 0:
            self._x, self._y = x, y
        step = x - self._x
        if step < 0 or not math.isfinite(x + y):
            return
        # move the origin along the nominal line to x
        self._y += self.slope * step
        self._x = x
        self._wxx += step * (step * self._w - 2 * self._wx)
        self._wx -= step * self._w
        self._wxd -= step * self._wd
        keep = math.exp(-step / self.memory_s)
        self._w, self._wx, self._wd = keep * self._w, keep * self._wx, keep * self._wd
        self._wxx, self._wxd = keep * self._wxx, keep * self._wxd
        weight = 1.0 / (width * width + FLOOR_S * FLOOR_S)
        self._w += weight
        self._wd += weight * (y - self._y)
        self.readings += 1
        spread = self._wxx + self._w * PRIOR_S**2 - self._wx**2 / self._w
        drift = (self._wxd - self._wx * self._wd / self._w) / spread
        most = LARGEST_DRIFT * self.slope
        self.drift = min(most, max(-most, drift))
        self._offset = (self._wd - self.drift * self._wx) / self._w

    def at(self, x: float) -> float:
        """y at this x. ValueError before the first reading."""
        if self.readings == 0:
            raise ValueError("no reading of the two clocks yet")
        return self._y + self._offset + (self.slope + self.drift) * (x - self._x)

    def back(self, y: float) -> float:
        """x at this y."""
        if self.readings == 0:
            raise ValueError("no reading of the two clocks yet")
        return self._x + (y - self._y - self._offset) / (self.slope + self.drift)


class EarliestArrivals:
    """Sensor stamps against the monotonic time at which samples were handed over.

    Delivery is never early, only late (batches, a busy machine), so of each second the sample that came soonest after
    its stamp is the honest one; only it goes to the fit, and it counts the less the later it is against the fit so
    far (a hold-up). When all are off by more than OFF_S for OFF_WINDOWS, the sensor's clock was set anew, and so is
    the fit. What remains is the shortest delivery delay, some milliseconds at most, constant.
    """

    OFF_S = 0.1
    OFF_WINDOWS = 8

    def __init__(self, window_s: float = 1.0) -> None:
        self.fit = SlowFit()
        self._window_s = window_s
        self._best: tuple[float, float] | None = None
        self._until = -math.inf
        self._off = 0

    def add(self, stamp: float, arrived: float) -> None:
        if stamp < self._until - 2 * self._window_s:
            self._off = self.OFF_WINDOWS  # the sensor's clock went back
            self._until = -math.inf
        if self.fit.readings == 0:
            self.fit.add(stamp, arrived, 0.05)  # at once something to go by, with little weight
        if stamp >= self._until:
            if self._best is not None:
                self._take(*self._best)
            self._best, self._until = None, stamp + self._window_s
        if self._best is None or arrived - stamp < self._best[1] - self._best[0]:
            self._best = (stamp, arrived)

    def _take(self, stamp: float, arrived: float) -> None:
        late = arrived - self.fit.at(stamp)
        self._off = self._off + 1 if abs(late) > self.OFF_S else 0
        if self._off >= self.OFF_WINDOWS:
            self.fit = SlowFit()
            late = self._off = 0
        self.fit.add(stamp, arrived, 0.001 + max(0.0, late))


@dataclass(slots=True)
class Clocks:
    """From an event's time to the frame on which its sound must be placed.

    `sensor`: sensor time -> monotonic [s]. `output_latency_s`: how much later than its frame a sound is heard on this
    output (latency.py); it is taken off, so that the click is heard at the time and not started at it.
    """

    sensor: SlowFit
    output_latency_s: float = 0.0

    def monotonic(self, sensor_time: float) -> float:
        return self.sensor.at(sensor_time)

    def frame(self, sensor_time: float, frame_at: Callable[[float], int]) -> int:
        return frame_at(self.sensor.at(sensor_time) - self.output_latency_s)
