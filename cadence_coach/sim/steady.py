"""A rider who pumps evenly: what the tests of the physics and of the band fly."""

from __future__ import annotations

import numpy as np

from cadence_coach.foil.setup import Setup
from cadence_coach.sim.craft import Craft
from cadence_coach.sim.ride import Ride, ride
from cadence_coach.sim.waveform import even_pumps, h1


def full_stroke_size(setup: Setup, cadence: float) -> float:
    """The size [g] that uses the whole leg stroke for the most power: half of it for the body's travel, half for the
    foil's.

    Power ~ r_a H under (r_a g/w^2)^2 + (H (1 + mu))^2 = (stroke/2)^2 is greatest where both terms are equal."""
    w = 2 * np.pi * cadence
    each = setup.stroke / 2 / np.sqrt(2)
    return float(np.hypot(each * w**2 / setup.gravity, setup.mu * w**2 * each / (1 + setup.mu) / setup.gravity))


def steady_rider(
    setup: Setup,
    speed: float,
    cadence: float,
    *,
    size: float | None = None,
    peak: float | None = None,
    share: float = 0.5,
    seconds: float = 60.0,
) -> Ride:
    """A rider already in full swing at a mean `speed` [m/s] who means to hold it, pumping at `cadence` [Hz] for
    `seconds`.

    The pump is given by its `size` [g] or its `peak` [g]; with neither, by the whole leg stroke. The rider heaves the
    foil as far as the speed asks for, and no further than legs, feet and wing allow (`Ride.limited`). Time series at
    1 kHz: t, n [g], body, foil [m], lift, drag [N], speed [m/s], leg_power [W]; see `ride.Ride`."""
    if peak is not None:
        amplitude = peak - 1.0
    else:
        amplitude = (full_stroke_size(setup, cadence) if size is None else size) / h1(share)
    craft, period = Craft(setup), 1.0 / cadence
    first = ride(craft, even_pumps(1, period, share, amplitude), speed=speed, swinging=True)
    begin = 2 * speed - float(first.speed.mean())  # a pump begins below its mean speed
    return ride(
        craft,
        even_pumps(max(round(seconds * cadence), 1), period, share, amplitude),
        speed=begin,
        target=speed,
        swinging=True,
    )
