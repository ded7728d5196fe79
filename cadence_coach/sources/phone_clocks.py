"""The phone's clocks: sensor stamps, time since boot, monotonic.

    sensor stamp --(slow fit)--> since boot --(offset, read between two readings)--> monotonic --(sound.clocks)-->
    audio frame

Android stamps sensor events and fixes with the time since boot, which counts on while the phone sleeps; sound is
placed by the monotonic clock, which does not. They differ by the time asleep: a number, read anew all the time. A few
phones stamp events by a clock of their own that is far off and drifts, so the first step is fitted and not taken for
granted.
"""

from __future__ import annotations

import math

from cadence_coach.sound.clocks import SlowFit

WINDOW_S = 1.0
"""Of each second only the event that came soonest after its stamp counts: delivery is never early, only late."""
STEP_S = 0.05
"""The soonest event of a second this far off the fit is no jitter."""
TIGHT_S = 0.0002
"""Two readings of the monotonic clock this close hold the one between them well enough."""
LATE_WINDOWS = 3
"""Seconds in a row that must be late by STEP_S before it is a step: a frozen phone delivers late for a while."""


class SensorClock:
    """`add` each (stamp, time since boot when it came) [s], `read` the other two clocks; then `monotonic` and `sensor`
    convert.

    `steps` counts how often stamps and time since boot have stepped apart, and the fit began anew.
    """

    def __init__(self) -> None:
        self.steps = 0
        self.offset = 0.0
        self._fit = SlowFit()
        self._best: tuple[float, float] | None = None
        self._until = -math.inf
        self._late = 0

    @property
    def known(self) -> bool:
        return self._fit.readings > 0

    @property
    def drift(self) -> float:
        """Seconds that time since boot gains on the sensor's clock in one second."""
        return self._fit.drift

    def read(self, before: float, boot: float, after: float) -> float:
        """Time since boot read between two readings of the monotonic clock [s]; returns how uncertain that is [s].

        A pair torn apart by a busy machine is not believed unless the offset has moved by more than it could be wrong.
        """
        offset, width = boot - (before + after) / 2, after - before
        if width < TIGHT_S or abs(offset - self.offset) > width:
            self.offset = offset
        return width

    def monotonic(self, t: float) -> float:
        """Monotonic time [s] at a sensor time [s]. ValueError before the first event."""
        return self._fit.at(t) - self.offset

    def sensor(self, boot: float) -> float:
        """Sensor time [s] at a time since boot [s]. ValueError before the first event."""
        return self._fit.back(boot)

    def add(self, stamp: float, arrived: float) -> None:
        if not self.known:
            self._fit.add(stamp, arrived, 0.05)  # at once something to go by, with little weight
        if stamp >= self._until or (self._best and stamp < self._best[0] - WINDOW_S):
            if self._best is not None:
                self._settle(*self._best)
            self._best, self._until = None, stamp + WINDOW_S
        if self._best is None or arrived - stamp < self._best[1] - self._best[0]:
            self._best = (stamp, arrived)

    def _settle(self, stamp: float, arrived: float) -> None:
        """The soonest event of one second goes into the fit, or says that the clocks have stepped apart."""
        off = arrived - self._fit.at(stamp)
        early_step = off < -STEP_S and self._fit.readings > 1  # the very first reading may have been late itself
        self._late = self._late + 1 if off > STEP_S else 0
        if early_step or self._late >= LATE_WINDOWS:
            self.steps += 1
            self._late = 0
            self._fit = SlowFit()
        if self._late == 0:
            self._fit.add(stamp, arrived, 0.001)
