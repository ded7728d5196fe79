"""The phone's sensor clock against its monotonic clock, step by step.

Sensor stamps count on while the phone sleeps, the monotonic clock that sound is placed by does not; and a few phones stamp
events by a clock of their own that drifts. So nothing is assumed about the base: the Java side notes the monotonic time at
which each event came, the slow fit of `sound.clocks` joins the two, and here a step (a sleep, a clock set anew) starts it over.
"""

from __future__ import annotations

import math

from cadence_coach.sound.clocks import SlowFit

WINDOW_S = 1.0
"""Of each second only the event that came soonest after its stamp counts: delivery is never early, only late."""
STEP_S = 0.05
"""The soonest event of a second this far off the fit is no jitter."""
LATE_WINDOWS = 3
"""Seconds in a row that must be late by STEP_S before it is a step: a frozen phone delivers late for a while."""


class SensorClock:
    """`add` each block of (stamp, arrived) [s]; `monotonic(t)` and `sensor(m)` convert. `steps` counts new starts."""

    def __init__(self) -> None:
        self.steps = 0
        self._fit = SlowFit()
        self._best: tuple[float, float] | None = None
        self._until = -math.inf
        self._late = 0

    @property
    def known(self) -> bool:
        return self._fit.readings > 0

    @property
    def drift(self) -> float:
        """Seconds that the monotonic clock gains on the sensor's in one second."""
        return self._fit.drift

    def monotonic(self, t: float) -> float:
        """Monotonic time [s] at a sensor time [s]. ValueError before the first event."""
        return self._fit.at(t)

    def sensor(self, monotonic: float) -> float:
        """Sensor time [s] at a monotonic time [s]. ValueError before the first event."""
        return self._fit.back(monotonic)

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
