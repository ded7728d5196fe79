"""Motion that is drawn, not simulated, piece by piece at 1 kHz: on foot, at a start's end and in the water."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from cadence_coach.core.units import G

DT = 1e-3
"""[s] step of the motion."""
PI = np.pi
Array = np.ndarray


def eased(x: Array) -> Array:
    """0 to 1 with level ends."""
    x = np.clip(x, 0, 1)
    return x * x * (3 - 2 * x)


def samples(seconds: float) -> int:
    return max(int(seconds / DT), 1)


def phase(seconds: float) -> Array:
    """0 to 1 over a stretch."""
    m = samples(seconds)
    return np.arange(m) / m


@dataclass
class Story:
    """Motion at 1 kHz, piece by piece, with what is true of it.

    parts: vertical, fore and side specific force [g], pitch and roll [rad], speed [m/s], in the water (0 or 1).
    """

    rng: np.random.Generator
    parts: list[tuple[Array, ...]] = field(default_factory=list)
    length: int = 0
    pitch: float = 0.1
    roll: float = 0.0
    speed: float = 0.0
    kicks: list[tuple[float, float]] = field(default_factory=list)
    """Time [s] and size of what makes a phone ring."""
    pumps: list[dict[str, Any]] = field(default_factory=list)
    flights: list[dict[str, Any]] = field(default_factory=list)
    attempts: list[dict[str, Any]] = field(default_factory=list)

    @property
    def now(self) -> float:
        return self.length * DT

    def whole(self) -> list[Array]:
        """The seven columns of `parts`, each [n]."""
        return [np.concatenate(column) for column in zip(*self.parts, strict=True)]

    def wobble(self, m: int, tau: float) -> Array:
        """Noise, SD about 1, straight between draws tau [s] apart."""
        k = max(int(m * DT / tau) + 3, 4)
        return np.interp(np.linspace(0, k - 1, m), np.arange(k), self.rng.standard_normal(k))

    def wobbles(self, m: int, *size_tau: float) -> list[Array]:
        return [size * self.wobble(m, tau) for size, tau in zip(size_tau[::2], size_tau[1::2], strict=True)]

    def kick(self, low: float, high: float) -> None:
        self.kicks.append((self.now, self.rng.uniform(low, high)))

    def add(
        self, n: Array, fore: Array | None = None, side: Array | None = None, pitch: Array | float = 0.0,
        roll: Array | float = 0.0, *, to: float | None = None, to_roll: float | None = None,
        speed: float | None = None, wet: float = 0.0, blend: float = 0.6,
    ) -> None:  # fmt: skip
        """One more piece; pitch and roll swing about a mean that goes over to `to` and `to_roll` within blend [s]."""
        m = len(n)
        t, none = np.arange(m) * DT, np.zeros(m)
        b = eased(t / blend)
        tilt = 0.0 if to is None else to - self.pitch
        bank = 0.0 if to_roll is None else to_roll - self.roll
        gain = 0.0 if speed is None else speed - self.speed
        v = self.speed + gain * eased(t / (m * DT))
        self.parts.append((
            n, none if fore is None else fore, none if side is None else side, self.pitch + tilt * b + pitch,
            self.roll + bank * b + roll, v, np.full(m, wet),
        ))  # fmt: skip
        self.pitch, self.roll, self.speed = self.pitch + tilt * b[-1], self.roll + bank * b[-1], v[-1]
        self.length += m

    # --- on foot and in the water ---

    def stand(self, sec: float) -> None:
        r, m = self.rng, samples(sec)
        n, *others = self.wobbles(m, 0.01, 0.3, 0.015, 0.4, 0.015, 0.4, 0.04, 1.0, 0.03, 1.0)
        self.add(1 + n, *others, to=r.normal(0.08, 0.06), to_roll=r.normal(0, 0.04), speed=0.0)
        if r.random() < 0.25:  # fidgets
            e = np.sin(PI * phase(r.uniform(0.5, 1.5)))
            n, *others = (e * x for x in self.wobbles(len(e), 0.25, 0.12, 0.3, 0.15, 0.3, 0.15, 0.5, 0.4, 0.4, 0.4))
            self.add(1 + n, *others)

    def steps(
        self, count: int, rate: float, size: float, duty: float | None, heel: float, speed: float,
        *, two: float = 0.15, lean: float = 0.1, cv: float = 0.03,
    ) -> None:  # fmt: skip
        """Steps at rate [Hz]: walking, size [g], or with a duty factor running; heel [g] of the strike; two: how
        unlike left and right are."""
        r = self.rng
        second, second_at, ring = r.uniform(0.1, 0.5), r.uniform(-2, 2), r.uniform(12, 25)
        fore, side = r.uniform(0.3, 1.0) * size, r.uniform(0.1, 0.5) * size
        uneven, fore_at = r.uniform(0, two), r.uniform(-2, 2)
        for i in range(count):
            period = max(0.2, (1 + cv * r.standard_normal()) / rate)
            x, sign = phase(period), (-1) ** i
            a = size * (1 + 0.08 * r.standard_normal()) * (1 + uneven * sign)
            if duty is None:
                n = 1 + a * (np.sin(2 * PI * x) + second * (np.sin(4 * PI * x + second_at) - np.sin(second_at)))
            else:
                d = np.clip(duty + 0.04 * r.standard_normal(), 0.4, 0.92)
                low = r.uniform(0, 0.25)
                high = (1 - low * (1 - d)) / (d * 2 / PI)
                n = np.where(x < d, low + (high - low * 0.6) * np.sin(PI * np.clip(x / d, 0, 1)), low)
                n += 1 - n.mean()
            t = x * period
            n = n + heel * r.uniform(0.5, 1.4) * np.exp(-t / 0.03) * np.sin(2 * PI * ring * t)
            self.kick(0.1, 0.6)
            strike = 0.5 * heel * np.exp(-t / 0.03) * np.sin(2 * PI * ring * 1.2 * t)
            sway = sign * np.sin(PI * x)
            self.add(
                n, fore * np.sin(2 * PI * x + fore_at) - strike, side * sway, roll=0.05 * sway,
                to=lean, speed=speed, blend=0.3,
            )  # fmt: skip

    def walk(self, sec: float) -> None:
        r = self.rng
        rate = r.uniform(1.4, 2.2)
        count = max(2, int(sec * rate))
        self.steps(count, rate, r.uniform(0.1, 0.45), None, r.uniform(0, 0.7), rate * 0.7, two=0.25)

    def soft_walk(self, sec: float, *, wading: bool) -> None:
        """On sand or in socks: no heel strikes, both legs nearly alike; or to the knee in water, slower."""
        r = self.rng
        rate, size = (
            (r.uniform(0.8, 1.5), r.uniform(0.05, 0.3)) if wading else (r.uniform(1.3, 2.2), r.uniform(0.06, 0.4))
        )
        cv = r.uniform(0.02, 0.08 if wading else 0.04)
        self.steps(max(2, int(sec * rate)), rate, size, None, 0.0, rate * 0.6, two=r.uniform(0, 0.15), cv=cv)

    def bends(self, count: int) -> None:
        """Knee bends in time, slower than anybody pumps."""
        r = self.rng
        period, depth, second, at = r.uniform(1.25, 2.5), r.uniform(0.1, 0.45), r.uniform(0, 0.4), r.uniform(-2, 2)
        lean = r.uniform(0.05, 0.5)
        for _ in range(count):
            x = phase(period * (1 + 0.06 * r.standard_normal()))
            a = depth * (1 + 0.1 * r.standard_normal())
            n = 1 - a * (np.sin(2 * PI * x) + second * (np.sin(4 * PI * x + at) - np.sin(at)))
            self.add(n, 0.05 * self.wobble(len(x), 0.3), pitch=lean * np.sin(PI * x) ** 2, speed=0.0)

    def ride(self, sec: float) -> None:
        """Sitting in a boat: chop that comes nearly in time, a motor, slams."""
        r, m = self.rng, samples(sec)
        t = np.arange(m) * DT
        p = 2 * PI * np.cumsum(r.uniform(0.6, 1.8) * (1 + r.uniform(0.05, 0.2) * self.wobble(m, 0.7))) * DT
        a = r.uniform(0.03, 0.3) * (0.8 + 0.4 * self.wobble(m, 1.5)).clip(0)
        n = a * (np.sin(p) + r.uniform(0, 0.5) * np.sin(2 * p + r.uniform(-3, 3)))
        n += r.uniform(0, 0.06) * np.sin(2 * PI * r.uniform(20, 45) * t)
        for at in r.uniform(0, sec, r.poisson(0.15 * sec)):
            n += r.uniform(0.2, 1.2) * np.exp(-(((t - at) / r.uniform(0.02, 0.06)) ** 2))
        more, fore, side, pitch, roll = self.wobbles(m, 0.03, 0.15, 0.06, 0.4, 0.06, 0.4, 0.08, 0.8, 0.08, 0.8)
        self.add(1 + n + more, fore + 0.4 * a * np.cos(p), side, pitch, roll, to=r.uniform(-0.4, 0.5), speed=5.0)

    def leap(self, air: float, drop: float) -> float:
        """Push off and fall for air [s], landing drop [m] lower. Returns the speed down at landing [m/s]."""
        r = self.rng
        push = r.uniform(0.15, 0.28)
        x, v0 = phase(push), G * air / 2 - drop / air
        if v0 > 0:
            s = np.sin(PI * x)
            self.add(1 + v0 / (G * samples(push) * DT * 2 / PI) * s, 0.2 * s, to=r.uniform(0.1, 0.3))
        else:
            self.add(1 - 0.5 * eased(x))
        m = samples(air)
        n = r.uniform(0.0, 0.1) + 0.03 * self.wobble(m, 0.05)
        self.add(n, pitch=r.normal(0, 0.1) * np.sin(PI * np.arange(m) * DT / air))
        self.kick(0.3, 1.0)
        return float(max(G * air - max(v0, 0.0), 0.5))

    def splash(self, end: str) -> None:
        """What follows the last pump: a coast, a fall or a touch-down, then the first seconds in the water."""
        r, fall = self.rng, end == "fall"
        if end == "coast_out":
            m = samples(r.uniform(1.0, 5.0))
            n, fore = self.wobbles(m, 0.02, 0.6, 0.02, 0.5)
            self.add(0.99 + n, fore, speed=self.speed * 0.6)
        if fall or r.random() < 0.4:
            m = samples(r.uniform(0.12, 0.4))
            last, low, b = float(self.parts[-1][0][-1]), r.uniform(0.05, 0.5), eased(np.arange(m) * DT / 0.1)
            self.add(last * (1 - b) + low * b, *self.wobbles(m, 0.1, 0.1, 0.1, 0.1))
            top = r.uniform(0.8, 3.5)
        else:
            top = r.uniform(0.1, 0.9)
        x = phase(r.uniform(0.06, 0.18))
        tumble = r.uniform(0.3, 2.2) * r.choice([-1, 1])
        self.kick(0.2, 1.0)
        s = top * np.sin(PI * x)
        self.add(1 + top * np.sin(PI * x**0.7), -r.uniform(0.1, 1.0) * s, r.normal(0, 0.4) * s, speed=self.speed * 0.4)
        m = samples(r.uniform(1.0, 3.0))
        t = np.arange(m) * DT
        dying = np.exp(-t / r.uniform(0.4, 1.2))
        n = 0.25 * self.wobble(m, 0.15) + r.uniform(0.05, 0.3) * np.sin(2 * PI * r.uniform(0.5, 1.4) * t)
        fore, side, pitch, roll = self.wobbles(m, 0.3, 0.12, 0.3, 0.12, 0.2, 0.8, 0.2, 0.8)
        self.add(
            1 + dying * n, dying * fore, dying * side, pitch * eased(t), roll * eased(t),
            to=tumble * r.uniform(0.3, 1) if fall else r.uniform(-0.3, 0.6),
            to_roll=tumble * r.normal(0, 0.6) if fall else r.normal(0, 0.2),
            speed=0.3, wet=1.0, blend=r.uniform(0.4, 1.2),
        )  # fmt: skip

    def swim(self, sec: float) -> None:
        r, m = self.rng, samples(sec)
        t = np.arange(m) * DT
        p = 2 * PI * np.cumsum(r.uniform(0.4, 1.15) * (1 + 0.06 * self.wobble(m, 2.0))) * DT
        a = r.uniform(0.04, 0.28) * (1 + 0.2 * self.wobble(m, 1.5))
        e = eased(t / 0.8) * eased((t[-1] - t) / 0.8)
        n = a * np.cos(p) * r.uniform(0.3, 1) + 0.3 * a * np.cos(2 * p + r.uniform(-3, 3)) + 0.03 * self.wobble(m, 0.15)
        self.add(
            1 + e * n, e * a * np.cos(p + 1), e * 0.5 * a * np.cos(p / 2), 0.1 * e * np.cos(p),
            r.uniform(0.05, 0.5) * e * np.cos(p / 2), to=r.uniform(0.8, 1.45), to_roll=r.normal(0, 0.1),
            speed=r.uniform(0.6, 1.4), wet=1.0, blend=1.2,
        )  # fmt: skip

    def drift(self, sec: float) -> None:
        """Sitting on the board."""
        r, m = self.rng, samples(sec)
        p = 2 * PI * np.cumsum(r.uniform(0.3, 1.2) * (1 + 0.12 * self.wobble(m, 1.0))) * DT
        n = r.uniform(0.02, 0.14) * np.sin(p) * (0.7 + 0.4 * self.wobble(m, 1.5))
        more, *others = self.wobbles(m, 0.02, 0.2, 0.05, 0.3, 0.05, 0.3, 0.12, 0.8, 0.12, 0.8)
        to, bank = r.uniform(-0.3, 0.6), r.normal(0, 0.2)
        self.add(1 + n + more, *others, to=to, to_roll=bank, speed=0.2, wet=1.0, blend=1.0)

    def climb(self) -> None:
        r = self.rng
        m = samples(r.uniform(2, 5))
        n, t = np.ones(m), np.arange(m) * DT
        for at in np.arange(0.4, m * DT - 1.2, r.uniform(0.8, 1.6)):
            d, a = r.uniform(0.3, 0.7), r.uniform(0.1, 0.6)
            up, down = np.clip((t - at) / d, 0, 1), np.clip((t - at - d) / (d * 1.2), 0, 1)
            n += a * (np.sin(PI * up) - 0.85 * np.sin(PI * down))
        others = self.wobbles(m, 0.1, 0.3, 0.1, 0.3, 0.15, 0.6, 0.15, 0.6)
        self.add(n, *others, to=r.uniform(0.1, 0.5), to_roll=0.0, speed=0.2)

    def dive(self, longest: float) -> None:
        """Leap into the water, up to `longest` [s] in the air, swim back and climb out."""
        r = self.rng
        self.leap(r.uniform(0.2, longest), r.uniform(0.2, 0.9))
        self.splash("fall")
        self.swim(r.uniform(3, 8))
        self.climb()
