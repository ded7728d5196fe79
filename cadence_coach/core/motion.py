"""What the magnitude of the specific force tells beside the bounces: leaps, blows, calm, the last seconds in short."""

from __future__ import annotations

import math
from collections import deque

from .events import Calm, Event, Impact, Still, Stirred

FREE_FALL_G, FREE_FALL_TIME = 0.4, 0.10
"""A leap: magnitude below this [g] for this long [s]: a body in the air weighs nothing; running steps float
0.1-0.18 s."""
BLOW_G = 2.8
"""A blow: magnitude above this [g] on the 10 ms grid; pumps stay below."""
RAIL_G = 7.5
"""An axis at this [g] or beyond that reads exactly the same twice running stands at the end of its range (8 and 16 g in
phones; one that ends at 4 g is at its end in an ordinary fall, and tells nothing)."""
RAIL_NEAR = 0.1
"""... and belongs to a blow whose highest point is this near [s]."""
HI_RISES, HI_FALLS = 0.5, 0.01
"""Gains of the leaky envelope of the magnitude."""
EARLY = 0.005
CALM_G, CALM_TIME, STILL_G, STILL_TIME = 0.25, 3.0, 0.04, 20.0
BLOCK, BLOCKS = 10, 100
"""The last 10 s are kept in short: blocks of so many grid points, so many of them."""


class Motion:
    """`front` shows points and blocks; collect Impact, Calm, Stirred and Still from `out`. State is bounded."""

    def __init__(self, out: list[Event]) -> None:
        self.out = out
        self.leap_end = -math.inf
        self.leaps: deque[tuple[float, float]] = deque(maxlen=12)  # end, length of free falls
        self.blow: tuple[float, float] | None = None
        self.railed = -math.inf
        """When an axis last stood at the end of its range [s]; `front` says."""
        self.loose = False
        """Is a fall or a blow going on, so that `extreme` must see every point?"""
        self.calmer, self.rougher, self.look_at = CALM_G, math.inf, math.inf
        """`settle` must see a point whose envelope is at the first or under it, over the second, or at or after the
        time of the third."""
        self._falling_since = math.nan
        self._blow_open = False
        self._calm_since = self._still_since = math.nan
        self._calm_said = self._still_said = False
        self._past: deque[tuple[float, float, float]] = deque(maxlen=BLOCKS)  # end, mean square, top

    def extreme(self, time: float, n: float, known: float) -> None:
        """A point that weighs under FREE_FALL_G or over BLOW_G, or while `loose`: time [s], magnitude [g]."""
        if n < FREE_FALL_G:
            if self._falling_since != self._falling_since:
                self._falling_since = time
            elif time - self._falling_since >= FREE_FALL_TIME:
                self.leap_end = time
        elif self._falling_since == self._falling_since:
            if self.leap_end > self._falling_since:
                self.leaps.append((self.leap_end, self.leap_end - self._falling_since))
            self._falling_since = math.nan
        if n > BLOW_G:
            if not self._blow_open or (self.blow and n > self.blow[1]):
                self.blow = (time, n)
            self._blow_open = True
        elif self._blow_open:
            self._blow_open = False
            at, peak = self.blow or (time, n)
            self.out.append(Impact(at, known, peak, abs(self.railed - at) <= RAIL_NEAR))
        self.loose = self._blow_open or self._falling_since == self._falling_since

    def block(self, time: float, square: float, top: float) -> None:
        """BLOCK points are over: time of the last, sum of the squares about 1 g, highest magnitude [g]."""
        self._past.append((time, square / BLOCK, top))

    def settle(self, time: float, envelope: float, known: float) -> None:
        """Calm and stillness, by the leaky envelope of the magnitude about 1 g [g]."""
        if envelope > CALM_G:
            if self._calm_said:
                self.out.append(Stirred(time, known))
            self._calm_since, self._calm_said = math.nan, False
        elif self._calm_since != self._calm_since:
            self._calm_since = time
        elif not self._calm_said and time - self._calm_since >= CALM_TIME:
            self._calm_said = True
            self.out.append(Calm(time, known))
        if envelope > STILL_G:
            self._still_since, self._still_said = math.nan, False
        elif self._still_since != self._still_since:
            self._still_since = time
        elif not self._still_said and time - self._still_since >= STILL_TIME:
            self._still_said = True
            self.out.append(Still(time, known))
        calm_at = math.inf if self._calm_said else self._calm_since + CALM_TIME
        still_at = math.inf if self._still_said else self._still_since + STILL_TIME
        due = min(at for at in (calm_at, still_at, math.inf) if at == at)
        self.look_at = due - EARLY  # rounding: it is looked at a little too soon rather than too late
        self.calmer = CALM_G if envelope > CALM_G else STILL_G if envelope > STILL_G else -math.inf
        self.rougher = math.inf if envelope > CALM_G else CALM_G if envelope > STILL_G else STILL_G

    def restart(self, known: float) -> None:
        """The stream was interrupted for long: nothing is counted across. What was told holds, an open blow is told."""
        if self._blow_open:
            self.extreme(known, 1.0, known)
        self._falling_since, self.loose = math.nan, False
        self._calm_since = self._calm_since if self._calm_said else math.nan
        self._still_since = self._still_since if self._still_said else math.nan
        self.look_at = -math.inf

    # ---- the last seconds, to a tenth of a second ----

    def _between(self, start: float, end: float) -> list[tuple[float, float, float]]:
        return [block for block in self._past if start < block[0] <= end]

    def roughness(self, start: float, end: float) -> float:
        """RMS of the magnitude about 1 g [g]; NaN where nothing is known."""
        blocks = self._between(start, end)
        return math.sqrt(sum(b[1] for b in blocks) / len(blocks)) if blocks else math.nan

    def highest(self, start: float, end: float) -> tuple[float, float]:
        """Time [s] and height [g] of the highest magnitude; (NaN, 0) where nothing is known."""
        blocks = self._between(start, end)
        top = max(blocks, key=lambda b: b[2], default=None)
        return (top[0], top[2]) if top else (math.nan, 0.0)

    def first_rough(self, start: float, above: float) -> float:
        """When it first became rougher than `above` [g, RMS of 0.1 s] after `start`; inf for not yet."""
        return next((b[0] - 0.1 for b in self._past if b[0] > start + 0.1 and b[1] > above * above), math.inf)
