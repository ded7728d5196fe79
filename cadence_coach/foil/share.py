"""Pushes shorter or longer than half the pump: what they cost, and the band of push shares.

    waveform(share, n) -> n samples of one pump's specific force less 1 g, per unit of the push's height
    harmonic(share, n) -> amplitude of the n-th harmonic per unit of height
    ShapedCycle(setup, speed, cadence, share).pump(active) -> Shaped
    share_band(setup, speed, cadence) -> ShareBand

The push is a half-sine of height A over share x T, the glide a half-sine of depth A share/(1 - share): mean exactly 1 g. Share
1/2 is the sinusoid of `pumping`. The foil heaves with the fundamental only. Leg power is again speed x mean drag; the higher
harmonics propel nothing and cost induced and shed drag. Estimates, +-30 %.
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
SHARES = np.arange(0.16, 0.7401, 0.02)
NEAR = 1.10
"""The share band is where the cost stays under this x its least: wide, because the optimum is flat."""
_PHASE = np.arange(SAMPLES) / SAMPLES


def waveform(share: float, n: int = SAMPLES) -> np.ndarray:
    """[n] specific force less 1 g over one pump from its onset, per unit of the push's height; 0 < share < 1."""
    t = np.arange(n) / n
    push = np.sin(np.pi * t / share)
    glide = -share / (1 - share) * np.sin(np.pi * (t - share) / (1 - share))
    return np.where(t < share, push, glide)


def body_velocity(share: float) -> np.ndarray:
    """[SAMPLES] integral of `waveform` over time in periods, mean 0; closed form."""
    t = _PHASE
    return share / np.pi * np.where(t < share, -np.cos(np.pi * t / share), np.cos(np.pi * (t - share) / (1 - share)))


def body_position(share: float) -> np.ndarray:
    """[SAMPLES] integral of `body_velocity`; its range is share / pi^2."""
    t = _PHASE
    push = -((share / np.pi) ** 2) * np.sin(np.pi * t / share)
    glide = share * (1 - share) / np.pi**2 * np.sin(np.pi * (t - share) / (1 - share))
    return np.where(t < share, push, glide)


def harmonic(share: float, n: int = 1) -> float:
    """Amplitude of the n-th harmonic of `waveform`, from its exact Fourier integrals; fundamental at share 1/2: 1.

    A half-sine of height 1 over a time d about its own centre has the cosine integral (2 d/pi) cos(pi n d) / (1 - 4 n^2 d^2);
    the glide's centre is half a period from the push's. At 2 n d = 1 the limit is d/2.
    """

    def lobe(width: float) -> float:
        x = 2 * n * width
        if abs(x - 1) < 1e-6:
            return width / 2
        return 2 * width / math.pi * math.cos(math.pi * n * width) / (1 - x * x)

    glide = share / (1 - share) * lobe(1 - share)
    return abs(2 * (lobe(share) - (-1) ** n * glide))


@attrs.frozen(eq=False)
class Shaped:
    """As `pumping.Pump`, with `height` A of the push [g], `peak` 1 + A, `lightness` lowest g, and `allowed`."""

    height: Any
    lightness: Any
    size: Any
    power: Any
    positive: Any
    negative: Any
    heave: Any
    stroke: Any
    travel: Any
    lift_peak: Any
    cost: Any
    allowed: Any


class ShapedCycle:
    """A pump rhythm with a push share; speed [m/s], cadence [Hz] and share are single numbers."""

    def __init__(self, setup: Setup, speed: float, cadence: float, share: float) -> None:
        self.setup, self.share = setup, share
        self.cycle = Cycle(setup, speed, cadence)
        self.fundamental, higher = _harmonics(share)
        k = np.pi * cadence * setup.chord / speed * np.arange(2, HARMONICS + 2)
        all_higher = share / (1 - share) - self.fundamental**2
        # Drag of the higher harmonics per height^2, in units of the drag of the fundamental per active^2.
        whole = induced_factor(setup) * all_higher + setup.shed_factor * float(np.sum(shed_loss(k) * higher**2))
        k1 = np.pi * cadence * setup.chord / speed
        self.higher_swing = float(self.cycle.swing) * whole / (
            induced_factor(setup) + setup.shed_factor * float(shed_loss(k1))
        )

    def pump(self, active: np.ndarray) -> Shaped:
        """The pumps with these active parts [g] of the fundamental, an array [n]; each by fixed point (5 rounds, 1e-6)."""
        c, s, share = self.cycle, self.setup, self.share
        g, w, mu = s.gravity, float(c.omega), s.mu
        height = active / self.fundamental
        for _ in range(5):
            drag = c.drag + c.swing * active**2 + self.higher_swing * height**2
            heave = c.per_drag * drag / active
            reactive = mu * w**2 * heave / g
            size = np.hypot(active, reactive)
            height = size / self.fundamental
        power = c.speed * drag
        period = 2 * np.pi / w
        lag = np.arctan2(reactive, active)
        theta = 2 * np.pi * (_PHASE[:, None] - share / 2) - lag  # phase of the foil's descent
        force = 1 + height * waveform(share)[:, None]
        legs = height * g * period * body_velocity(share)[:, None] + heave * w * np.cos(theta)
        reach = height * g * period**2 * body_position(share)[:, None] + heave * np.sin(theta)
        flow = s.mass * g * force * legs
        positive = np.maximum(flow, 0).mean(axis=0)
        negative = positive - power
        stroke = np.ptp(reach, axis=0)
        lift = (force - 1 + reactive * np.sin(theta)) * s.mass / (s.mass + s.gear_mass)
        lift_peak = c.lift * (1 + lift.max(axis=0))
        steep = 1 / (2 * share) if share <= 0.5 else share / (2 * (1 - share) ** 2)
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
            travel=height * g * period**2 * share / np.pi**2,
            lift_peak=lift_peak,
            cost=effort(s, positive, negative, height * steep, c.cadence),
            allowed=(lightest <= s.force_max)
            & (lift_peak <= s.cl_max)
            & (stroke <= s.stroke)
            & (heave <= s.heave_limit),
        )

    def least_cost(self) -> float:
        """Cost of the cheapest allowed pump, inf where there is none. Two passes over `active`: the cost is flat."""
        active = np.linspace(0.12, 1.2, 28)
        best = math.inf
        for _ in range(3):
            pump = self.pump(active)
            cost = np.where(pump.allowed, pump.cost, np.inf)
            at = int(np.argmin(cost))
            if not math.isfinite(cost[at]):
                break
            best = min(best, float(cost[at]))
            step = active[1] - active[0]
            active = np.linspace(active[at] - step, active[at] + step, 13)
        return best


@attrs.frozen
class ShareBand:
    """Push shares: `best`, the band lo .. hi within NEAR of its cost, and hard_lo .. hard_hi inside the limits."""

    lo: float
    best: float
    hi: float
    hard_lo: float
    hard_hi: float


@lru_cache(maxsize=256)
def _harmonics(share: float) -> tuple[float, np.ndarray]:
    return harmonic(share), np.array([harmonic(share, n) for n in range(2, HARMONICS + 2)])


def share_costs(setup: Setup, speed: float, cadence: float, shares: np.ndarray = SHARES) -> np.ndarray:
    """Least cost at each push share; inf where no pump is allowed."""
    return np.array([ShapedCycle(setup, speed, cadence, round(float(d), 6)).least_cost() for d in shares])


def share_band(setup: Setup, speed: float, cadence: float, near: float = NEAR) -> ShareBand | None:
    """The push shares that cost little at a speed [m/s] and cadence [Hz]; None where no pump is allowed at any.

    On a grid of 0.02, the edges by interpolation, the hard limits by three halvings: good to about 0.01.
    """
    costs = share_costs(setup, speed, cadence)
    good = np.isfinite(costs)
    if not good.any():
        return None
    at = int(np.argmin(costs))
    least = float(costs[at])
    best = float(SHARES[at])
    if 0 < at < len(SHARES) - 1 and good[at - 1] and good[at + 1]:
        bend = costs[at - 1] - 2 * costs[at] + costs[at + 1]
        best += 0.02 * float(0.5 * (costs[at - 1] - costs[at + 1]) / bend) if bend > 0 else 0.0
    edges = [_edge(setup, speed, cadence, costs, at, step, near * least) for step in (-1, 1)]
    return ShareBand(edges[0][0], best, edges[1][0], edges[0][1], edges[1][1])


def _edge(
    setup: Setup, speed: float, cadence: float, costs: np.ndarray, at: int, step: int, most: float
) -> tuple[float, float]:
    """Going from the best share one way: where the cost passes `most`, and where nothing is allowed any more."""
    soft = math.nan
    i = at
    while 0 <= i + step < len(SHARES) and math.isfinite(costs[i + step]):
        if math.isnan(soft) and costs[i + step] > most:
            soft = float(SHARES[i] + 0.02 * step * (most - costs[i]) / (costs[i + step] - costs[i]))
        i += step
    hard = float(SHARES[i])
    if 0 <= i + step < len(SHARES):
        width = 0.02 * step
        for _ in range(3):
            width /= 2
            if math.isfinite(ShapedCycle(setup, speed, cadence, round(hard + width, 6)).least_cost()):
                hard += width
    return (hard if math.isnan(soft) else soft), hard
