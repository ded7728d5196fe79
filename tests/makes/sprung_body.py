"""A rider's body in `sprung`, piece by piece at FS: on foot, at rest and in the water.

Its columns: n, the vertical specific force [g]; fore and side, what is felt along them [m/s2]; speed [m/s]; pitch and
roll [rad]; yaw, how fast the body turns [rad/s]; buzz, how much the board and the feet rattle [g]; wet, 0-1.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.ndimage import gaussian_filter1d

from .drawn_motion import PI, Array, eased
from .sprung_legs import FS, Rider
from .sprung_train import Train

COLUMNS = ("n", "fore", "side", "speed", "pitch", "roll", "yaw", "buzz", "wet")
POSE, FELT = ("pitch", "roll"), ("n", "fore", "side", "yaw")
"""Columns that go over from the last piece slowly, and at once."""
rad = np.radians


class Stroke(NamedTuple):
    """A way to swim or to paddle: pitch and its swing [degrees], roll [degrees], bob [g], strokes a cycle."""

    pitch: float
    nods: float
    roll: float
    bob: float
    twice: int
    afloat: bool = False
    """On the board, and so dry and faster."""


STROKES = {
    "crawl": Stroke(78, 3, 30, 0.08, 2), "breast": Stroke(62, 10, 3, 0.16, 1), "board": Stroke(66, 3, 5, 0.08, 2),
    "side": Stroke(55, 3, 14, 0.16, 1), "prone": Stroke(70, 3, 7, 0.16, 2, True),
    "kneel": Stroke(22, 3, 9, 0.16, 2, True),
}  # fmt: skip
OWN = ("crawl", "breast", "board", "side")
"""Strokes of which each rider has one."""


def band(r: np.random.Generator, count: int, low: float, high: float) -> Array:
    """Noise between low and high [Hz], SD 1."""
    f = np.fft.rfftfreq(count, 1 / FS)
    waves = (r.normal(size=len(f)) + 1j * r.normal(size=len(f))) * np.exp(-((f / high) ** 4)) * (f > low)
    y = np.fft.irfft(waves, count)
    sd = y.std()
    return y / sd if sd > 0 else y


def bump(count: int, begins: float, width: float, top: float = 0.5) -> Array:
    """A pulse of area 1 [s] from begins on, width long [s], its top at that share of it."""
    t = np.arange(count) / FS - begins
    rising, falling = t / (2 * top * width), 0.5 + (t - top * width) / (2 * (1 - top) * width)
    u = np.clip(np.where(t < top * width, rising, falling), 0, 1)
    return np.sin(PI * u) ** 2 * 2 / width


def clock(seconds: float) -> Array:
    """[s] of each sample."""
    return np.arange(int(seconds * FS)) / FS


class Body:
    """One person through an outing: habits on foot and in the water, and all that has happened so far."""

    def __init__(self, r: np.random.Generator) -> None:
        u = r.uniform
        self.r, self.rider = r, Rider(r)
        self.walking, self.running = u(1.55, 2.1), u(2.45, 3.05)
        """[Hz] steps."""
        self.upright = rad(u(-4, 10))
        """[rad] the pitch of the trunk on foot."""
        self.step, self.step_twice, self.heel = u(0.12, 0.28), u(0.02, 0.10), u(0.1, 0.5)
        """[g] of a walk's two harmonics and of its strike."""
        self.duty = u(0.60, 0.82)
        """Share of a running step on the ground."""
        self.swimming, self.stroke = u(0.55, 0.95), str(r.choice(OWN))
        """[Hz] cycles, and how."""
        self.jump, self.strike = u(0.7, 1.7), u(0.1, 0.9)
        """[m/s] up at a jump; [g] of a running step's strike."""
        self.parts: list[dict[str, Array]] = []
        self.length = 0
        self.tries: list[list[Train]] = []
        """The trains of each try to get going, none or more."""

    @property
    def now(self) -> float:
        return self.length / FS

    def add(self, n: Array, *, blend: float = 0.5, quick: float = 0.04, **columns: Array | float) -> None:
        """One more piece, columns not given being 0. It goes over from the last one within blend [s] in pitch and
        roll, 0.35 s in speed, quick [s] in what is felt."""
        count = len(n)
        piece = {c: np.broadcast_to(np.asarray(columns.get(c, 0.0), float), (count,)).copy() for c in COLUMNS}
        piece["n"] = np.array(n, float)
        if self.parts:
            t, last = np.arange(count) / FS, self.parts[-1]
            for within, over in ((blend, POSE), (0.35, ("speed",)), (quick, FELT)):
                for c in over:
                    piece[c] += (last[c][-1] - piece[c][0]) * (1 - eased(t / within))
        self.parts.append(piece)
        self.length += count

    def whole(self) -> dict[str, Array]:
        """All columns, [n] each. The legs soften even a blow over some ms."""
        columns = {c: np.concatenate([piece[c] for piece in self.parts]) for c in COLUMNS}
        columns["n"] = gaussian_filter1d(np.maximum(columns["n"], 0.0), 0.004 * FS)
        return columns

    # --- on foot ---

    def walk(
        self, seconds: float, *, rate: float | None = None, heavy: float = 1.0, speed: float | None = None,
        wading: bool = False,
    ) -> None:  # fmt: skip
        """rate [Hz] and speed [m/s]: the person's own if None; heavy: a factor of the steps' force."""
        r, t = self.r, clock(seconds)
        count = len(t)
        rate = (rate or self.walking) * r.uniform(0.95, 1.05)
        steps = np.cumsum(rate * (1 + 0.03 * band(r, count, 0.02, 0.6))) / FS
        turn, slow = 2 * PI * steps, np.sin(2 * PI * 0.07 * t + r.uniform(0, 6))
        size = (1 + 0.15 * slow) * heavy * eased(t) * eased((seconds - t) / 0.8)
        along = steps % 1
        swing = self.step * np.cos(turn) + self.step_twice * np.cos(2 * turn + 0.8) + 0.03 * np.cos(PI * steps)
        heel = self.heel * np.exp(-(((along - 0.82) / 0.035) ** 2)) * (0.2 if wading else 1)
        rattle = 0.10 * np.exp(-(((along - 0.88) / 0.06) ** 2)) * size * (0.3 if wading else 1)
        speed = speed or 0.7 * rate * r.uniform(0.9, 1.1)
        self.add(
            1 + size * swing + size * (heel - heel.mean()),
            speed=speed * eased(t / 1.2) * eased(seconds - t),
            fore=size * 0.9 * np.sin(turn + 1), side=size * 0.8 * np.sin(PI * steps),
            pitch=self.upright + rad(2) * np.cos(turn) * size + rad(4) * slow, roll=rad(3) * np.sin(PI * steps),
            yaw=0.15 * np.cos(PI * steps) * size + 0.15 * band(r, count, 0.02, 0.3), buzz=0.012 + rattle,
        )  # fmt: skip

    def run(self, seconds: float, speed: float | None = None) -> float:
        """Steps as of a mass on a spring, ending as the last foot is down for the jump. Returns speed [m/s]."""
        r = self.r
        count = max(round(seconds * self.running), 2)
        period = 1 / self.running * np.exp(r.normal(0, 0.03, count))
        period[:2] *= [1.18, 1.08]
        period = np.clip(period, 1 / 3.05, 1 / 2.3)
        begins = np.concatenate([[0], np.cumsum(period)])
        t, lasts = clock(begins[-1]), begins[-1]
        step = np.clip(np.searchsorted(begins, t, "right") - 1, 0, count - 1)
        along = (t - begins[step]) / period[step]
        duty = np.clip(self.duty * (1 + 0.04 * r.normal(0, 1, count)), 0.55, 0.9)[step]
        ramp = eased((step + 1) / 3)
        down = np.clip(along / duty, 0, 1)
        n = np.where(along < duty, PI / 2 / duty * np.sin(PI * down), 0.0)
        n = 1 + (n - 1) * (0.45 + 0.55 * ramp)
        strike = self.strike * np.exp(-(((along - 0.12) / 0.035) ** 2))
        sway = PI * (step + along)
        speed = speed or r.uniform(2.8, 4.6)
        self.add(
            n + (strike - strike.mean()) * ramp,
            speed=speed * eased(t / max(0.6 * lasts, 0.5) + 0.1),
            fore=-1.8 * np.sin(2 * PI * down) * ramp + speed / max(lasts, 1) * 0.7, side=1.0 * np.sin(sway),
            pitch=self.upright + rad(8) * ramp + rad(2) * np.sin(2 * PI * along), roll=rad(4) * np.sin(sway),
            yaw=0.5 * np.cos(sway) * ramp, buzz=0.02 + 0.2 * np.exp(-(((along - 0.18) / 0.08) ** 2)) * ramp,
        )  # fmt: skip
        return speed

    def stand(self, seconds: float, *, sitting: bool = False, afloat: bool = False) -> None:
        """With shifts of weight, and bending down now and then."""
        r, u, t = self.r, self.r.uniform, clock(seconds)
        count = len(t)
        n = 1 + 0.006 * band(r, count, 0.1, 1.2)
        for _ in range(r.poisson(seconds / 7)):
            at, width, size = u(0, max(seconds - 2, 0.1)), u(0.5, 1.3), u(0.02, 0.13)
            n = n + size * (bump(count, at, width) - bump(count, at + width * 0.9, width)) * width / 2
        bent = np.zeros(count)
        begins = u(0, seconds, r.poisson(seconds / 20))
        for begin, lasts in zip(begins, u(2, 5, 99), strict=False):
            bent = bent + rad(u(10, 55)) * eased((t - begin) / 0.8) * eased((begin + lasts - t) / 0.9)
        if afloat:
            n = n + 0.03 * np.sin(2 * PI * u(0.35, 0.7) * t) + 0.01 * band(r, count, 0.5, 3)
        pitch = self.upright + bent + rad(3) * band(r, count, 0.02, 0.5) + (rad(12) if sitting else 0)
        roll, looking = rad(2) * band(r, count, 0.02, 0.5), np.sin(t / 3) > 0
        yaw = 0.2 * band(r, count, 0.03, 0.5) * looking
        self.add(n, blend=0.9, pitch=pitch, roll=roll, yaw=yaw, buzz=0.01 if afloat else 0.005)

    # --- in the water ---

    def swim(self, seconds: float, how: str | None = None) -> None:
        """how: one of STROKES; the person's own if None."""
        r, t = self.r, clock(seconds)
        count, stroke = len(t), STROKES[how or self.stroke]
        rate = self.swimming * r.uniform(0.9, 1.1)
        turn = 2 * PI * np.cumsum(rate * (1 + 0.06 * band(r, count, 0.02, 0.5))) / FS
        pull = stroke.twice * turn
        bob, size = stroke.bob, 1 + 0.3 * band(r, count, 0.02, 0.3)
        n = 1 + bob * size * np.sin(pull + 1) + 0.4 * bob * np.sin(2 * stroke.twice * turn)
        self.add(
            n + 0.02 * band(r, count, 0.3, 4), blend=1.3, speed=0.85 if stroke.afloat else 0.6,
            fore=(1.2 if stroke.twice == 1 else 0.6) * size * np.sin(pull), side=0.5 * np.sin(turn),
            pitch=rad(stroke.pitch) + rad(stroke.nods) * np.sin(pull + 0.5) + rad(5) * band(r, count, 0.02, 0.3),
            roll=rad(stroke.roll) * np.sin(turn + 0.3), yaw=0.15 * np.sin(turn) + 0.08 * band(r, count, 0.02, 0.4),
            buzz=0.02 + 0.02 * (np.sin(pull) > 0.6), wet=0.2 if stroke.afloat else 1.0,
        )  # fmt: skip

    def climb(self) -> None:
        """Out of the water on to a dock, a board or the beach: pulls, pushes, knocks, and the trunk anywhere."""
        r, u = self.r, self.r.uniform
        seconds = u(3, 9)
        t = clock(seconds)
        count = len(t)
        n = 1 + 0.03 * band(r, count, 0.5, 4)
        for _ in range(r.integers(2, 6)):
            at, width, size = u(0.2, seconds - 1.6), u(0.35, 0.8), u(0.15, 0.7)
            up = bump(count, at, width, u(0.3, 0.6))
            n = n + size * width / 2 * (up - bump(count, at + width, width * u(0.8, 1.2)))
        for _ in range(r.integers(1, 4)):
            size = u(0.2, 1.0) * 0.05
            n = n + size * (bump(count, u(0.5, seconds - 0.5), 0.08) - bump(count, u(0.5, seconds - 0.5), 0.5))
        rising = rad(35) * eased((seconds - t) / seconds)
        self.add(
            np.maximum(n, 0.1), blend=1.2, speed=0.2,
            pitch=self.upright + rising + rad(18) * band(r, count, 0.05, 0.6),
            roll=rad(12) * band(r, count, 0.05, 0.6), yaw=0.5 * band(r, count, 0.05, 0.6),
            buzz=0.03 + 0.08 * (band(r, count, 0.2, 1.5) > 1.2), wet=0.8,
        )  # fmt: skip

    def drift(self, seconds: float) -> None:
        """Floating, finding the board, getting one's breath."""
        r, u, t = self.r, self.r.uniform, clock(seconds)
        count = len(t)
        waves = 0.06 * np.sin(2 * PI * u(0.4, 0.9) * t + u(0, 6)) * (1 + 0.5 * band(r, count, 0.02, 0.4))
        self.add(
            1 + waves + 0.025 * band(r, count, 0.3, 4), blend=0.8, speed=0.1,
            pitch=rad(u(0, 50)) + rad(12) * band(r, count, 0.03, 0.5), roll=rad(10) * band(r, count, 0.03, 0.5),
            yaw=0.4 * band(r, count, 0.03, 0.5), buzz=0.02, wet=1.0,
        )  # fmt: skip
