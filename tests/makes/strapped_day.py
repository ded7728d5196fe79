"""A rider's outing in `strapped`, piece by piece: on land, in the water, and how flights end.

The columns of its motion, at FS: over, the vertical specific force above 1 g [g]; fore and side [g]; lean and bank, the
trunk's slow pitch and roll [degrees]; nod, its pitch within a cycle [degrees]; yaw [degrees]; chop [g]; speed [m/s];
wet, 0-1.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d

from .drawn_motion import PI, Array
from .strapped_rider import FS, GRAVITY, bump, draw_rider, half_sine, middles

COLUMNS = ("over", "fore", "side", "nod", "chop", "lean", "bank", "yaw", "speed", "wet")
Range = tuple[float, float]
Column = Array | float


@dataclass(frozen=True)
class Try:
    """To get going, with pumps or without."""

    started_by: str
    ended_by: str
    onsets: list[float]
    """[s] where they were meant to be: what the body rounds off moves them a little."""
    until: float
    """[s] end of the last pump's period."""


def clock(n: int) -> Array:
    """[s] of n samples."""
    return np.arange(n) / FS


def faded(t: Array, lasts: float, within: float) -> Array:
    """0 at both ends, 1 but for within of them; all [s]."""
    return np.clip(np.minimum(t, lasts - t) / within, 0, 1)


def scaled(shape: Array, impulse: float) -> Array:
    """The shape with this integral [s g]."""
    return shape * (impulse * FS / shape.sum())


def blow(impulse: float, peak: float, rises: float, falls: float, least: int = 70) -> Array:
    """A bump (its exponents) with this integral [s g], about as high as peak [g], of no fewer samples than least."""
    n = max(least, int(impulse * PI / 2 / peak * FS))
    return scaled(bump(middles(n), rises, falls), impulse)


def haul(r: np.random.Generator, over: Array, seconds: Range, height: Range) -> None:
    """The body is pulled up somewhere, and comes to rest again, in place."""
    n = int(r.uniform(*seconds) * FS)
    i = r.integers(0, len(over) - 2 * n)
    pull = half_sine(n) * r.uniform(*height)
    over[i : i + n] += pull
    over[i + n : i + 2 * n] -= pull


class Day:
    """All that has happened so far, and the generator that goes on to what comes next."""

    def __init__(self, r: np.random.Generator, kind: str, rough: float) -> None:
        """rough: 0-1."""
        self.r, self.rough, self.rider = r, rough, draw_rider(r, kind)
        self.parts: dict[str, list[Array]] = {name: [] for name in COLUMNS}
        self.tries: list[Try] = []
        self.yaw, self.length = r.uniform(0, 360), 0
        self.speed = 0.0
        """[m/s] at the end, of those aloft."""

    @property
    def now(self) -> float:
        """[s]"""
        return self.length / FS

    def whole(self) -> dict[str, Array]:
        return {name: np.concatenate(parts) for name, parts in self.parts.items()}

    def add(
        self, over: Array, *, fore: Column = 0, side: Column = 0, nod: Column = 0, chop: Column = 0.01,
        lean: Column = 6, bank: Column = 0, speed: Column = 0, wet: Column = 0, turn: float = 0,
    ) -> None:  # fmt: skip
        """One more piece; turn: of the whole body [degrees/s]."""
        n = len(over)
        yaw = self.yaw + turn * np.arange(n) / FS
        piece = (over, fore, side, nod, chop, lean, bank, yaw, speed, wet)
        for parts, column in zip(self.parts.values(), piece, strict=True):
            parts.append(np.broadcast_to(np.asarray(column, float), n))
        self.yaw += turn * n / FS
        self.length += n

    def _cycles(self, seconds: float, hz: float, spread: float) -> Array:
        """How many are over at each sample, of about hz; spread: SD over mean of the pace, drawn each second."""
        pace = np.interp(clock(int(seconds * FS)), np.arange(0, seconds + 1), self.r.normal(0, 1, int(seconds + 2)))
        return np.cumsum(hz * (1 + spread * pace)) / FS

    # --- on land ---

    def stand(self, seconds: float) -> None:
        u = self.r.uniform
        still = np.zeros(int(seconds * FS))
        self.add(still, chop=u(0.004, 0.012), lean=u(0, 10), bank=u(-4, 4), turn=self.r.normal(0, 6))

    def walk(self, seconds: float) -> None:
        r, u, rider = self.r, self.r.uniform, self.rider
        steps = self._cycles(seconds, rider.walk_hz * u(0.95, 1.04), 0.02)
        height = rider.walk_height * u(0.85, 1.1)
        on = faded(clock(len(steps)), seconds, 0.8)
        over = height * np.cos(2 * PI * steps) + height * u(0.2, 0.45) * np.cos(4 * PI * steps + u(-1, 1))
        strikes = np.exp(-((steps + u(0.05, 0.2)) % 1) / 0.05) * u(0.04, 0.18)
        over = over + strikes - strikes.mean()
        self.add(
            over * on, fore=0.12 * np.sin(2 * PI * steps + 0.6) * on, side=0.09 * np.sin(PI * steps) * on,
            nod=1.5 * np.sin(2 * PI * steps) * on, chop=0.02, lean=u(2, 9), bank=u(-5, 5), speed=u(1.0, 1.45) * on,
            turn=r.normal(0, 8),
        )  # fmt: skip

    def run(self, seconds: float, hz: float, slow: float, fast: float) -> None:
        """Whole steps, from slow to fast [m/s]; the first ones are softer."""
        duty = self.r.uniform(0.62, 0.8)
        count = max(2, round(seconds * hz))
        steps = [self._step(hz, duty, 0.55 + 0.45 * min(1, (i + 1) / 3)) for i in range(count)]
        over = np.concatenate(steps)
        swings = [0.2 * np.sin(2 * PI * np.arange(len(step)) / len(step) + 0.8) for step in steps]
        fore = np.concatenate(swings) + (fast - slow) / GRAVITY / (len(over) / FS)
        cycles = clock(len(over)) * hz
        self.add(
            over, fore=fore, side=0.12 * np.sin(PI * cycles), nod=2.5 * np.sin(2 * PI * cycles + 1), chop=0.03,
            lean=self.r.uniform(8, 18), speed=np.linspace(slow, fast, len(over)),
        )  # fmt: skip

    def _step(self, hz: float, duty: float, force: float) -> Array:
        """Float, then contact, a half-sine with the strike of the heel; duty: the contact's share."""
        r, u = self.r, self.r.uniform
        n = int(FS / hz * (1 + r.normal(0, 0.03)))
        contact = int(n * duty)
        lands = n - contact
        over = np.full(n, -1.0)
        push = half_sine(contact)
        over[lands:] += push * n / push.sum()
        heel = int(u(0.012, 0.025) * FS)
        strike = np.zeros(n)
        strike[lands : lands + heel] = half_sine(heel) * u(0.2, 0.8)
        over += strike - strike.mean()
        return over * force * u(0.7, 0.85)

    def bend_knees(self, times: int) -> None:
        u = self.r.uniform
        hz = u(0.4, 0.8)
        t = clock(int(times / hz * FS))
        height, turns = u(0.1, 0.24), 2 * PI * hz * t
        over = height * np.sin(turns) + 0.35 * height * np.sin(4 * PI * hz * t + u(0, 6))
        self.add(
            over * faded(t, t[-1], 0.6), fore=0.05 * np.sin(turns), nod=u(5, 14) * np.sin(turns + 2), chop=0.02,
            lean=u(5, 15),
        )  # fmt: skip

    # --- in the water ---

    def swim(self, seconds: float) -> None:
        r, u = self.r, self.r.uniform
        hz, height = u(0.5, 1.05), u(0.05, 0.16)
        strokes = self._cycles(seconds, hz, 0.06)
        on = faded(clock(len(strokes)), seconds, 1)
        over = height * np.sin(2 * PI * strokes) + 0.4 * height * np.sin(4 * PI * strokes + 1)
        self.add(
            over * on, fore=0.12 * np.sin(2 * PI * strokes + 1) * on, side=0.1 * np.sin(PI * strokes + 2) * on,
            nod=6 * np.sin(2 * PI * strokes) * on, chop=0.03 + 0.03 * self.rough, lean=u(45, 78),
            bank=u(-15, 15) + 12 * np.sin(PI * strokes), speed=u(0.4, 0.9) * on, wet=1, turn=r.normal(0, 10),
        )  # fmt: skip

    def climb(self) -> None:
        """Out of the water, by ladder, beach or a dock's edge: hauls, none like another."""
        r, u = self.r, self.r.uniform
        n = int(u(3, 6) * FS)
        over = np.zeros(n)
        for _ in range(r.integers(2, 5)):
            haul(r, over, (0.35, 0.7), (0.12, 0.3))
        self.add(
            over, fore=gaussian_filter1d(over, 80), chop=0.04,
            lean=np.interp(np.arange(n), [0, n * 0.4, n], [40, 30, 8]), bank=u(-10, 10), speed=0.3, wet=0.3,
            turn=r.normal(0, 15),
        )  # fmt: skip

    # --- how flights end ---

    def coast(self, seconds: float) -> None:
        n, slower = int(seconds * FS), self.speed * 0.75
        self.add(
            np.zeros(n), chop=0.012 + 0.016 * self.rough, lean=self.rider.lean + 2,
            speed=np.linspace(self.speed, slower, n), bank=self.r.uniform(-4, 4), turn=self.r.normal(0, 8),
        )  # fmt: skip
        self.speed = slower

    def fall(self, *, low: bool = False) -> None:
        """Off the board; the water takes what the drop gave. low: from a board that has come down."""
        r, u = self.r, self.r.uniform
        dropping = int(u(0.2, 0.35) * FS)
        borne = u(0.05, 0.3)
        drop = -np.clip(np.arange(dropping) / 50, 0, 1) * (1 - borne)
        splash = blow(-drop.sum() / FS, u(0.7, 1.4) if low else u(1.0, 3.2), 0.7, 1.6, 60)
        over = np.concatenate([drop, splash, self._tumble()])
        n, under = len(over), dropping + len(splash)
        side, tilt = int(r.choice([-1, 1])), u(30, 70)
        fore, sideways = np.zeros(n), np.zeros(n)
        fore[dropping:under] = -splash * u(0.2, 0.6)
        sideways[dropping:under] = side * splash * u(0.1, 0.6)
        sinks = np.clip((np.arange(n) - dropping * 0.3) / under, 0, 1)
        speeds = [self.speed, self.speed * 0.9, 1.2, 0.3]
        self.add(
            over, fore=fore, side=sideways, chop=0.05 + 0.06 * sinks, lean=8 + sinks * tilt,
            bank=side * sinks * u(0, 30), speed=np.interp(np.arange(n), [0, dropping, under, n], speeds), wet=sinks,
            turn=r.normal(0, 30),
        )  # fmt: skip

    def _tumble(self) -> Array:
        """Under water."""
        r, u = self.r, self.r.uniform
        t = clock(int(u(1.2, 2.6) * FS))
        over = r.normal(0, 0.2) * np.sin(2 * PI * u(0.5, 1.1) * t + u(0, 6)) * np.exp(-t / 0.9) * np.clip(t / 0.2, 0, 1)
        return over - over.mean()

    def touch_down(self) -> None:
        """The board comes down on the water: drag, a slap or two, the rider sinks and gets off."""
        r, u = self.r, self.r.uniform
        t = clock(int(u(1.2, 2.2) * FS))
        over = u(0.15, 0.45) * np.exp(-t / 0.22) * np.sin(2 * PI * u(2.2, 3.6) * t) * np.clip(t / 0.03, 0, 1)
        self.add(
            over - over.mean(), fore=-u(0.15, 0.4) * np.exp(-t / 0.5) * np.clip(t / 0.08, 0, 1), chop=0.05, lean=10,
            bank=u(-6, 6), speed=self.speed * np.exp(-t / 0.8), wet=0.5,
        )  # fmt: skip
        if r.random() < 0.5:
            self.fall(low=True)
        else:
            n = int(u(1, 2.5) * FS)
            self.add(np.zeros(n), chop=0.05, lean=np.linspace(8, 40, n), bank=u(-10, 10), speed=0.3, wet=0.6)
