"""Published numbers that the model, its limits and its texts lean on, worked out again from first principles.

No part of the program computes these; each is done here by integration, beside the closed form of its source.
"""

from __future__ import annotations

import attrs
import numpy as np
import pytest

from cadence_coach.foil.band import least_drag_speed
from cadence_coach.foil.drag import steady_drag
from tests.foil.riders import RIDERS

STANDARD_GRAVITY = 9.80665


def test_a_hop_of_a_tenth_of_a_second_flight() -> None:
    """Morin et al. 2005, J. Appl. Biomech. 21, 167 (published abstract, formulas): 80 kg, contact 0.25 s, flight 0.10
    s gives F_max 1725.28 N, sinking 0.05995 m, stiffness 28.777 kN/m. Here: the half-sine integrated twice from
    touch-down."""
    mass, contact, flight, g, n = 80.0, 0.25, 0.10, STANDARD_GRAVITY, 200_000
    top = mass * g * np.pi / 2 * (flight / contact + 1)
    t = (np.arange(n) + 0.5) * contact / n
    velocity = -g * flight / 2 + np.cumsum(top * np.sin(np.pi * t / contact) / mass - g) * contact / n
    height = np.cumsum(velocity) * contact / n
    assert velocity[-1] == pytest.approx(g * flight / 2, rel=1e-6)  # leaves as fast as it came
    assert top == pytest.approx(1725.28, abs=0.01)
    assert -height.min() == pytest.approx(0.05995, abs=1e-5)
    assert top / -height.min() / 1000 == pytest.approx(28.777, abs=0.01)
    assert -height.min() == pytest.approx(top * contact**2 / (mass * np.pi**2) - g * contact**2 / 8, rel=1e-4)


def test_a_jump_of_thirty_centimetres() -> None:
    """Ballistics: v 2.4257 m/s, in the air 0.4947 s. Here: the fall integrated until it is back."""
    n, g = 400_000, STANDARD_GRAVITY
    t = np.arange(n) * 0.6 / n
    height = 2.4257 * t - g * t**2 / 2
    assert height.max() == pytest.approx(0.30, abs=1e-4)
    assert t[np.flatnonzero(height >= 0)[-1]] == pytest.approx(0.4947, abs=1e-4)


def test_weekly_sound_allowance() -> None:
    """ITU-T H.870 (03/2022, published): 80 dB(A) for 40 h a week is 1.6 Pa2h, halved for each 3 dB; so 4 h at 90 dB."""
    pressure = 20e-6 * 10 ** (80 / 20)
    assert pressure**2 * 40 == pytest.approx(1.600, abs=0.001)
    louder = 20e-6 * 10 ** (90 / 20)
    assert pressure**2 * 40 / louder**2 == pytest.approx(4.000, abs=0.001)


@pytest.mark.parametrize("name", RIDERS)
def test_a_chord_below_the_surface_costs_a_twentieth_of_the_lift(name: str) -> None:
    """Faltinsen 2005, Hydrodynamics of High-Speed Marine Vehicles, eq. 6.144 (form from memory): lift near the surface
    is (1 + 16 x^2)/(2 + 16 x^2) of that in the deep, x = depth in chords: 0.944444 at one. That is why the model may
    leave it out: the heave limit stops there. Here: the slope of a flat plate under its like-signed image, one vortex
    at the quarter chord, the condition at three quarters."""
    setup = attrs.evolve(RIDERS[name], depth=1.2 * RIDERS[name].chord, heave_max=1.0)
    depth = (setup.depth - setup.heave_limit) / setup.chord
    assert depth == pytest.approx(1.0)
    # a chord further down than the three-quarter point of the plate, its image turns round it the other way
    own = 1 / (2 * np.pi * 0.5)
    image = own * 0.5**2 / (0.5**2 + (2 * depth) ** 2)
    assert own / (own + image) == pytest.approx((1 + 16 * depth**2) / (2 + 16 * depth**2), abs=1e-9)
    assert own / (own + image) == pytest.approx(0.944444, abs=1e-6)


@pytest.mark.parametrize("name", RIDERS)
def test_drag_grows_with_speed_above_its_least(name: str) -> None:
    setup = RIDERS[name]
    slow, fast = least_drag_speed(setup), np.arange(4.0, 6.01, 0.05)
    faster = fast[fast > slow]
    assert len(faster) > 20
    assert (np.diff(steady_drag(setup, faster).total) > 0).all()
    assert (np.diff(steady_drag(setup, np.arange(2.0, slow, 0.05)).total) < 0).all()


def test_prandtl_and_schlichtings_line() -> None:
    """Schlichting, Boundary-Layer Theory (from memory): 0.455/(log10 Re)^2.58 = 0.004471 at Re 1e6, a fit of the
    logarithmic law of the wall. Here: that law for a whole plate, 0.242/sqrt(Cf) = log10(Re Cf) (Schoenherr 1932,
    from memory), by fixed-point iteration."""
    line = 0.455 / np.log10(1e6) ** 2.58
    assert line == pytest.approx(0.004471, abs=1e-5)
    wall = 0.004
    for _ in range(50):
        wall = (0.242 / np.log10(1e6 * wall)) ** 2
    assert line == pytest.approx(wall, rel=0.02)
