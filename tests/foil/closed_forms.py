"""Closed forms of the slowest and the fastest cadence that carry a power: derived, to hold the solver against."""

from __future__ import annotations

import math

from cadence_coach.foil.pumping import Number
from cadence_coach.foil.setup import Setup


def least_stroke_cadence(setup: Setup, power: Number) -> Number:
    """The cadence [Hz] under which no leg travel suffices for a power [W]: (1/2 pi) (16 P (1 + mu) / (m s^2))^(1/3).

    From the least stroke over `active`; force, heave and stall limits can only raise it. Eightfold power: twice as
    fast.
    """
    return (16 * power * (1 + setup.mu) / (setup.mass * setup.stroke**2)) ** (1 / 3) / (2 * math.pi)


def feet_on_cadence(setup: Setup, power: Number) -> Number:
    """The cadence [Hz] above which swinging board, foil and water for a power [W] would lift the feet:
    r_max^2 m g^2 / (8 pi P mu)."""
    return setup.force_max**2 * setup.mass * setup.gravity**2 / (8 * math.pi * power * setup.mu)
