"""The chain in `chained`: pieces of motion one after the other at FS, and the shapes that several of them share.

A piece's columns, forward, left and up being level: up, fore and left, the specific force of the rider's body [g]; lean
and roll of the trunk [rad], forward and to the right; swing [rad], what a pump adds to the lean; speed [m/s]; wet,
splashes by those of a board that runs; turn [rad/s], how fast the body turns to the left.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.signal import butter, sosfilt

from .drawn_motion import PI, Array

FS = 1000
"""[Hz] of the motion."""
GRAVITY = 9.81
"""[m/s2] of this make, of which its g are."""
COLUMNS = ("up", "fore", "left", "lean", "roll", "swing", "speed", "wet", "turn")


class Meant(NamedTuple):
    """A pump as its rider meant it: when it begins, how long the push and all of it take [s]."""

    onset: float
    push: float
    period: float


class Attempt(NamedTuple):
    """A try to fly, of no pumps or more."""

    pumps: list[Meant]
    started_by: str
    ended_by: str


def along(count: int) -> Array:
    """0 to 1 in the middle of each of so many samples."""
    return (np.arange(count) + 0.5) / count


def hump(u: Array, skew: float, third: float = 0.0) -> Array:
    """A bump over u from 0 to 1, zero at both ends, positive between; skew moves its top, third > 0 flattens it."""
    bent = u + skew * u * (1 - u)
    return np.asarray(np.sin(PI * bent) + third * np.sin(3 * PI * bent))


def band(r: np.random.Generator, count: int, low: float, high: float, rms: float) -> Array:
    """Noise between low and high [Hz], of that RMS in the long run: a short stretch may hold less or more."""
    before = int(1.2 * FS / low) + 300  # until the filter has forgotten that it was at rest
    sections = butter(2, [low, high], "bandpass", fs=FS, output="sos")
    noise = sosfilt(sections, r.standard_normal(count + before))[before:]
    return np.clip(noise * rms / np.sqrt(2.22 * (high - low) / FS), -3 * rms, 3 * rms)


class Chain:
    """What has happened so far. r draws all that is by chance; rough: the water and the phone's seat, 0-1."""

    def __init__(self, r: np.random.Generator, rough: float) -> None:
        self.r, self.rough, self.length = r, rough, 0
        self.columns: dict[str, list[Array]] = {name: [] for name in COLUMNS}
        self.kicks: list[tuple[float, float]] = []
        """When [s] and how hard [g] the pouch is set ringing."""
        self.attempts: list[Attempt] = []

    @property
    def now(self) -> float:
        """[s]"""
        return self.length / FS

    def u(self, low: float, high: float) -> float:
        return self.r.uniform(low, high)

    def band(self, count: int, low: float, high: float, rms: float) -> Array:
        return band(self.r, count, low, high, rms)

    def add(self, up: Array, **columns: Array | float) -> None:
        """One more piece, columns not given being 0. Nothing is blended here: flesh and trunk smooth it later."""
        for name, parts in self.columns.items():
            column = up if name == "up" else columns.get(name, 0.0)
            parts.append(np.broadcast_to(np.asarray(column, float), up.shape))
        self.length += len(up)

    def bump(self, seconds: float, height: float, skew: float = 0.3, **columns: Array | float) -> None:
        """One force over 1 g of that height [g], or under it."""
        self.add(1 + height * hump(along(max(int(seconds * FS), 20)), skew), **columns)

    def air(self, seconds: float, level: float, **columns: Array | float) -> None:
        """Off the ground, or nearly; level [g]."""
        self.add(level + 0.02 * np.sin(np.arange(int(seconds * FS)) / FS * 40), **columns)

    def whole(self) -> dict[str, Array]:
        """Each column from the first piece to the last."""
        return {name: np.concatenate(parts) for name, parts in self.columns.items()}
