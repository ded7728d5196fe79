"""Force, body, board and speed of the simulated ride agree with each other and with what has to hold for any rider."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import cumulative_trapezoid, quad

from cadence_coach.foil.drag import steady_drag
from cadence_coach.foil.pumping import Cycle
from cadence_coach.foil.setup import Setup
from cadence_coach.sim import steady_rider
from cadence_coach.sim.ride import Ride
from cadence_coach.sim.waveform import DT, even_pumps, foot_force, h1
from tests.foil.closed_forms import feet_on_cadence, least_stroke_cadence

RIDERS = {
    "light": Setup(mass=62, area=0.14, span=1.25, gear_mass=7.0, stroke=0.38),
    "middle": Setup(mass=75, area=0.16, span=1.26, gear_mass=7.5),
    "heavy": Setup(mass=90, area=0.20, span=1.30, gear_mass=8.5, stroke=0.44),
}
ENERGY = 0.005
"""Leg power against V x mean drag, relative: what is left is the step of 1 ms and the speed's change over the
cycles."""


def whole_cycles(flown: Ride, first: int, last: int) -> slice:
    return slice(*(np.round(flown.onsets[[first, last]] / DT).astype(int)))


@pytest.fixture(scope="module", params=[(name, share) for name in RIDERS for share in (0.3, 0.42, 0.5)], ids=str)
def flown(request: pytest.FixtureRequest) -> tuple[Setup, Ride]:
    name, share = request.param
    setup = RIDERS[name]
    pump = Cycle(setup, 4.5, 1.42).pump(Cycle(setup, 4.5, 1.42).best())
    return setup, steady_rider(setup, 4.5, 1.42, size=float(pump.size), share=share, seconds=45)


def test_leg_power_is_speed_times_mean_drag(flown: tuple[Setup, Ride]) -> None:
    """Work and energy theorem over whole cycles; the ride nowhere uses it."""
    setup, r = flown
    s = whole_cycles(r, 20, 60)
    seconds = (s.stop - s.start) * DT
    gained = 0.5 * (setup.mass + setup.gear_mass) * (r.speed[s.stop] ** 2 - r.speed[s.start] ** 2) / seconds
    legs = np.mean(r.leg_power[s])
    assert legs == pytest.approx(np.mean(r.speed[s] * r.drag[s]) + gained, rel=ENERGY)
    positive, negative = np.mean(r.leg_power[s].clip(0)), np.mean((-r.leg_power[s]).clip(0))
    assert positive - negative == pytest.approx(legs, rel=1e-9)
    assert negative > 0.2 * legs  # legs do give way in the catch


def test_mean_specific_force_is_one_g(flown: tuple[Setup, Ride]) -> None:
    """Momentum theorem: over whole cycles the mean vertical specific force is 1 g (physics: 0.002 after whole
    cycles)."""
    _, r = flown
    assert np.mean(r.n[whole_cycles(r, 20, 60)]) == pytest.approx(1.0, abs=0.002)


def test_body_and_foil_follow_from_their_accelerations(flown: tuple[Setup, Ride]) -> None:
    """z'' = (n - 1) g for the body; for the foil lift = foot force + gear x (g + a). Integrated here by scipy."""
    setup, r = flown
    g = setup.gravity
    v = cumulative_trapezoid((r.n - 1) * g, r.t, initial=0) + r.body_velocity[0]
    assert np.max(np.abs(v - r.body_velocity)[5:-5]) < 0.02
    z = cumulative_trapezoid(r.body_velocity, r.t, initial=0) + r.body[0]
    assert np.max(np.abs(z - r.body)[5:-5]) < 0.005
    inside = whole_cycles(r, 2, 50)
    a = np.gradient(r.foil_velocity, DT)
    lift = setup.mass * g * r.n + setup.gear_mass * (g + a)
    assert np.sqrt(np.mean((lift - r.lift)[inside] ** 2)) < 2.0


def test_speed_follows_from_thrust_and_drag(flown: tuple[Setup, Ride]) -> None:
    """Momentum along the path: M dV/dt = -L v_f / V - D."""
    setup, r = flown
    s = whole_cycles(r, 2, 50)
    mass = setup.mass + setup.gear_mass
    dv = cumulative_trapezoid((-r.lift * r.foil_velocity / r.speed - r.drag)[s] / mass, r.t[s], initial=0)
    assert np.max(np.abs(dv - (r.speed[s] - r.speed[s.start]))) < 0.05


def test_agrees_with_the_model_of_the_band() -> None:
    """Two ways to the same rider: the closed form of foil.pumping (a sinusoid) and the ride. Not an outside source."""
    setup = RIDERS["middle"]
    cycle = Cycle(setup, 4.5, 1.42)
    pump = cycle.pump(cycle.best())
    r = steady_rider(setup, 4.5, 1.42, size=float(pump.size), seconds=45)
    assert r.heave[-5] == pytest.approx(float(pump.heave), rel=0.03)
    assert np.mean(r.leg_power[whole_cycles(r, 20, 60)]) == pytest.approx(float(pump.power), rel=0.03)
    assert np.ptp(r.body[whole_cycles(r, 50, 53)]) == pytest.approx(
        2 * float(pump.size) * 9.81 / (2 * np.pi * 1.42) ** 2, rel=0.03
    )


def cycle_speeds(r: Ride) -> np.ndarray:
    edges = np.round(r.onsets / DT).astype(int)
    return np.add.reduceat(r.speed, edges[:-1]) / np.diff(edges)


@pytest.mark.parametrize("name", RIDERS)
@pytest.mark.parametrize("speed", [4.0, 4.5, 5.0])
def test_the_least_effort_pump_holds_the_speed(name: str, speed: float) -> None:
    setup = RIDERS[name]
    cycle = Cycle(setup, speed, 1.42)
    r = steady_rider(setup, speed, 1.42, size=float(cycle.pump(cycle.best()).size), seconds=60)
    assert np.max(np.abs(cycle_speeds(r) / speed - 1)) < 0.02


def test_too_slow_a_cadence_loses_speed_with_the_whole_stroke() -> None:
    """f_lo: below the cadence at which the whole leg stroke carries the power, no pump does."""
    setup = RIDERS["middle"]
    power = 4.5 * float(steady_drag(setup, 4.5).total)
    least = float(least_stroke_cadence(setup, power))
    slow = cycle_speeds(steady_rider(setup, 4.5, 0.85 * least, seconds=12))
    assert slow[-1] < 0.9 * 4.5
    assert np.all(np.diff(slow) < 0)
    enough = cycle_speeds(steady_rider(setup, 4.5, 1.10 * least, seconds=30))
    assert enough[-1] > 0.98 * 4.5


def test_too_small_a_pump_loses_speed() -> None:
    """r_min = sqrt(4 P mu w / (m g^2)), least size that carries the power at a cadence."""
    setup = RIDERS["middle"]
    least = float(Cycle(setup, 4.5, 1.5).least_size(4.5 * float(steady_drag(setup, 4.5).total)))
    small = steady_rider(setup, 4.5, 1.5, size=0.85 * least, seconds=20)
    assert small.limited.all()
    assert cycle_speeds(small)[-1] < 0.95 * 4.5
    big = steady_rider(setup, 4.5, 1.5, size=1.2 * least, seconds=20)
    assert cycle_speeds(big)[-1] > 0.98 * 4.5


def test_too_quick_a_cadence_unloads_the_feet() -> None:
    """f_hi: above it the size that the power asks for exceeds what feet on the board allow."""
    setup = RIDERS["middle"]
    quick = 1.05 * float(feet_on_cadence(setup, 5.0 * float(steady_drag(setup, 5.0).total)))
    assert cycle_speeds(steady_rider(setup, 5.0, quick, size=setup.force_max, seconds=20))[-1] < 0.99 * 5.0


@pytest.mark.parametrize("share", [0.22, 0.3, 0.42, 0.5, 0.56])
def test_once_per_pump_part(share: float) -> None:
    """h1 against numerical Fourier integrals of the two half-sines (scipy.integrate.quad)."""

    def u(x: float) -> float:
        if x < share:
            return float(np.sin(np.pi * x / share))
        return float(-share / (1 - share) * np.sin(np.pi * (x - share) / (1 - share)))

    c = 2 * quad(lambda x: u(x) * np.cos(2 * np.pi * x), 0, 1, points=[share])[0]
    s = 2 * quad(lambda x: u(x) * np.sin(2 * np.pi * x), 0, 1, points=[share])[0]
    assert h1(share) == pytest.approx(np.hypot(c, s), abs=1e-9)


def test_travel_of_a_sinusoid() -> None:
    """n = 1 + cos wt at 5/3 Hz: 2 g / w^2 = 0.178852 m with g = 9.80665 (closed form)."""
    r = steady_rider(Setup(mass=75, area=0.16, span=1.26, gravity=9.80665), 4.5, 5 / 3, size=0.9, seconds=12)
    assert np.ptp(r.body[whole_cycles(r, 10, 15)]) == pytest.approx(0.9 * 0.178852, rel=0.02)


def test_rules_of_thumb() -> None:
    """1-2 pumps a second, about 0.6 s a pump, rise to near 2 g in about 0.13 s: common practice, no source."""
    setup = RIDERS["middle"]
    cycle = Cycle(setup, 5.0, 1 / 0.6)
    r = steady_rider(setup, 5.0, 1 / 0.6, size=float(cycle.pump(cycle.best()).size), share=0.45, seconds=30)
    s = whole_cycles(r, 30, 31)
    up = s.start + np.flatnonzero(r.n[s] >= 1)[0]
    top = up + int(np.argmax(r.n[up : up + 400]))
    assert r.n[top] == pytest.approx(2.0, abs=0.15)
    assert (top - up) * DT == pytest.approx(0.13, abs=0.03)
    assert cycle_speeds(r)[-1] == pytest.approx(5.0, rel=0.01)


def test_feet_never_pull() -> None:
    """However deep the glide asked for: specific force stays above 0, the pump's mean at 1 g."""
    u = foot_force(even_pumps(3, 0.7, 0.56, 1.6)).u
    assert u.min() > -1.0
    assert np.mean(u) == pytest.approx(0.0, abs=1e-3)


def test_a_short_mast_holds_the_heave_back() -> None:
    setup = Setup(mass=75, area=0.16, span=1.26, heave_max=0.06)
    r = steady_rider(setup, 4.5, 1.42, size=0.8, seconds=15)
    assert r.heave.max() <= 0.06 + 1e-9
    assert np.abs(r.foil).max() < 0.0605
    assert cycle_speeds(r)[-1] < 0.97 * 4.5
