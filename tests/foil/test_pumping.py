"""The energy identity, the limits and the closed forms, by direct integration and by search."""

from __future__ import annotations

import math

import attrs
import numpy as np
import pytest
from hypothesis import HealthCheck, assume, example, given, settings
from hypothesis import strategies as st
from scipy import optimize

from cadence_coach.foil.drag import oscillating_drag, steady_drag
from cadence_coach.foil.pumping import (
    Cycle,
    effort,
    golden,
    same_stroke_cadence,
)
from cadence_coach.foil.setup import Setup
from tests.foil.closed_forms import feet_on_cadence, least_stroke_cadence
from tests.foil.riders import RIDERS, B, setups

speeds = st.floats(3, 7)
cadences = st.floats(0.9, 2.4)
some_do_not_fly = settings(max_examples=100, suppress_health_check=[HealthCheck.filter_too_much])
"""For what holds of a pump that can be done: how many of the drawn ones can is chance. One that can is given."""


def test_worked_point() -> None:
    """Rider B, 4.5 m/s, 1.5 Hz, active part 0.70: to 0.1 %. A regression value, worked out by hand from the
    equations."""
    pump = Cycle(B, 4.5, 1.5).pump(0.70)
    expected = {
        "power": 257.26,
        "heave": 0.1060,
        "reactive": 0.300,
        "size": 0.7616,
        "stroke": 0.3183,
        "lift_peak": 0.8182,
        "strouhal": 0.0707,
        "positive": 479.95,
        "negative": 222.69,
    }
    for name, value in expected.items():
        assert float(getattr(pump, name)) == pytest.approx(value, rel=1e-3), name
    assert B.mu == pytest.approx(0.3126, rel=1e-3)
    assert B.added_mass == pytest.approx(15.94, rel=1e-3)
    assert float(pump.drag / (pump.drag + pump.drag_swing)) == pytest.approx(0.8902, rel=1e-3)
    assert float(least_stroke_cadence(B, 257.26)) == pytest.approx(1.1808, rel=1e-3)
    assert float(feet_on_cadence(B, 257.26)) == pytest.approx(2.8928, rel=1e-3)


@given(
    mass=st.floats(40, 110),
    gear=st.floats(3, 15),
    water_mass=st.floats(0, 30),
    period=st.floats(0.4, 1.2),
    force=st.lists(st.complex_numbers(max_magnitude=0.4, allow_nan=False), min_size=1, max_size=6),
    foil=st.lists(st.complex_numbers(max_magnitude=0.5, allow_nan=False), min_size=1, max_size=6),
    speed=st.floats(3, 7),
)
def test_leg_power_is_speed_times_mean_drag_for_any_waveform(
    mass: float, gear: float, water_mass: float, period: float, force: list[complex], foil: list[complex], speed: float
) -> None:
    """Momentum and energy of a periodic motion (derived): no assumption on either waveform.

    Foot force m (g + a_b), lift L from the foil's own equation of motion; the path of the water tips the lift forward
    by -v_f / V, whose mean must carry the drag. Leg power is force x (v_b - v_f).
    """
    g, n = 9.81, 256
    t = np.arange(n) / n
    harmonics = lambda c, k0=1: sum((z * np.exp(2j * np.pi * k * t)).real for k, z in enumerate(c, k0))  # noqa: E731
    load = 1 + harmonics(force)
    omega = 2 * np.pi / period
    body_velocity = sum((g * z / (1j * k * omega) * np.exp(2j * np.pi * k * t)).real for k, z in enumerate(force, 1))
    foil_velocity = harmonics(foil)
    foil_acceleration = sum((1j * k * omega * z * np.exp(2j * np.pi * k * t)).real for k, z in enumerate(foil, 1))
    foot = mass * g * load
    lift = foot + gear * g + (gear + water_mass) * foil_acceleration
    drag = float(np.mean(-lift * foil_velocity)) / speed
    leg_power = float(np.mean(foot * (body_velocity - foil_velocity)))
    assert leg_power == pytest.approx(speed * drag, rel=1e-9, abs=1e-7)


@given(setup=setups, speed=speeds, cadence=cadences, active=st.floats(0.2, 0.8))
@example(setup=B, speed=4.5, cadence=1.5, active=0.7)
@some_do_not_fly
def test_the_model_keeps_the_identity(setup: Setup, speed: float, cadence: float, active: float) -> None:
    """Power = speed x mean drag = positive - negative, with both parts integrated numerically from force and leg
    speed."""
    pump = Cycle(setup, speed, cadence).pump(active)
    assume(pump.size <= 1)
    assert pump.power == pytest.approx(
        speed * (steady_drag(setup, speed).total + oscillating_drag(setup, speed, cadence, active)), rel=1e-12
    )
    assert pump.positive - pump.negative == pytest.approx(pump.power, rel=1e-9)
    phase = 2 * np.pi * np.arange(20_000) / 20_000
    w = 2 * np.pi * cadence
    force = setup.mass * setup.gravity * (1 + active * np.cos(phase) - pump.reactive * np.sin(phase))
    body = setup.gravity / w * (active * np.sin(phase) + pump.reactive * np.cos(phase))
    foil = -pump.heave * w * np.cos(phase)
    flow = force * (body - foil)
    assert force.min() >= -1e-9
    assert np.mean(flow) == pytest.approx(pump.power, rel=1e-9)
    assert np.mean(np.maximum(flow, 0)) == pytest.approx(pump.positive, rel=1e-5)
    legs = np.cumsum(body - foil) / (20_000 * cadence)
    assert np.ptp(legs) == pytest.approx(pump.stroke, rel=1e-4)
    assert pump.travel == pytest.approx(2 * pump.size * setup.gravity / w**2, rel=1e-12)


@given(setup=setups, power=st.floats(80, 600))
def test_slowest_cadence_goes_with_the_cube_root_of_power(setup: Setup, power: float) -> None:
    """Derived: eightfold power, twice the cadence, exactly."""
    assert least_stroke_cadence(setup, 8 * power) == pytest.approx(2 * least_stroke_cadence(setup, power), rel=1e-12)


@given(setup=setups, speed=speeds)
@settings(max_examples=40)
def test_slowest_cadence_is_where_the_least_stroke_is_the_legs(setup: Setup, speed: float) -> None:
    """Independently computed: scipy's search over the active part at a fixed power."""
    power = float(speed * steady_drag(setup, speed).total)
    cadence = float(least_stroke_cadence(setup, power))
    w, mg = 2 * math.pi * cadence, setup.mass * setup.gravity

    def stroke(active: float) -> float:
        heave = 2 * power / (mg * active * w)
        return 2 * math.hypot(active * setup.gravity / w**2, heave * (1 + setup.mu))

    found = optimize.minimize_scalar(stroke, bounds=(0.01, 20), method="bounded", options={"xatol": 1e-10})
    assert found.fun == pytest.approx(setup.stroke, rel=1e-6)


@given(setup=setups, power=st.floats(80, 600))
@settings(max_examples=40)
def test_fastest_cadence_is_where_the_least_size_is_the_feet_on_limit(setup: Setup, power: float) -> None:
    """Independently computed, as above, for the size."""
    cadence = float(feet_on_cadence(setup, power))
    w, mg = 2 * math.pi * cadence, setup.mass * setup.gravity

    def size(active: float) -> float:
        return math.hypot(active, setup.mu * w**2 * 2 * power / (mg * active * w) / setup.gravity)

    found = optimize.minimize_scalar(size, bounds=(0.01, 5), method="bounded", options={"xatol": 1e-10})
    assert found.fun == pytest.approx(setup.force_max, rel=1e-6)
    assert float(Cycle(setup, 4.5, cadence).least_size(power)) == pytest.approx(setup.force_max, rel=1e-9)


@given(setup=setups, speed=speeds, cadence=cadences)
@settings(max_examples=60)
def test_the_allowed_interval_is_exactly_the_allowed_set(setup: Setup, speed: float, cadence: float) -> None:
    """By brute force: every active part on a fine grid is inside the interval if, and only if, no limit is passed."""
    cycle = Cycle(setup, speed, cadence)
    lo, hi = cycle.active_range()
    grid = np.linspace(0.02, 1.5, 1500)
    pump = cycle.pump(grid)
    allowed = (
        (pump.stroke <= setup.stroke)
        & (pump.heave <= setup.heave_limit)
        & (pump.size <= setup.force_max)
        & (pump.lift_peak <= setup.cl_max)
    )
    inside = (grid >= lo) & (grid <= hi)
    near = (np.abs(grid - lo) < 1e-6) | (np.abs(grid - hi) < 1e-6)
    assert (allowed == inside)[~near].all()


@given(setup=setups, speed=speeds, cadence=cadences)
@example(setup=B, speed=4.5, cadence=1.5)
@some_do_not_fly
def test_best_is_the_cheapest_of_all_allowed(setup: Setup, speed: float, cadence: float) -> None:
    """By brute force over a fine grid of the interval: the cost there is never lower than at `best`."""
    cycle = Cycle(setup, speed, cadence)
    lo, hi = (float(x) for x in cycle.active_range())
    assume(lo <= hi)
    best = float(cycle.best())
    assert lo <= best <= hi
    grid = np.linspace(lo, hi, 2000)
    assert float(cycle.cost(best)) <= float(cycle.cost(grid).min()) * (1 + 1e-7)
    assert float(cycle.cost(best)) == pytest.approx(float(cycle.pump(best).cost), rel=1e-12)


def test_effort_of_the_worked_point_by_hand() -> None:
    """J = (479.95 - 111.35)/0.25 + 111.35/1.2 + 0.08 x 75 x 9.81 x 0.7616 x 2.25 = 1668.1 W, by hand."""
    assert float(effort(B, 479.95, 222.70, 0.7616, 1.5)) == pytest.approx(1668.1, abs=0.1)


def test_force_rate_cost_is_what_the_experiment_gives() -> None:
    """van der Zee & Kuo 2021 (published): 46.8 - 10.5 W over 22 N m x (2.5^2 - 0.5^2) Hz^2 = 0.275 W/(N m Hz^2); x
    0.3 m arms."""
    assert pytest.approx((46.8 - 10.5) / (22 * (2.5**2 - 0.5**2)) * 0.3, abs=0.003) == B.force_rate_cost


def test_same_stroke_cadence() -> None:
    """Heave 0.11 m and active part 0.7 kept: cadence rises with speed. Regression values, printed to 0.01 Hz."""
    speed = np.array([3.5, 4, 4.5, 5, 5.5, 6])
    cadence = same_stroke_cadence(B, speed, 0.11, 0.7)
    assert cadence == pytest.approx([1.21, 1.29, 1.44, 1.67, 1.96, 2.32], abs=0.006)
    for v, f in zip(speed, cadence, strict=True):
        assert float(Cycle(B, float(v), float(f)).pump(0.7).heave) == pytest.approx(0.11, rel=1e-9)


@pytest.mark.parametrize("heave, cadence", [(0.06, 2.734), (0.08, 2.015), (0.10, 1.594), (0.12, 1.318), (0.15, 1.046)])
def test_cadence_for_a_heave(heave: float, cadence: float) -> None:
    """Regression values at 4.5 m/s, active part 0.7, printed to 0.001 Hz."""
    assert float(same_stroke_cadence(B, 4.5, heave, 0.7)) == pytest.approx(cadence, abs=0.002)


@pytest.mark.parametrize("name, size", [("B", 0.63), ("D", 0.46)])
def test_least_size(name: str, size: float) -> None:
    """Size that level flight needs at 4.5 m/s and 1.4 Hz. Regression values, printed to 0.01 g."""
    cycle = Cycle(RIDERS[name], 4.5, 1.4)
    assert float(cycle.least_size(cycle.pump(cycle.best()).power)) == pytest.approx(size, abs=0.006)


def test_a_slower_pump_needs_to_be_bigger() -> None:
    """P = m g r_a w H / 2: with the same heave a cadence 10 % lower needs an active part at least 11 % larger."""
    fast, slow = (Cycle(B, 4.5, f) for f in (1.4, 1.26))

    def active_for(cycle: Cycle) -> float:
        return float(optimize.brentq(lambda a: float(cycle.pump(a).heave) - 0.11, 0.3, 1.5))

    assert active_for(slow) > 1.11 * active_for(fast)


@pytest.mark.parametrize(
    "frequency, travel", [(1.0, 0.4970), (1.2, 0.3451), (1.5, 0.2209), (5 / 3, 0.1789), (2, 0.1242)]
)
def test_body_travel_of_a_sinusoid(frequency: float, travel: float) -> None:
    """2 r g / w^2 per unit of r, g 9.81 (derived); with g 9.80665, r 1 and 5/3 Hz: 0.178852 m."""
    assert 2 * 9.81 / (2 * math.pi * frequency) ** 2 == pytest.approx(travel, abs=5e-5)
    pump = Cycle(attrs.evolve(B, gravity=9.80665), 4.5, 5 / 3).pump(0.7)
    assert float(pump.travel / pump.size) == pytest.approx(0.178852, rel=1e-5)


def test_golden_finds_ends_and_middles() -> None:
    found = golden(lambda x: (x - np.array([0.3, -5, 9])) ** 2, np.zeros(3), np.ones(3), 40)
    assert found == pytest.approx([0.3, 0, 1], abs=1e-6)


@pytest.mark.parametrize("steps", [1, 2, 5])
def test_golden_ends_with_the_vertex_of_a_parabola(steps: int) -> None:
    """Of a parabola that is the minimum itself, after however few steps; of |x - 0.37| it is at least in reach."""
    assert float(golden(lambda x: 3 * (x - 0.37) ** 2 + 5, 0.0, 1.0, steps)) == pytest.approx(0.37, abs=1e-12)
    assert float(golden(lambda x: np.abs(x - 0.37), 0.0, 1.0, steps)) == pytest.approx(0.37, abs=0.62**steps / 2)
    assert float(golden(lambda x: -((x - 0.4) ** 2), 0.0, 1.0, steps)) == 1.0, "no minimum inside: the lower end counts"
