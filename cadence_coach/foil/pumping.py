"""One pump: what it costs, how far the legs travel, and what stops it.

    Cycle(setup, speed, cadence)        coefficients, worked out once; speed and cadence may be arrays that broadcast
        .pump(active) -> Pump           everything about a sinusoidal pump with that active part of the foot force
        .active_range(without) -> lo, hi    interval of `active` that all limits allow; lo > hi where there is none
        .best() -> active               the one in that interval that costs the rider least
    same_stroke_cadence                 what a rider needs who keeps heave and push as they are

The identity underneath: over a steady cycle leg power = speed x mean drag, exactly, whatever the waveform; the body's
own work cancels (momentum and energy of a periodic motion; small angles). A force in phase with the foil's descent
propels (`active`, r_a); the part that only swings board, foil and water is reactive (r_x). Powers are
estimates, +-30 %.
"""

from __future__ import annotations

import math
from typing import Any

import attrs
import numpy as np

from cadence_coach.foil.drag import lift_coefficient, oscillating_drag, steady_drag
from cadence_coach.foil.setup import Setup

Number = Any

LIMITS = ("stall", "force", "stroke")
"""What can forbid a pump: the wing at its peak lift; feet that leave the board; legs (or mast) too short."""
MUSCLE_EFFICIENCY = 0.25
"""Positive work / metabolic cost (Woledge, via Doke & Kuo 2007)."""
BRAKING_EFFICIENCY = 1.2
"""Negative work / metabolic cost (Margaria 1968, from memory)."""
_GOLDEN = (math.sqrt(5) - 1) / 2


@attrs.frozen(eq=False)
class Pump:
    """A steady sinusoidal pump. Forces in N, powers in W (means over the cycle), lengths in m; g-values in units of
    body weight.

    power = speed x (drag + drag_swing) = positive - negative. `size` is r, the amplitude at the body; `stroke` is leg
    travel and `travel` the body's, peak to peak; `heave` is the foil's amplitude; cost is the rider's modelled effort
    [W].
    """

    drag: Number
    drag_swing: Number
    power: Number
    heave: Number
    active: Number
    reactive: Number
    size: Number
    stroke: Number
    travel: Number
    lift_peak: Number
    positive: Number
    negative: Number
    cost: Number
    strouhal: Number


class Cycle:
    """A pump rhythm at a speed [m/s] and a cadence [Hz], both above 0."""

    def __init__(self, setup: Setup, speed: Number, cadence: Number) -> None:
        self.setup, self.speed, self.cadence = setup, speed, cadence
        self.omega = 2 * np.pi * cadence
        self.drag = steady_drag(setup, speed).total
        self.swing = oscillating_drag(setup, speed, cadence, 1.0)
        """drag per active^2"""
        self.lift = lift_coefficient(setup, speed)
        self.per_drag = 2 * speed / (setup.mass * setup.gravity * self.omega)
        """heave amplitude = per_drag x mean drag / active, from P = m g r_a w H / 2"""

    def pump(self, active: Number) -> Pump:
        """The pump with an active part of the foot force [g]; `active` above 0. Right while size <= 1 (feet on the
        board)."""
        s, w, g = self.setup, self.omega, self.setup.gravity
        mu = s.mu
        drag_swing = self.swing * active**2
        power = self.speed * (self.drag + drag_swing)
        heave = self.per_drag * (self.drag + drag_swing) / active
        reactive = mu * w**2 * heave / g
        size = np.hypot(active, reactive)
        stroke = 2 * np.hypot(active * g / w**2, heave * (1 + mu))
        positive = power / 2 + s.mass * g * stroke * w / (2 * np.pi)
        negative = positive - power
        return Pump(
            drag=self.drag,
            drag_swing=drag_swing,
            power=power,
            heave=heave,
            active=active,
            reactive=reactive,
            size=size,
            stroke=stroke,
            travel=2 * size * g / w**2,
            lift_peak=self.lift * (1 + active * s.mass / (s.mass + s.gear_mass)),
            positive=positive,
            negative=negative,
            cost=effort(s, positive, negative, size, self.cadence),
            strouhal=2 * heave * self.cadence / self.speed,
        )

    def active_range(self, without: tuple[str, ...] = ()) -> tuple[Number, Number]:
        """Lowest and highest `active` inside all limits but those named; (1, 0) where none is.

        With x = active^2 force, stroke and heave limit are all a x^2 + b (D + B x)^2 <= c x: a quadratic in x, solved
        exactly.
        """
        s, w, g = self.setup, self.omega, self.setup.gravity
        shape = np.broadcast(self.speed, self.cadence).shape
        lo, hi = np.full(shape, 1e-6), np.full(shape, 10.0)
        limits = []
        if "force" not in without:
            limits.append((1.0, (s.mu * w**2 / g * self.per_drag) ** 2, s.force_max**2))
        if "stroke" not in without:
            limits.append(((g / w**2) ** 2, ((1 + s.mu) * self.per_drag) ** 2, s.stroke**2 / 4))
            limits.append((0.0, self.per_drag**2, s.heave_limit**2))
        for a, b, c in limits:
            two = a + b * self.swing**2
            one = 2 * b * self.drag * self.swing - c
            zero = b * self.drag**2
            inside = one**2 - 4 * two * zero
            good = (inside >= 0) & (one < 0)
            root = np.sqrt(np.where(good, inside, 0.0))
            upper = (-one + root) / (2 * two)
            lower = zero / (two * np.where(good, upper, 1.0))  # not (-one - root): that loses its digits
            lo = np.maximum(lo, np.where(good, np.sqrt(np.where(good, lower, 1.0)), 1.0))
            hi = np.minimum(hi, np.where(good, np.sqrt(np.where(good, upper, 1.0)), 0.0))
        if "stall" not in without:
            hi = np.minimum(hi, (s.cl_max / self.lift - 1) * (s.mass + s.gear_mass) / s.mass)
        return lo, hi

    def best(self, steps: int = 8) -> Number:
        """The `active` of least cost inside the limits, (1e-4 of the interval or better; the cost is flat
        there, and convex in every set-up tried). Where nothing is allowed: the lower end of the empty interval, to be
        masked by the caller."""
        lo, hi = self.active_range()
        hi = np.maximum(hi, lo)
        return golden(self.cost, lo, hi, steps)

    def cost(self, active: Number) -> Number:
        """As pump(active).cost, without the rest: this is what takes the time."""
        s, w, g = self.setup, self.omega, self.setup.gravity
        square = active * active
        drag = self.drag + self.swing * square
        heave = self.per_drag * drag / active
        reactive = s.mu * w**2 / g * heave
        size = np.sqrt(square + reactive * reactive)
        half = np.sqrt((g / w**2) ** 2 * square + ((1 + s.mu) * heave) ** 2)
        power = self.speed * drag
        positive = power / 2 + s.mass * g * w / np.pi * half
        return effort(s, positive, positive - power, size, self.cadence)

    def least_size(self, power: Number) -> Number:
        """Smallest size [g] that carries a power [W] at this cadence: sqrt(4 P mu w / (m g^2)), where active =
        reactive.

        Legs may be too short for it. With the power of the cheapest pump it is some 4 % above what would just do,
        because a smaller swing costs a little less drag.
        """
        s = self.setup
        return np.sqrt(4 * power * s.mu * self.omega / (s.mass * s.gravity**2))


def effort(setup: Setup, positive: Number, negative: Number, rate_size: Number, cadence: Number) -> Number:
    """Modelled metabolic cost [W] of leg work and of fast force; medium-low confidence, only ever used to compare
    pumps.

    Part of the negative work springs back; the rest of both is paid for by muscle; c_r m g r f^2 is the price of
    turning force on and off (form: Doke & Kuo 2007; size: fitted to van der Zee & Kuo 2021).
    """
    spring = setup.elastic_return
    work = (positive - spring * negative) / MUSCLE_EFFICIENCY + (1 - spring) * negative / BRAKING_EFFICIENCY
    return work + setup.force_rate_cost * setup.mass * setup.gravity * rate_size * cadence**2


def golden(cost: Any, lo: Number, hi: Number, steps: int) -> Number:
    """Where a function of one minimum is least in [lo, hi], many at once: golden section, then the vertex of a parabola
    through the interval that is left. The ends count too. Good to (0.62^steps)^2 of the interval where it is smooth."""
    lo, hi = np.array(lo, dtype=float), np.array(hi, dtype=float)
    first_lo, first_hi = lo.copy(), hi.copy()
    a, b = hi - _GOLDEN * (hi - lo), lo + _GOLDEN * (hi - lo)
    at_a, at_b = cost(a), cost(b)
    for _ in range(steps):
        left = at_a < at_b
        lo, hi = np.where(left, lo, a), np.where(left, b, hi)
        new = np.where(left, hi - _GOLDEN * (hi - lo), lo + _GOLDEN * (hi - lo))
        at_new = cost(new)
        a, b, at_a, at_b = (
            np.where(left, new, b),
            np.where(left, a, new),
            np.where(left, at_new, at_b),
            np.where(left, at_a, at_new),
        )
    middle, half = (lo + hi) / 2, (hi - lo) / 2
    at_lo, at_middle, at_hi = cost(lo), cost(middle), cost(hi)
    bend = at_lo - 2 * at_middle + at_hi
    vertex = middle + half * np.where(bend > 0, np.clip((at_lo - at_hi) / (2 * np.where(bend > 0, bend, 1)), -1, 1), 0)
    vertex = np.clip(vertex, lo, hi)  # rounding
    points = np.stack([vertex, middle, first_lo, first_hi])
    costs = np.stack([cost(vertex), at_middle, cost(first_lo), cost(first_hi)])
    return np.take_along_axis(points, np.argmin(costs, axis=0)[None], axis=0)[0]


def same_stroke_cadence(setup: Setup, speed: Number, heave: float, active: float) -> Number:
    """The cadence [Hz] that a rider needs who keeps heave [m] and push [g] as they are: f = P / (pi m g r_a H).

    P holds a little of f itself; iterated to rest (contraction below 0.1).
    """
    cadence = np.full(np.shape(speed), 1.5)
    for _ in range(12):
        mean = steady_drag(setup, speed).total + oscillating_drag(setup, speed, cadence, active)
        cadence = speed * mean / (math.pi * setup.mass * setup.gravity * active * heave)
    return cadence
