"""The model against a simulated rider who knows nothing of it but drag: momentum alone says whether the speed holds.

The simulator moves two bodies under the foot force and lets the lift's forward part work against the drag; the band
comes from the energy identity. Both stand on the same drag, so this tests energy, stroke and limits, not the drag.
"""

from __future__ import annotations

import os
from itertools import pairwise

import numpy as np
import pytest

from cadence_coach.foil.pumping import Cycle
from cadence_coach.foil.setup import Setup
from cadence_coach.foil.solve import solve
from cadence_coach.sim.ride import Ride
from cadence_coach.sim.steady import steady_rider
from tests.foil.riders import RIDERS

HOLDS = 0.02
"""Of the speed, each pump's mean over 60 s."""
CASES = [(name, speed) for name in "ABC" for speed in (3.6, 4.5, 5.3)] + [("D", 4.2), ("D", 5.0), ("D", 6.0)]
SOME = CASES if os.environ.get("CADENCE_COACH_LONG") == "1" else CASES[::3]
"""A third of the cases, one a rider, unless CADENCE_COACH_LONG=1."""


def pump_means(flown: Ride, values: np.ndarray, cadence: float) -> np.ndarray:
    """Mean of a series over each whole pump."""
    edges = np.searchsorted(flown.t, flown.t[0] + np.arange(int(flown.t[-1] * cadence) + 1) / cadence)
    return np.array([values[a:b].mean() for a, b in pairwise(edges) if b > a])


def band(setup: Setup, speed: float) -> tuple[float, float, float, float, float]:
    """target, size there, hard_lo, size needed, power."""
    found = solve(setup, [speed])
    values = (found.target, found.pump.size, found.hard_lo, found.size_needed, found.pump.power)
    target, size, slowest, needed, power = (float(v[0]) for v in values)
    return target, size, slowest, needed, power


@pytest.mark.parametrize("name, speed", CASES)
def test_a_rider_at_the_target_holds_the_speed(name: str, speed: float) -> None:
    target, size, _, _, power = band(RIDERS[name], speed)
    flown = steady_rider(RIDERS[name], speed, target, size=size, seconds=60)
    means = pump_means(flown, flown.speed, target)
    assert len(means) >= 60
    assert np.abs(means / speed - 1).max() < HOLDS
    assert flown.stalled is None
    half = len(flown.leg_power) // 2
    assert flown.leg_power[half:].mean() == pytest.approx(power, rel=0.04)


@pytest.mark.parametrize("name, speed", SOME)
def test_fifteen_per_cent_under_the_slowest_cadence_slows_down_at_full_stroke(name: str, speed: float) -> None:
    _, _, slowest, _, _ = band(RIDERS[name], speed)
    flown = steady_rider(RIDERS[name], speed, 0.85 * slowest, seconds=60)
    means = pump_means(flown, flown.speed, 0.85 * slowest)
    assert means[0] == pytest.approx(speed, rel=0.05)
    assert means[20:].max() < 0.95 * speed
    assert flown.limited.mean() > 0.9  # it is legs and feet that are not enough, not the will


@pytest.mark.parametrize("name, speed", SOME)
def test_a_swing_smaller_than_needed_slows_down(name: str, speed: float) -> None:
    """A tenth under the size that level flight needs, at the target cadence."""
    target, _, _, needed, _ = band(RIDERS[name], speed)
    flown = steady_rider(RIDERS[name], speed, target, size=0.9 * needed, seconds=60)
    means = pump_means(flown, flown.speed, target)
    assert means[0] == pytest.approx(speed, rel=0.03)
    assert means[30:].max() < 0.95 * speed


@pytest.mark.parametrize("name, speed", [("B", 4.5), ("D", 5.0)])
def test_the_foil_heaves_and_the_legs_reach_as_far_as_the_model_says(name: str, speed: float) -> None:
    setup = RIDERS[name]
    target, size, _, _, _ = band(setup, speed)
    flown = steady_rider(setup, speed, target, size=size, seconds=30)
    model = Cycle(setup, speed, target).pump(Cycle(setup, speed, target).best())
    late = flown.t > 15
    per_pump = round(1000 / target)
    reach = (flown.body - flown.foil)[late]
    travels = [np.ptp(reach[i : i + per_pump]) for i in range(0, len(reach) - per_pump, per_pump)]
    bodies = [np.ptp(flown.body[late][i : i + per_pump]) for i in range(0, len(reach) - per_pump, per_pump)]
    assert float(np.median(travels)) == pytest.approx(float(model.stroke), rel=0.04)
    assert float(np.median(bodies)) == pytest.approx(float(model.travel), rel=0.02)
    assert float(np.median(flown.heave)) == pytest.approx(float(model.heave), rel=0.04)
    assert flown.n.max() - 1 == pytest.approx(size, rel=0.03)


@pytest.mark.parametrize("share", [0.4, 0.5])
def test_leg_power_is_speed_times_drag_in_the_simulation_too(share: float) -> None:
    """Nothing there enforces it; another push share does not change it."""
    flown = steady_rider(RIDERS["B"], 4.5, 1.5, size=0.76, share=share, seconds=40)
    late = flown.t > 10
    whole = int(np.floor(30 * 1.5)) * round(1000 / 1.5)
    power, flow = flown.leg_power[late][:whole], (flown.drag * flown.speed)[late][:whole]
    assert power.mean() == pytest.approx(flow.mean(), rel=0.03)
