"""What the trunk does in outings of `foreign`: a string of pieces at 1 kHz; here those on foot and in the water."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.ndimage import gaussian_filter1d

from cadence_coach.core.units import G

from .foreign_riders import FS, PI, Array, noise

D = PI / 180
"""A degree [rad]."""
BLENDS = {"n": 60, "fore": 90, "side": 90, "pitch": 450, "roll": 450, "speed": 900, "tissue": 100}
"""Samples within which a piece leaves the value that the one before ended with."""


def ease(x: Array | float) -> Array:
    """0 to 1 with level ends."""
    x = np.clip(x, 0, 1)
    return np.asarray(x * x * (3 - 2 * x))


def pulse(count: int, peak: float, skew: float = 0.35) -> Array:
    """Up from 0 to peak at this part of the way, and down again."""
    t = np.arange(count) / count
    up, down = 0.5 - 0.5 * np.cos(PI * t / skew), 0.5 + 0.5 * np.cos(PI * (t - skew) / (1 - skew))
    return peak * np.where(t < skew, up, down)


def bounced(u: Array, duty: float) -> Array:
    """Force [g] of feet that touch the ground for this part of each step, u: of the step gone."""
    return np.where(u < duty, np.sin(PI * np.clip(u / duty, 0, 1)) * PI / 2 / duty, 0)


def padded(x: Array, count: int) -> Array:
    return np.pad(x, (0, count - len(x)))


class Track:
    """The pieces so far, and what is true of them. Columns: vertical, fore and side specific force n, fore, side [g],
    pitch (nose down is positive), roll, yaw [rad], noise of soft tissue [g], speed [m/s], wet (no satellite; 0 or 1),
    splashes [1/s]."""

    def __init__(self, r: np.random.Generator, harsh: float) -> None:
        self.r, self.harsh = r, harsh
        self.pieces: list[dict[str, Array]] = []
        self.length = 0
        self.pumps: list[dict[str, Any]] = []
        self.flights: list[dict[str, Any]] = []
        self.attempts: list[dict[str, Any]] = []
        self.story: list[tuple[float, str]] = []
        """When [s] what began."""
        self.kicks: list[tuple[float, float]] = []
        """When [s] the pouch is knocked, and how hard [g]."""
        self.blind: list[tuple[float, float]] = []
        """From when to when [s] no satellite is had: the beginning of each flight."""
        self.heading = r.uniform(0, 6.28)
        self.knock = r.uniform(0, 0.05 + 0.15 * harsh)
        """[g] by which a push's end knocks the pouch, for 1 g of push."""

    @property
    def now(self) -> float:
        return self.length / FS

    def noise(self, n: int, hz: float, sd: float = 1.0) -> Array:
        return noise(self.r, n, hz, sd)

    def turning(self, n: int, cadence: float, hz: float, sd: float) -> Array:
        """Phase [rad] at a cadence [Hz] that strays by the share sd within 1 / hz [s] or so."""
        return 2 * PI * np.cumsum(cadence * (1 + self.noise(n, hz, sd))) / FS

    def add(
        self, name: str, n: Array, fore: Array | float = 0, side: Array | float = 0, pitch: Array | float = 0,
        roll: Array | float = 0, yaw: Array | float = 0, *, tissue: float = 0.02, speed: Array | float = 0,
        wet: bool = False, splash: float = 0,
    ) -> None:  # fmt: skip
        """One more piece; its yaw is counted from its beginning."""
        given = {
            "n": n, "fore": fore, "side": side, "pitch": pitch, "roll": roll, "yaw": yaw, "tissue": tissue,
            "speed": speed, "wet": wet, "splash": splash,
        }  # fmt: skip
        piece = {k: np.broadcast_to(np.asarray(v, float), (len(n),)).copy() for k, v in given.items()}
        if self.pieces:
            for k, most in BLENDS.items():
                m = min(most, len(n))
                piece[k][:m] += (self.pieces[-1][k][-1] - piece[k][0]) * (1 - ease(np.arange(m) / m))
        self.story.append((round(self.now, 2), name))
        self.pieces.append(piece)
        self.length += len(n)

    def whole(self) -> dict[str, Array]:
        """The columns of all pieces, turns smoothed, yaw from piece to piece without a jump."""
        c = {k: np.concatenate([piece[k] for piece in self.pieces]) for k in self.pieces[0]}
        yaw, base = [], self.heading
        for piece in self.pieces:
            yaw.append(base + piece["yaw"] - piece["yaw"][0])
            base = yaw[-1][-1]
        c["yaw"] = gaussian_filter1d(np.concatenate(yaw), 60)
        return c | {k: gaussian_filter1d(c[k], 45) for k in ("pitch", "roll")}

    # --- on foot ---

    def stand(self, s: float, name: str = "stand") -> None:
        r, m = self.r, int(s * FS)
        self.add(
            name, 1 + self.noise(m, 1.0, 0.008), self.noise(m, 0.8, 0.01), self.noise(m, 0.8, 0.01),
            r.uniform(-5, 20) * D + self.noise(m, 0.25, 2.5 * D), self.noise(m, 0.3, 2 * D), self.noise(m, 0.2, 0.15),
            tissue=0.006,
        )  # fmt: skip

    def walk(self, s: float) -> None:
        r, m = self.r, int(s * FS)
        rate = r.uniform(1.65, 2.15)
        x = self.turning(m, rate, 0.5, 0.025)
        n = r.uniform(0.14, 0.34) * (
            np.cos(x)
            + r.uniform(0.1, 0.45) * np.cos(2 * x + r.uniform(-2, 2))
            + r.uniform(0, 0.2) * np.cos(3 * x + r.uniform(-3, 3))
            + r.uniform(0, 0.18) * np.cos(x / 2 + 1)
        )
        n *= 1 + self.noise(m, 0.6, 0.1)
        gone = (x / 2 / PI + 0.18) % 1
        strike = r.uniform(0.1, 0.5) * np.exp(-gone * r.uniform(12, 22))
        strike = strike * np.sin(2 * PI * r.uniform(9, 16) * gone / rate)
        self.add(
            "walk", 1 + n + strike, 0.12 * np.sin(x + r.uniform(-1, 1)) + 0.05 * np.sin(2 * x), 0.1 * np.sin(x / 2),
            (r.uniform(0, 12) + 2 * np.sin(x)) * D, 3 * D * np.sin(x / 2),
            0.06 * np.sin(x / 2 + 0.5) + self.noise(m, 0.15, 0.25), tissue=0.03, speed=r.uniform(1.1, 1.7),
        )  # fmt: skip

    def run(self, s: float, name: str = "run", speed: float | None = None) -> None:
        r, m = self.r, int(s * FS)
        rate = r.uniform(2.5, 3.0)
        x = np.cumsum(rate * (1 + self.noise(m, 0.6, 0.02))) / FS
        u, duty = x % 1, r.uniform(0.55, 0.8)
        n = gaussian_filter1d(bounced(u, duty), 9) * (1 + self.noise(m, 0.7, 0.05))
        n = n + r.uniform(0.2, 0.7) * np.exp(-u * 14) * np.sin(2 * PI * u * 4.5)
        self.add(
            name, n, 0.2 * np.sin(2 * PI * u + 2.5), 0.12 * np.sin(PI * x),
            (r.uniform(4, 14) + 3 * np.sin(2 * PI * u)) * D, 4 * D * np.sin(PI * x), 0.12 * np.sin(PI * x + 0.4),
            tissue=0.05, speed=speed or r.uniform(2.6, 4.5),
        )  # fmt: skip

    def hop(self, count: int) -> None:
        r = self.r
        rate, duty = r.uniform(1.7, 2.4), r.uniform(0.45, 0.75)
        lasts = [int(FS / rate * (1 + 0.03 * r.standard_normal())) for _ in range(count)]
        u = np.concatenate([np.arange(m) / m for m in lasts])
        n = gaussian_filter1d(bounced(u, duty), 10)
        self.add("hop", n, 0.05 * np.sin(2 * PI * u), 0, (6 + 3 * np.sin(2 * PI * u)) * D, tissue=0.04)

    def knee_bends(self, count: int) -> None:
        rate = self.r.uniform(0.4, 0.7)
        x = 2 * PI * rate * (np.arange(int(count / rate * FS)) / FS)
        size = self.r.uniform(0.12, 0.35)
        n = 1 + size * np.cos(x) - 0.3 * size * np.cos(2 * x)
        self.add("knee bends", n, 0.03 * np.sin(x), 0, (15 - 15 * np.cos(x)) * D, tissue=0.01)

    def leap(self, air: float | None = None, push: float | None = None) -> float:
        """A push of this height [g] and so long in the air [s], drawn when None; the landing speed [m/s]."""
        r = self.r
        air = air or r.uniform(0.22, 0.42)
        m = r.integers(180, 300)
        taken = 1 + pulse(m, push or r.uniform(0.8, 1.7), r.uniform(0.4, 0.65))
        n = np.concatenate([1 - 0.2 * pulse(120, 1, 0.5), taken])
        fore = 0.2 * pulse(len(n), 1, 0.6)
        self.add("take-off", n, fore, 0, r.uniform(0, 15) * D, tissue=0.03, speed=r.uniform(2.5, 4))
        m = int(air * FS)
        self.add(
            "air", r.uniform(0.02, 0.12) + self.noise(m, 3, 0.02), 0, 0,
            r.uniform(-5, 15) * D + self.noise(m, 1, 2 * D), self.noise(m, 1, 3 * D), speed=r.uniform(2.8, 4.2),
        )  # fmt: skip
        return air * G * 0.6

    def dock_jump(self) -> None:
        self.run(self.r.uniform(1, 2.5), "run to jump", 3)
        self.leap(self.r.uniform(0.4, 0.75))
        self.fall(2)

    # --- in the water ---

    def fall(self, speed: float) -> None:
        r, m = self.r, int(self.r.uniform(0.18, 0.42) * FS)
        e = ease(np.arange(m) / m)
        over, aside = r.uniform(-40, 90) * D, r.uniform(-70, 70) * D
        pitch, roll = self.pieces[-1]["pitch"][-1], self.pieces[-1]["roll"][-1]
        self.add(
            "fall", r.uniform(0.08, 0.5) + 0.12 * self.noise(m, 3, 1), self.noise(m, 3, 0.15), self.noise(m, 3, 0.15),
            pitch + over * e, roll + aside * e, r.uniform(-1, 1) * e, tissue=0.04, speed=speed,
        )  # fmt: skip
        hit = pulse(r.integers(90, 220), 1, 0.25)
        self.kicks.append((self.now + 0.03, r.uniform(0.2, 0.8)))
        self.add(
            "splash", 1 + r.uniform(0.8, 4.5) * hit, r.uniform(-1.8, 0.6) * hit, r.uniform(-1.5, 1.5) * hit,
            pitch + over, roll + aside, tissue=0.15, speed=speed * 0.5, wet=True, splash=8,
        )  # fmt: skip
        m = int(r.uniform(0.8, 2.2) * FS)
        self.add(
            "under", 1 + self.noise(m, 1.6, 0.22), self.noise(m, 1.5, 0.25), self.noise(m, 1.5, 0.25),
            r.uniform(10, 70) * D + self.noise(m, 0.7, 20 * D), self.noise(m, 0.7, 25 * D), self.noise(m, 0.5, 0.5),
            tissue=0.06, speed=0.4, wet=True, splash=2,
        )  # fmt: skip

    def swim(self, s: float) -> None:
        r, m = self.r, int(s * FS)
        if r.random() < 0.5:
            x = self.turning(m, r.uniform(0.5, 0.85), 0.3, 0.06)
            self.add(
                "crawl", 1 + r.uniform(0.05, 0.14) * np.sin(2 * x) + self.noise(m, 1.2, 0.05),
                r.uniform(0.05, 0.15) * np.sin(2 * x + 1), 0.08 * np.sin(x), 78 * D + self.noise(m, 0.4, 3 * D),
                r.uniform(20, 42) * D * np.sin(x), 0.06 * np.sin(x), tissue=0.04, speed=r.uniform(0.5, 1.1), wet=True,
                splash=0.4,
            )  # fmt: skip
        else:
            x = self.turning(m, r.uniform(0.45, 0.95), 0.3, 0.08)
            self.add(
                "breast stroke", 1 + r.uniform(0.08, 0.22) * np.sin(x) + 0.06 * np.sin(2 * x + 1),
                r.uniform(0.1, 0.25) * np.sin(x + 1.4), self.noise(m, 0.8, 0.04), (58 + 16 * np.sin(x + 0.5)) * D,
                self.noise(m, 0.5, 5 * D), self.noise(m, 0.2, 0.2), tissue=0.035, speed=r.uniform(0.4, 0.9), wet=True,
                splash=0.3,
            )  # fmt: skip

    def remount(self) -> None:
        m = int(self.r.uniform(4, 9) * FS)
        risen = ease(np.arange(m) / m * 1.6 - 0.3)
        self.add(
            "remount", 1 + self.noise(m, 1.1, 0.16), self.noise(m, 1, 0.2), self.noise(m, 1, 0.18),
            (70 - 50 * risen) * D + self.noise(m, 0.6, 12 * D), self.noise(m, 0.6, 14 * D), self.noise(m, 0.4, 0.6),
            tissue=0.05, speed=0.3, wet=True, splash=0.6,
        )  # fmt: skip

    def paddle(self, s: float) -> None:
        r, m = self.r, int(s * FS)
        x = self.turning(m, r.uniform(0.6, 1.05), 0.3, 0.06)
        self.add(
            "paddle", 1 + r.uniform(0.04, 0.14) * np.sin(x) + 0.03 * np.sin(2 * x) + self.noise(m, 0.6, 0.04),
            r.uniform(0.08, 0.22) * np.sin(x + 1), 0.05 * np.sin(x / 2), 68 * D + self.noise(m, 0.4, 4 * D),
            7 * D * np.sin(x / 2), 0.05 * np.sin(x / 2), speed=r.uniform(0.8, 1.6), splash=0.2,
        )  # fmt: skip

    def sit(self, s: float) -> None:
        """Astride the board in chop."""
        r, m = self.r, int(s * FS)
        x = self.turning(m, r.uniform(0.3, 0.9), 0.2, 0.15)
        self.add(
            "sit",
            1 + r.uniform(0.03, 0.13) * np.sin(x) * (1 + self.noise(m, 0.2, 0.3)) + self.noise(m, 1, 0.025),
            self.noise(m, 0.7, 0.04), self.noise(m, 0.7, 0.04),
            8 * D + 5 * D * np.sin(x + 1) + self.noise(m, 0.3, 3 * D), self.noise(m, 0.6, 6 * D),
            self.noise(m, 0.1, 0.5), tissue=0.012, speed=0.3, splash=0.1,
        )  # fmt: skip

    def climb_out(self) -> None:
        m = int(self.r.uniform(3, 7) * FS)
        self.add(
            "climb out", 1 + self.noise(m, 0.9, 0.14), self.noise(m, 0.9, 0.1), self.noise(m, 0.9, 0.1),
            30 * D + self.noise(m, 0.5, 14 * D), self.noise(m, 0.5, 9 * D), self.noise(m, 0.3, 0.4), tissue=0.03,
            speed=0.2, splash=0.1,
        )  # fmt: skip

    def between(self) -> None:
        """From one flight's end to the next one's start."""
        r, way = self.r, self.r.integers(0, 4)
        if way == 0:
            self.swim(r.uniform(8, 25))
            self.climb_out()
            self.walk(r.uniform(4, 14))
            self.stand(r.uniform(3, 10))
        elif way == 1:
            self.remount()
            self.paddle(r.uniform(8, 25))
            self.climb_out()
            self.stand(r.uniform(2, 8))
        elif way == 2:
            self.swim(r.uniform(5, 12))
            self.remount()
            self.sit(r.uniform(5, 15))
        else:
            self.remount()
            self.sit(r.uniform(4, 10))
            self.paddle(r.uniform(5, 15))
