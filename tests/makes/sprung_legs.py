"""Riders of `sprung`: when which leg pushes how hard, and the force on the body that comes of it, cycle by cycle.

A family of riders is a programme of the legs over one cycle: one burst or two, held or sharp, with feet that land on
the board before the push or legs pulled up after it. Muscles follow late. Then the programme is scaled until the body's
mean force is its weight, as momentum wants it, and until the top is the rider's peak. Forces are vertical, in g.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .drawn_motion import PI, Array, eased

FS = 400.0
"""[Hz] of all motion in `sprung`."""
POINTS = 512
"""Of one cycle."""
PHASE = np.arange(POINTS) / POINTS
TOP = 0.42
"""Share of the cycle at which a burst tops, before the cycle is turned to begin at its onset."""
HIGHEST = 2.5
"""[g] that a rider asks of the legs at most."""
SOFT = 6e-4
"""[g²] how roundly the force nears zero where the feet leave the board."""

FAMILIES = (
    "hopper", "two_leg", "squat", "leaper", "stomper", "roller", "bobber", "catcher", "tuck", "sharp", "sharp",
)  # fmt: skip
"""sharp: drawn twice as often as each other one."""
CADENCE = {"squat": (1.12, 1.65), "roller": (1.12, 1.65), "catcher": (1.12, 1.65), "sharp": (1.3, 1.82)}
"""[Hz]; all others 1.15-1.82."""
PEAK = {
    "bobber": (1.45, 1.9), "sharp": (1.8, 2.45), "leaper": (1.8, 2.45), "stomper": (1.7, 2.4), "squat": (1.5, 2.0),
    "tuck": (1.55, 2.1), "other": (1.55, 2.3),
}  # fmt: skip
"""[g]"""
MAY_LAND = ("hopper", "stomper", "roller", "squat", "two_leg")
"""Half of these riders leave the board between pumps, as every leaper does."""


class Rider:
    """One rider: legs, habits and foil, drawn anew until the usual cycle is one that riders do."""

    def __init__(self, rng: np.random.Generator) -> None:
        self._draw(rng)
        while not self._rides():
            self._draw(rng)

    def _draw(self, rng: np.random.Generator) -> None:
        u = rng.uniform
        self.family = str(rng.choice(FAMILIES))
        cadence = u(1.15, 1.82)
        if self.family in CADENCE:
            cadence = u(*CADENCE[self.family])
        self.period = 1 / cadence
        peaks = {family: u(*least_most) for family, least_most in PEAK.items()}
        self.peak = peaks.get(self.family, peaks["other"])
        self.mass, self.gear = u(55, 98), u(5.5, 10)
        """[kg], the board and the foil apart."""
        self.muscle = u(0.008, 0.022)
        """[s] time constant from will to muscle to force, twice in a row."""
        self._draw_legs(rng)
        self._draw_scatter(rng)
        self._draw_foil(rng)

    def _draw_legs(self, rng: np.random.Generator) -> None:
        u = rng.uniform
        self.rise, self.fall, self.power = u(0.13, 0.22), u(0.13, 0.22), u(0.7, 1.2)
        """[s] of a burst's flanks, and its sharpness."""
        self.lag, self.second = u(0.08, 0.15), u(0.65, 1.0)
        """[s] from the first leg to the second, and the second's strength."""
        self.hold, self.narrow, self.short = u(0.07, 0.16), u(0.36, 0.70), u(0.5, 0.8)
        """[s] that a squat is held; shares of the flanks that are left of a sharp push, and of one after a landing."""
        self.landing, self.landing_width, self.landing_lead = 0.0, u(0.025, 0.045), u(0.11, 0.21)
        """Strength of the feet's landing on the board, its width [s], and how long before the top it comes [s]."""
        self.standing = u(0.22, 0.42)
        """How much weight is taken between landing and top."""
        if self.family == "leaper" or (self.family in MAY_LAND and rng.random() < 0.5):
            self.landing = u(0.25, 0.6)
        if self.family == "leaper":
            self.landing = u(0.4, 0.8)
        self.pull, self.pull_after, self.pull_width = 0.0, u(0.16, 0.26), u(0.09, 0.16)
        """Legs pulled up: how strongly, how long after the top [s], how long [s]."""
        if self.family == "tuck" or rng.random() < 0.3:
            self.pull = u(0.2, 0.55)
        self.harmonic, self.harmonic_phase = u(0.05, 0.28), u(-1.2, 1.2)
        self.arms, self.arms_phase = (u(0.02, 0.10), u(0, 6.28)) if rng.random() < 0.5 else (0.0, 0.0)

    def _draw_scatter(self, rng: np.random.Generator) -> None:
        u = rng.uniform
        self.limp, self.limp_period = (u(0.04, 0.12), u(0.005, 0.025)) if rng.random() < 0.2 else (0.0, 0.0)
        """Shares by which every other pump is stronger, and longer."""
        self.cv, self.carry = u(0.022, 0.055), u(0, 0.6)
        """Of the period; and how much of a pump's deviation the next one takes over."""
        self.loose = u(0.02, 0.09)
        """SD of widths and strengths from pump to pump."""

    def _draw_foil(self, rng: np.random.Generator) -> None:
        u = rng.uniform
        self.late = u(0, 0.5)
        """[rad] by which the foil's descent lags behind the force."""
        self.weight = self.mass + self.gear
        self.easiest = u(3.5, 4.2) * np.sqrt(self.weight / 82)
        """[m/s] speed of least drag."""
        self.wanted = self.easiest * u(1.08, 1.32)
        """[m/s]"""
        self.glide_ratio = u(14, 18.5)
        self.lean, self.nod, self.nod_phase = np.radians(u(4, 26)), np.radians(u(1, 5.5)), u(0, 6.28)
        """[rad] of the trunk."""

    def _rides(self) -> bool:
        """Whether cycles without scatter, a little faster and slower, are clean, and the push share no extreme."""
        period = self.period * np.array([0.93, 1.0, 1.07])
        peak = np.array([self.peak * 0.95, self.peak, min(self.peak * 1.05, HIGHEST)])
        made, _ = self.cycles(np.random.default_rng(0), period, peak, 0.0)
        shares = [push_share(n) for n in made]
        return None not in shares and 0.2 < shares[1] < 0.525

    def cycles(self, rng: np.random.Generator, period: Array, peak: Array, loose: float) -> tuple[Array, bool]:
        """Force on the body in each cycle, [K, POINTS] from its onset on, and whether all are clean. Those that are
        not are made again: with less of a landing and another peak, then without scatter."""
        count = len(period)
        landing = np.clip(rng.normal(1, 0.2, count), 0.4, 1.6)
        made, todo = np.empty((count, POINTS)), np.arange(count)
        for again in range(6):
            asked = self._asked(Beats(self, rng, period[todo], loose if again < 3 else 0.0), landing[todo, None])
            made[todo] = [from_onset(n) for n in balanced(asked, peak[todo, None])]
            todo = np.array([i for i in todo if push_share(made[i]) is None], int)
            if not len(todo):
                return made, True
            if again == 3:
                landing[todo] = 1.0
            elif again != 2:
                landing[todo] *= 0.6 if again < 2 else 0.4
            peak = peak.copy()
            peak[todo] = np.clip(peak[todo] * (1.03 if again % 2 else 0.97), 1.45, 2.52)
        return made, False

    def _asked(self, b: Beats, landing: Array) -> Array:
        """What the legs ask for before it is balanced; landing [K, 1]: how hard the feet land, 1 as usual."""
        x = PROGRAMMES.get(self.family, one_burst)(self, b)
        lead = self.landing_lead * b.stretch * b.vary(0.6)
        strength = landing * self.landing * b.vary(1.5)
        x = x + strength * b.burst(b.top - lead, self.landing_width, self.landing_width * 1.5)
        if self.landing:
            x = x + self.standing * landing**0.5 * b.held(b.top - lead, b.top, 0.035, 0.06)
        if self.pull:
            at = b.top + self.pull_after * b.stretch + 0.3 * b.fall
            x = x - self.pull * b.vary(1.5) * b.burst(at, self.pull_width, self.pull_width * 1.4)
        if self.arms:
            x = x + self.arms * np.cos(2 * PI * PHASE[None] + self.arms_phase)
        turning = 2j * PI * np.fft.rfftfreq(POINTS, 1 / POINTS)[None] / b.period
        return np.fft.irfft(np.fft.rfft(x, axis=1) / (1 + turning * self.muscle) ** 2, POINTS, axis=1)


class Beats:
    """Cycles in the making, one a row; what holds for a whole cycle is a column [K, 1]."""

    def __init__(self, rider: Rider, rng: np.random.Generator, period: Array, loose: float) -> None:
        self.rng, self.loose = rng, loose
        self.period = period[:, None]
        self.t = PHASE[None] * self.period
        self.stretch = (self.period / rider.period) ** 0.6
        """A slower pump has slower parts, but less so."""
        self.top = TOP * self.period
        self.rise, self.fall = rider.rise * self.stretch * self.vary(), rider.fall * self.stretch * self.vary()

    def vary(self, much: float = 1.0) -> Array:
        """A factor about 1 for each cycle."""
        return np.exp(np.clip(self.rng.normal(0, 1, self.period.shape), -2.5, 2.5) * self.loose * much)

    def burst(self, top: Array, rise: Array | float, fall: Array | float, power: float = 1.0) -> Array:
        """From 0 up to 1 at top [s] and back, within rise and fall [s]."""
        d = (self.t - top + self.period / 2) % self.period - self.period / 2
        return np.cos(PI / 2 * np.minimum(np.abs(d) / np.where(d < 0, rise, fall), 1.0)) ** (2 * power)

    def held(self, begins: Array, ends: Array, rise: Array | float, fall: Array | float) -> Array:
        """1 from begins to ends [s], eased in before and out after."""
        u = (self.t - begins + rise) % self.period
        return eased(u / rise) * (1 - eased((u - (ends - begins) - rise) / fall))


def one_burst(rider: Rider, b: Beats) -> Array:
    """hopper, leaper"""
    return b.burst(b.top, (rider.short if rider.landing else 1) * b.rise, b.fall, rider.power)


def two_leg(rider: Rider, b: Beats) -> Array:
    apart = rider.lag / 2 * b.stretch
    first = b.burst(b.top - apart, 0.8 * b.rise, 0.8 * b.fall)
    return first + rider.second * b.vary() * b.burst(b.top + apart * b.vary(0.5), 0.8 * b.rise, 0.8 * b.fall)


def squat(rider: Rider, b: Beats) -> Array:
    begins = b.top - rider.hold * b.stretch * b.vary() / 2
    return b.held(begins, b.top + rider.hold * b.stretch * b.vary() / 2, 0.65 * b.rise, 0.5 * b.fall)


def stomper(rider: Rider, b: Beats) -> Array:
    """Early and steep."""
    return b.burst(b.top - 0.05, 0.5 * b.rise, 1.5 * b.fall, rider.power)


def roller(rider: Rider, b: Beats) -> Array:
    """Late, after a long rise."""
    return b.burst(b.top + 0.06, 1.6 * b.rise, 0.55 * b.fall, rider.power)


def bobber(rider: Rider, b: Beats) -> Array:
    """A wave and its second harmonic."""
    turn = PHASE[None] - TOP
    second = rider.harmonic * b.vary(2) * 0.5 * np.cos(4 * PI * turn + rider.harmonic_phase)
    return 0.5 + 0.5 * np.cos(2 * PI * turn) + second


def sharp(rider: Rider, b: Beats) -> Array:
    """A narrow push, and half a cycle later a little weight on the board."""
    push = b.burst(b.top, rider.narrow * b.rise, rider.narrow * b.fall, 1.1)
    return push + 0.12 * b.burst(b.top + 0.5 * b.period, 0.3 * b.period, 0.3 * b.period)


def catcher(rider: Rider, b: Beats) -> Array:
    """Weight is caught before the push."""
    push = b.burst(b.top, 0.8 * b.rise, b.fall, rider.power)
    return push + 0.2 * b.vary() * b.burst(b.top - 1.5 * b.rise - 0.03, 0.10, 0.10)


def tuck(rider: Rider, b: Beats) -> Array:
    """Some weight stays on the board all through the glide."""
    push = b.burst(b.top, 1.15 * b.rise, 0.75 * b.fall, rider.power)
    return push + 0.16 * b.vary() * b.held(b.top - 0.5 * b.period * 0.8, b.top - 0.1, 0.16 * b.period, 0.1)


PROGRAMMES: dict[str, Callable[[Rider, Beats], Array]] = {
    "two_leg": two_leg, "squat": squat, "stomper": stomper, "roller": roller, "bobber": bobber, "sharp": sharp,
    "catcher": catcher, "tuck": tuck,
}  # fmt: skip


def balanced(asked: Array, peak: Array) -> Array:
    """Scaled and shifted until each cycle's mean is 1 g (momentum theorem) and its top the peak [K, 1]. Feet cannot
    pull: where the legs ask for less than nothing they are off the board."""
    x = asked - asked.mean(1, keepdims=True)
    gain = (peak - 1) / x.max(1, keepdims=True)
    load = np.ones_like(gain)
    for i in range(40):
        z = load + gain * x
        root = np.sqrt(z * z + SOFT)
        n, slope = 0.5 * (z + root), 0.5 * (1 + z / root)
        load = load + np.clip((1 - n.mean(1, keepdims=True)) / slope.mean(1, keepdims=True), -0.3, 0.3)
        if i < 32:  # the mean has the last word
            gain = gain * np.clip(1 + 0.6 * (peak - n.max(1, keepdims=True)) / (peak - 1), 0.8, 1.25)
    z = load + gain * x
    return 0.5 * (z + np.sqrt(z * z + SOFT))


def from_onset(n: Array) -> Array:
    """The cycle turned to begin where it rises through 1 g to its top."""
    at, back = int(np.argmax(n)), 0
    while n[(at - back) % POINTS] >= 1 and back < POINTS:
        back += 1
    under = (at - back) % POINTS
    a, b = n[under], n[(under + 1) % POINTS]
    onset = under + (1 - a) / (b - a) if b > a else under
    return np.interp((np.arange(POINTS) + onset) % POINTS, np.arange(POINTS + 1), np.append(n, n[0]))


def push_share(n: Array) -> float | None:
    """Of a cycle from its onset on; None where it is not one clear push of 1.4-2.6 g: no hollow of the push under
    1.065 g, no hump of the glide over 0.935 g."""
    over = n >= 1.0
    over[0] = True
    end = POINTS if over.all() else int(np.argmin(over))
    if end < 4 or over[end:].any():
        return None
    push, glide = n[:end], n[end:]
    hollow = (push[1:-1] < push[:-2]) & (push[1:-1] <= push[2:])
    hump = (glide[1:-1] > glide[:-2]) & (glide[1:-1] >= glide[2:])
    if (push[1:-1][hollow] < 1.065).any() or (glide[1:-1][hump] > 0.935).any():
        return None
    # creeping along 1 g an onset would have no one reading: soon it must be 0.03 g off on both sides
    after_end = n[min(end + POINTS // 25, POINTS - 1)]
    if n[POINTS // 50] < 1.03 or n[-POINTS // 25] > 0.965 or after_end > 0.965:
        return None
    share = end / POINTS
    return share if 0.19 <= share <= 0.54 and 1.42 <= n.max() <= 2.58 and n.min() > -0.01 else None
