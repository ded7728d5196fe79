"""What happens to the body and the pouch over a whole outing, at 1 kHz, put together from pieces."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from cadence_coach.sim.waveform import DT, smooth

CHANNELS = ("n", "fore", "side", "shake", "pitch", "roll", "turn", "speed", "wet", "height")


@dataclass
class Piece:
    """A stretch of motion. `n`, `fore`, `side`: specific force of the body in g in its heading's frame, up, ahead,
    left; `shake` vertical shaking of the pouch alone [g]; `pitch` (ahead), `roll` [rad]; `turn` [rad/s]; `speed`
    [m/s]; `wet` 1 where no satellite is seen; `height` of the body [m], drawn only where truth needs it. `blows`:
    (time from the start of the piece, strength in g) of what makes the pouch ring."""

    n: np.ndarray
    fore: np.ndarray
    side: np.ndarray
    shake: np.ndarray
    pitch: np.ndarray
    roll: np.ndarray
    turn: np.ndarray
    speed: np.ndarray
    wet: np.ndarray
    height: np.ndarray
    blows: list[tuple[float, float]] = field(default_factory=list)

    def __len__(self) -> int:
        return len(self.n)

    @property
    def t(self) -> np.ndarray:
        return np.arange(len(self.n)) * DT


def bump(t: np.ndarray, start: float, width: float) -> np.ndarray:
    """A half-sine of height 1 from `start` for `width` seconds, 0 outside."""
    x = (t - start) / width
    return np.where((x > 0) & (x < 1), np.sin(np.pi * np.clip(x, 0, 1)), 0.0)


def wander(rng: np.random.Generator, size: int, step: float) -> np.ndarray:
    """Smooth noise of unit standard deviation that changes over about `step` seconds."""
    knots = max(int(size * DT / step) + 4, 4)
    coarse = rng.standard_normal(knots)
    at = np.arange(size) * DT / step + rng.random()
    i = at.astype(int)
    f = smooth(at - i)
    return (coarse[np.minimum(i, knots - 1)] * (1 - f) + coarse[np.minimum(i + 1, knots - 1)] * f) * 1.15


class Track:
    """Pieces in order; keeps the pose and speed so that the next piece starts where the last one ended."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng
        self.pieces: list[Piece] = []
        self.size = 0
        self.pitch = self.roll = self.speed = 0.0
        self.blows: list[tuple[float, float]] = []
        self._whole: dict[str, np.ndarray] | None = None

    @property
    def now(self) -> float:
        return self.size * DT

    def piece(
        self, seconds: float, *, pitch: float | None = None, roll: float | None = None, speed: float | None = None,
        blend: float = 0.7, wet: bool = False, size: int | None = None,
    ) -> Piece:  # fmt: skip
        """A quiet piece that moves from the present pose [rad] and speed to the given one within `blend` seconds."""
        size = max(round(seconds / DT), 1) if size is None else size
        s = smooth(np.arange(size) * DT / blend)
        to = lambda now, end: now + ((now if end is None else end) - now) * s  # noqa: E731
        zeros = np.zeros
        return Piece(
            np.ones(size), zeros(size), zeros(size), zeros(size), to(self.pitch, pitch), to(self.roll, roll),
            zeros(size), to(self.speed, speed), np.full(size, float(wet)), zeros(size),
        )  # fmt: skip

    def add(self, piece: Piece, *, pose: tuple[float, float] | None = None) -> float:
        """Append; returns the time the piece starts at. pose: the pose to go on from, without what sways about it."""
        start = self.now
        if self.pieces:
            _join(self.pieces[-1], piece)
        self.pieces.append(piece)
        self.size += len(piece)
        self.pitch, self.roll = pose or (float(piece.pitch[-1]), float(piece.roll[-1]))
        self.speed = float(piece.speed[-1])
        self.blows += [(start + t, g) for t, g in piece.blows]
        return start

    def whole(self) -> dict[str, np.ndarray]:
        """All channels over the whole time so far."""
        if self._whole is None or len(self._whole["n"]) != self.size:
            self._whole = {name: np.concatenate([getattr(p, name) for p in self.pieces]) for name in CHANNELS}
        return self._whole


def _join(before: Piece, after: Piece) -> None:
    """Takes jumps of angle and turning rate at a seam out of the first 0.6 s of what follows (cubic Hermite)."""
    seconds = min(0.6, len(after) * DT)
    size = round(seconds / DT)
    x = np.arange(size) / size
    jump, slope = 2 * x**3 - 3 * x**2 + 1, (x**3 - 2 * x**2 + x) * seconds
    for old, new in ((before.pitch, after.pitch), (before.roll, after.roll)):
        if len(old) > 40 and size > 40:
            rate_before, rate_after = (old[-1] - old[-40]) / (39 * DT), (new[39] - new[0]) / (39 * DT)
            off = old[-1] + rate_before * DT - new[0]
            new[:size] += off * jump + float(np.clip(rate_before - rate_after, -6, 6)) * slope
