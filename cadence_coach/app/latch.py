"""The lock of the screen on the water: opens when one finger is drawn slowly along an arch, and for nothing that water
does. Pure: touches in, with their time; `share` and `open` out.

What drops, films and streams of water do to a touch screen, and why none of it opens this: they appear in several
places at once (a second touch breaks the try, and the screen must be untouched for a moment before the next); they
jump (a step longer than STEP breaks it); they run down, and never first up and then down (the arch); they come and go
at once or lie still (the way along the arch takes MIN_S at least, no part of it may be quicker, and no rest is longer
than REST_S).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

Point = tuple[float, float]

MIN_S = 1.5
MAX_S = 12.0
REST_S = 1.0
CALM_S = 0.4
"""Nothing may have touched the screen for so long before a try."""
STEP = 0.12
"""Longest step between two positions, as a share of the way; so much may a finger also be ahead of the quickest pace
that is allowed, which waits for nobody who is slower."""
REACH = 0.16
"""How far beside the line a finger may be, as a share of the arch's width."""


def arch(x: float, y: float, width: float, height: float, pieces: int = 48) -> list[Point]:
    """From the left foot up and over to the right foot: half an ellipse, y upwards."""
    middle, half = x + width / 2, width / 2
    turns = (math.pi * (1 - n / pieces) for n in range(pieces + 1))
    return [(middle + half * math.cos(a), y + height * math.sin(a)) for a in turns]


class Latch:
    """`down`, `move`, `up` with a touch's id, time [s] and place; `pass_time(t)` now and then."""

    def __init__(self, path: Sequence[Point]) -> None:
        self.open = False
        self.share = 0.0
        self._down: set[object] = set()
        self._finger: object = None
        self._began = self._moved = self._last = self._allowed = 0.0
        self._touched = -math.inf
        self.lay(path)

    def lay(self, path: Sequence[Point]) -> None:
        """Another arch: the screen was turned. A try that was going on is over."""
        self._path = list(path)
        self._reach = REACH * (max(p[0] for p in path) - min(p[0] for p in path))
        self._break()

    def down(self, touch: object, t: float, at: Point) -> None:
        calm = not self._down and t - self._touched >= CALM_S
        self._down.add(touch)
        self._touched = t
        self._break()
        if calm and math.dist(at, self._path[0]) <= self._reach:
            self._finger, self._began, self._moved, self._last = touch, t, t, t
            self._allowed = STEP

    def move(self, touch: object, t: float, at: Point) -> None:
        self._touched = t
        if touch != self._finger:
            self._break()
            return
        if t - self._moved > REST_S or t - self._began > MAX_S:
            self._break()
            return
        ahead = self._nearest(at)
        self._allowed = min(self._allowed + (t - self._last) / MIN_S, self.share + STEP)
        self._last = t
        if ahead is None or ahead > self._allowed:
            self._break()
            return
        if ahead > self.share:
            self.share, self._moved = ahead, t
        if self.share >= 0.97 and t - self._began >= MIN_S:
            self.open = True

    def up(self, touch: object, t: float) -> None:
        self._down.discard(touch)
        self._touched = t
        self._break()

    def pass_time(self, t: float) -> None:
        """A finger that rests too long has given up, or is no finger."""
        if self._finger is not None and t - self._moved > REST_S:
            self._break()

    def lock(self) -> None:
        self.open = False
        self._down.clear()
        self._break()

    def _break(self) -> None:
        self._finger = None
        if not self.open:
            self.share = 0.0

    def _nearest(self, at: Point) -> float | None:
        """Share of the way at the nearest point of the line that can be reached in one step; None beside it."""
        last = len(self._path) - 1
        first = max(0, math.floor((self.share - STEP) * last))
        beyond = min(last, math.ceil((self.share + STEP) * last))
        where = min(range(first, beyond + 1), key=lambda n: math.dist(at, self._path[n]))
        return where / last if math.dist(at, self._path[where]) <= self._reach else None
