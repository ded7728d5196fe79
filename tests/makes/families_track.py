"""A string of pieces of motion in outings of `families`, and the curves that pieces are made of."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline

from .drawn_motion import PI, Array

FS = 500
"""Samples a second of all motion here."""
COLUMNS = ("up", "fore", "side", "lean", "bank", "nod", "rock", "yaw", "speed", "sky")
FLIGHT = 3
"""Pumps that a try must have to be a flight."""


def samples(seconds: float) -> int:
    return max(1, round(float(seconds) * FS))


def hump(n: int, power: float = 1.0, early: float = 0.5) -> Array:
    """A half-sine to this power whose top, 1, lies this part of the way along."""
    u = (np.arange(n) + 0.5) / n
    if early != 0.5:
        u = u ** (np.log(0.5) / np.log(early))
    return np.sin(PI * u) ** power


def scaled(shape: Array, impulse: float) -> Array:
    """The shape with this integral [s g]."""
    return shape * impulse * FS / shape.sum()


def bump(seconds: float, impulse: float, power: float = 1.0, early: float = 0.5) -> Array:
    """A hump with this integral [s g]."""
    return scaled(hump(samples(seconds), power, early), impulse)


def taper(n: int, seconds: float = 0.4) -> Array:
    """1, but 0 at both ends, within so many seconds."""
    u = np.minimum(np.arange(n), np.arange(n)[::-1]) / samples(seconds)
    return np.clip(u, 0, 1)


@dataclass(frozen=True)
class Try:
    """A try to get going: when [s] its pumps were meant to begin and their pushes to end, how it began and ended."""

    onsets: Array
    push_ends: Array
    start: str
    end: str


class Track:
    """The pieces so far. Columns: specific force up, fore and side (left) [g]; lean (forward) and bank that the trunk
    comes to; nod and rock, its swings about them [degrees]; yaw [degrees/s]; speed [m/s]; sky (1: satellites are
    seen, 0: not)."""

    def __init__(self, r: np.random.Generator) -> None:
        self.r = r
        self.pieces: dict[str, list[Array]] = {k: [] for k in COLUMNS}
        self.length = 0
        self.lean, self.bank, self.speed = 5.0, 0.0, 0.0
        self.tries: list[Try] = []
        self.knocks: list[int] = []
        """Samples at which something hits."""
        self.blind: list[tuple[float, float]] = []
        """From when to when [s] there is no fix."""

    @property
    def now(self) -> float:
        return self.length / FS

    def wander(self, n: int, hz: float, rms: float) -> Array:
        """Smooth noise up to about this frequency."""
        knots = max(4, int(n / FS * 2 * hz) + 4)
        noise = CubicSpline(np.linspace(-1e-9, n + 1, knots), self.r.normal(size=knots))
        return np.asarray(rms * 1.15 * noise(np.arange(n)))

    def turning(self, n: int, cadence: float, hz: float, rms: float) -> Array:
        """Phase [rad] at a cadence [Hz] that strays by the share rms."""
        return 2 * PI * np.cumsum(cadence * (1 + self.wander(n, hz, rms))) / FS

    def add(
        self, up: Array, fore: Array | float = 0.0, side: Array | float = 0.0, *, lean: Array | float | None = None,
        bank: Array | float | None = None, nod: Array | float = 0.0, rock: Array | float = 0.0,
        yaw: Array | float = 0.0, speed: Array | float | None = None, sky: float = 1.0, join: bool = True,
    ) -> None:  # fmt: skip
        """One more piece; None: as the last one ended. join: a small step of the vertical is made a decay."""
        if join and self.length:
            step = self.pieces["up"][-1][-1] - up[0]
            if abs(step) < 0.13:
                up = up + step * np.exp(-np.arange(len(up)) / FS / 0.07)
        lean = self.lean if lean is None else lean
        bank = self.bank if bank is None else bank
        speed = self.speed if speed is None else speed
        for k, x in zip(COLUMNS, (up, fore, side, lean, bank, nod, rock, yaw, speed, sky), strict=True):
            self.pieces[k].append(np.broadcast_to(np.asarray(x, float), (len(up),)))
        self.lean, self.bank, self.speed = (float(self.pieces[k][-1][-1]) for k in ("lean", "bank", "speed"))
        self.length += len(up)

    def whole(self) -> dict[str, Array]:
        return {k: np.concatenate(pieces) for k, pieces in self.pieces.items()}
