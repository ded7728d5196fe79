"""Pushes shorter or longer than half the pump: what they cost, and the band of push shares.

    waveform(share, n) -> n samples of one pump's specific force less 1 g, per unit of the push's height
    harmonic(share, n) -> amplitude of the n-th harmonic per unit of height
    ShapedCycle(setup, speed, cadence, shares).pump(active) -> Shaped
    share_band(setup, speed, cadence) -> ShareBand

The push is a half-sine of height A over share x T, the glide a half-sine of depth A share/(1 - share): mean exactly 1
g. Share 1/2 is the sinusoid of `pumping`. The foil heaves with the fundamental only. Leg power is again speed x mean
drag; the higher harmonics propel nothing and cost induced and shed drag. Estimates, +-30 %.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any

import attrs
import numpy as np

from cadence_coach.foil.drag import induced_factor
from cadence_coach.foil.pumping import Cycle, effort
from cadence_coach.foil.setup import Setup
from cadence_coach.foil.unsteady import shed_loss

SAMPLES = 96
"""A pump is looked at in this many places; the kinked powers are then good to 0.1 %."""
HARMONICS = 10
_STEP = 0.02
SHARES = np.round(np.arange(0.16, 0.7401, _STEP), 6)
NEAR = 1.10
"""The share band is where the cost stays under this x its least: wide, because the optimum is flat."""


def _phase(share: Any, n: int) -> np.ndarray:
    return np.reshape(np.arange(n) / n, (n,) + (1,) * np.ndim(share))


def waveform(share: Any, n: int = SAMPLES) -> np.ndarray:
    """[n, ...] specific force less 1 g over one pump from its onset, per unit of the push's height; 0 < share < 1."""
    t = _phase(share, n)
    push = np.sin(np.pi * t / share)
    glide = -share / (1 - share) * np.sin(np.pi * (t - share) / (1 - share))
    return np.asarray(np.where(t < share, push, glide))


def body_velocity(share: Any) -> np.ndarray:
    """[SAMPLES, ...] integral of `waveform` over time in periods, mean 0; closed form."""
    t = _phase(share, SAMPLES)
    push, glide = -np.cos(np.pi * t / share), np.cos(np.pi * (t - share) / (1 - share))
    return np.asarray(share / np.pi * np.where(t < share, push, glide))


def body_position(share: Any) -> np.ndarray:
    """[SAMPLES, ...] integral of `body_velocity`; its range is share / pi^2."""
    t = _phase(share, SAMPLES)
    push = -((share / np.pi) ** 2) * np.sin(np.pi * t / share)
    glide = share * (1 - share) / np.pi**2 * np.sin(np.pi * (t - share) / (1 - share))
    return np.asarray(np.where(t < share, push, glide))


def harmonic(share: float, n: int = 1) -> float:
    """Amplitude of the n-th harmonic of `waveform`, from its exact Fourier integrals; fundamental at share 1/2: 1.

    A half-sine of height 1 over a time d about its own centre has the cosine integral (2 d/pi) cos(pi n d) / (1 - 4
    n^2 d^2); the glide's centre is half a period from the push's. At 2 n d = 1 the limit is d/2.
    """

    def lobe(width: float) -> float:
        x = 2 * n * width
        if abs(x - 1) < 1e-6:
            return width / 2
        return 2 * width / math.pi * math.cos(math.pi * n * width) / (1 - x * x)

    glide = share / (1 - share) * lobe(1 - share)
    return float(abs(2 * (lobe(share) - (-1) ** n * glide)))


@attrs.frozen(eq=False)
class Shaped:
    """As `pumping.Pump`, with `height` A of the push [g] (peak 1 + A), `lightness` (lowest g), and `excess`:
    by what share the limit most in the way is passed; 0 or less is allowed."""

    height: np.ndarray
    lightness: np.ndarray
    size: np.ndarray
    power: np.ndarray
    positive: np.ndarray
    negative: np.ndarray
    heave: np.ndarray
    stroke: np.ndarray
    travel: np.ndarray
    lift_peak: np.ndarray
    cost: np.ndarray
    excess: np.ndarray


class ShapedCycle:
    """A pump rhythm at one speed [m/s] and cadence [Hz], with push shares [m, 1] (or one number)."""

    def __init__(self, setup: Setup, speed: float, cadence: float, shares: Any) -> None:
        self.setup, self.cycle = setup, Cycle(setup, speed, cadence)
        self.share = np.asarray(shares, dtype=float)
        higher = np.array([_harmonics(float(d)) for d in self.share.ravel()]).reshape(*self.share.shape, HARMONICS)
        self.fundamental = higher[..., 0]
        k = np.pi * cadence * setup.chord / speed * np.arange(1, HARMONICS + 1)
        shed = setup.shed_factor * shed_loss(k)
        all_higher = self.share / (1 - self.share) - self.fundamental**2
        whole = induced_factor(setup) * all_higher + (shed[1:] * higher[..., 1:] ** 2).sum(axis=-1)
        self.higher_swing = float(self.cycle.swing) * whole / (induced_factor(setup) + shed[0])
        """drag of the higher harmonics per height^2"""

    def pump(self, active: Any) -> Shaped:
        """The pumps with these active parts [g] of the fundamental, [m, n]; each by fixed point (6 rounds, 1e-7)."""
        c, s, share = self.cycle, self.setup, self.share
        g, w, mu = s.gravity, float(c.omega), s.mu
        active = np.asarray(active, dtype=float)
        height = active / self.fundamental
        for _ in range(6):
            drag = c.drag + c.swing * active**2 + self.higher_swing * height**2
            heave = c.per_drag * drag / active
            reactive = mu * w**2 * heave / g
            size = np.hypot(active, reactive)
            height = size / self.fundamental
        power = c.speed * drag
        period = 2 * np.pi / w
        # The foil's descent has the phase 2 pi (t - share/2) - lag, lag = atan(reactive / active).
        angle = 2 * np.pi * (_phase(share, SAMPLES) - share / 2)
        cos_lag, sin_lag = active / size, reactive / size
        down = np.cos(angle) * cos_lag + np.sin(angle) * sin_lag
        fall = np.sin(angle) * cos_lag - np.cos(angle) * sin_lag
        swing = height * waveform(share)
        legs = height * (g * period) * body_velocity(share) + heave * w * down
        reach = height * (g * period**2) * body_position(share) + heave * fall
        positive = s.mass * g * np.maximum((1 + swing) * legs, 0).mean(axis=0)
        negative = positive - power
        stroke = reach.max(axis=0) - reach.min(axis=0)
        lift = (swing + reactive * fall).max(axis=0) * s.mass / (s.mass + s.gear_mass)
        lift_peak = c.lift * (1 + lift)
        steep = np.where(share <= 0.5, 1 / (2 * share), share / (2 * (1 - share) ** 2))
        lightest = height * share / (1 - share)
        return Shaped(
            height=height,
            lightness=1 - lightest,
            size=size,
            power=power,
            positive=positive,
            negative=negative,
            heave=heave,
            stroke=stroke,
            travel=height * (g * period**2) * share / np.pi**2,
            lift_peak=lift_peak,
            cost=effort(s, positive, negative, height * steep, c.cadence),
            excess=np.maximum(
                np.maximum(lightest / s.force_max, lift_peak / s.cl_max),
                np.maximum(stroke / s.stroke, heave / max(s.heave_limit, 1e-9)),
            )
            - 1,
        )


def share_costs(setup: Setup, speed: float, cadence: float, shares: Any = SHARES) -> np.ndarray:
    """[m] least cost at each push share over all allowed pumps, by three ever finer scans; inf where none is
    allowed."""
    shares = np.reshape(np.asarray(shares, dtype=float), (-1, 1))
    cycle = ShapedCycle(setup, speed, cadence, shares)
    sinusoid = np.linspace(*cycle.cycle.active_range(), 3)  # near a limit the scan alone would miss the sliver
    scan = np.sort(np.concatenate([np.linspace(0.15, 1.15, 21), np.clip(sinusoid, 0.05, 2.0)]))
    active = np.broadcast_to(scan, (len(shares), len(scan)))
    step = 0.05
    best = np.full(len(shares), np.inf)
    for _ in range(3):
        pump = cycle.pump(active)
        cost = np.where(pump.excess <= 0, pump.cost, 1e9 * (1 + pump.excess))  # none allowed yet: towards the nearest
        at = np.argmin(cost, axis=1)[:, None]
        least = np.take_along_axis(cost, at, axis=1)[:, 0]
        best = np.minimum(best, np.where(least < 1e9, least, np.inf))
        active = np.maximum(np.take_along_axis(active, at, axis=1) + step * np.linspace(-1, 1, 11), 0.02)
        step /= 5
    return best


@attrs.frozen
class ShareBand:
    """Push shares: `best`, the band lo .. hi within NEAR of its cost, and hard_lo .. hard_hi inside the limits."""

    lo: float
    best: float
    hi: float
    hard_lo: float
    hard_hi: float


@lru_cache(maxsize=512)
def _harmonics(share: float) -> tuple[float, ...]:
    return tuple(harmonic(share, n) for n in range(1, HARMONICS + 1))


def share_band(setup: Setup, speed: float, cadence: float, near: float = NEAR) -> ShareBand | None:
    """The push shares that cost little at a speed [m/s] and cadence [Hz]; None where no pump is allowed at any.

    On a grid of 0.02, best share and edges by interpolation: good to about 0.01.
    """
    costs = share_costs(setup, speed, cadence)
    good = np.isfinite(costs)
    if not good.any():
        return None
    at = int(np.argmin(costs))
    least, best = float(costs[at]), float(SHARES[at])
    if 0 < at < len(SHARES) - 1 and good[at - 1] and good[at + 1]:
        bend = costs[at - 1] - 2 * costs[at] + costs[at + 1]
        best += _STEP * float(0.5 * (costs[at - 1] - costs[at + 1]) / bend) if bend > 0 else 0.0
    first = last = at
    while first > 0 and good[first - 1]:
        first -= 1
    while last < len(SHARES) - 1 and good[last + 1]:
        last += 1
    hard_lo, hard_hi = _hard(setup, speed, cadence, first, -1), _hard(setup, speed, cadence, last, 1)
    lo, hi = _soft(costs, at, first, near * least), _soft(costs, at, last, near * least)
    return ShareBand(hard_lo if lo is None else lo, best, hard_hi if hi is None else hi, hard_lo, hard_hi)


def _soft(costs: np.ndarray, at: int, end: int, most: float) -> float | None:
    """Where the cost passes `most` on the way from the best share to the last allowed one; None if it does not."""
    step = 1 if end > at else -1
    for i in range(at, end, step):
        if costs[i + step] > most:
            return float(SHARES[i] + _STEP * step * (most - costs[i]) / (costs[i + step] - costs[i]))
    return None


def _hard(setup: Setup, speed: float, cadence: float, end: int, step: int) -> float:
    """The last allowed share beyond grid point `end`, to an eighth of the grid."""
    if not 0 <= end + step < len(SHARES):
        return float(SHARES[end])
    between = np.round(SHARES[end] + step * _STEP * np.arange(1, 8) / 8, 6)
    good = np.isfinite(share_costs(setup, speed, cadence, between))
    return float(between[good][-1]) if good.any() else float(SHARES[end])
