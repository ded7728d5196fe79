"""Three firm slaps on the pouch, while not aloft: the wish to hear the last word again.

A slap is a blow of a few hundredths of a second that stands out of whatever the body does at the time:

    |a|   ___|___________|___________|_______________        exactly three, 0.2 to 0.8 s apart and even,
                                                             quiet for 0.8 s before and after
          quiet    even      even       quiet

Steps look like it one by one, but they go on: a fourth blow, or one before, and it was walking. A run-up of three
steps and a jump is followed by the landing and by pumping, which are not quiet.

Rows come as the sensor delivers them (50 Hz and more), irregular; at 50 Hz a slap is one sample high, which is enough.
"""

from __future__ import annotations

from collections import deque
from math import nan as NAN

from .events import Event, FlightEnded, FlightStarted, Gap, Slaps
from .units import INFINITY

STANDS_OUT = 1.5
"""A blow stands this far [g] out of the magnitude's running mean (engineering choice: a firm slap on a worn phone
is 2 g and more, a step heard at the trunk 0.5 to 1.3 g)."""
MEAN_S, MOST = 0.25, 0.5
"""Time constant of that running mean [s], and the most [g] that a row may be off it, for it."""
LONGEST_S = 0.06
"""A blow that stands out for longer in all [s], ringing included, is a step or a jump, not a slap."""
SHUT_S = 0.12
"""Ringing after a blow belongs to it for this long [s]."""
APART_S = (0.18, 0.8)
"""From slap to slap [s]: quicker is ringing, slower is three slaps by chance."""
EVEN = 0.5
"""The two distances differ by at most this share of the longer one."""
QUIET_S = 0.8
"""No blow for this long before the first and after the last [s]."""
RESTLESS = 0.9
"""Between and around the slaps the magnitude stays within this of its mean [g], ringing apart: pumping and running
do not."""
RESTLESS_SHARE = 0.15
"""... but for this share of the time."""


class SlapFinder:
    """`front` shows rows to `look`, `hear` takes events of the flights; Slaps come in `found`."""

    def __init__(self) -> None:
        self.found: list[Event] = []
        self._aloft = False
        self.restart()

    def restart(self) -> None:
        """After a gap."""
        self.mean = NAN
        """Running mean of the magnitude [g], NaN while there is none; kept by `front` as well."""
        self._blow_from: float | None = None
        self._blow_at = -INFINITY
        self._lasted = 0.0
        self._last_blow = -INFINITY
        self._slaps: deque[float] = deque(maxlen=4)
        self._restless = 0.0
        self._since = 0.0

    @property
    def tense(self) -> bool:
        """Must `look` see every row? Else only those RESTLESS and more from the mean."""
        return self._blow_from is not None or bool(self._slaps)

    def hear(self, event: Event) -> None:
        """Flights and gaps: aloft nothing is a slap."""
        if isinstance(event, FlightStarted):
            self._aloft = True
        elif isinstance(event, FlightEnded):
            self._aloft = False
        elif isinstance(event, Gap):
            self.restart()

    def look(self, t: float, dt: float, magnitude: float) -> None:
        """A row: time, time since the row before [s], magnitude of the specific force [g]."""
        if self.mean != self.mean or not dt < 1.0:
            self.mean = magnitude
            return
        out = magnitude - self.mean
        away = abs(out)
        # a blow moves the mean little: what stands out counts as the limit only
        self.mean += min(1.0, dt / MEAN_S) * max(-MOST, min(MOST, out))
        if away >= STANDS_OUT:
            if self._blow_from is None:
                self._blow_from, self._lasted = t, 0.0
            self._blow_at = t
            self._lasted += min(dt, LONGEST_S / 2.0)  # a lost sample does not make a slap long
        elif self._blow_from is not None and t - self._blow_at > SHUT_S:
            self._close()
        if away > RESTLESS and t - self._blow_at > SHUT_S:
            self._restless += dt
        if self._slaps and self._blow_from is None and t - self._slaps[-1] > QUIET_S:
            self._judge(t)

    def _close(self) -> None:
        """A blow is over: was it short enough for a slap?"""
        assert self._blow_from is not None
        began, lasted = self._blow_from, self._lasted
        self._blow_from = None
        quiet_before = began - self._last_blow
        self._last_blow = self._blow_at
        if not self._slaps:
            if quiet_before > QUIET_S and lasted <= LONGEST_S:
                self._slaps.append(began)
                self._restless = 0.0
                self._since = began
            return
        self._slaps.append(began if lasted <= LONGEST_S else -INFINITY)  # a long one spoils it

    def _judge(self, t: float) -> None:
        """Quiet again: were there three, even, and was it quiet between?"""
        times = list(self._slaps)
        self._slaps.clear()
        if self._aloft or len(times) != 3:
            return
        first, second = times[1] - times[0], times[2] - times[1]
        lo, hi = APART_S
        even = abs(first - second) <= EVEN * max(first, second)
        if lo <= first <= hi and lo <= second <= hi and even and self._restless <= RESTLESS_SHARE * (t - self._since):
            self.found.append(Slaps(times[0], t))
