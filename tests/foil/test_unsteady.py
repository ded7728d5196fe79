"""The swinging wing against scipy.special, mpmath and the energy balance."""

from __future__ import annotations

import math

import mpmath
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special

from cadence_coach.foil.unsteady import shed_loss, theodorsen
from tests.foil.garrick import garrick

DIGITS = 1e-6  # half the last printed digit of the values below, rounded up


@pytest.mark.parametrize(
    "k, f, g",
    [  # Theodorsen 1935, NACA TR-496; digits computed with SciPy and mpmath, TR-496 prints 4 (from memory).
        (0.02, 0.963725, -0.075208),
        (0.1, 0.831924, -0.172302),
        (0.2, 0.727580, -0.188624),
        (0.5, 0.597936, -0.150710),
        (1.0, 0.539435, -0.100273),
        (10, 0.500618, -0.012447),
        (100, 0.500006, -0.001250),
    ],
)
def test_theodorsen_table(k: float, f: float, g: float) -> None:
    c = theodorsen(k)
    assert c.real == pytest.approx(f, abs=DIGITS)
    assert c.imag == pytest.approx(g, abs=DIGITS)


def test_theodorsen_is_scipys_everywhere() -> None:
    """Independently computed: scipy.special.hankel2, over eleven decades, past the hand-over at k = 14."""
    k = np.concatenate([np.geomspace(1e-5, 14, 400), np.geomspace(14.0001, 1e6, 400)])
    h0, h1 = special.hankel2(0, k), special.hankel2(1, k)
    assert np.abs(theodorsen(k) - h1 / (h1 + 1j * h0)).max() < 1e-10


@pytest.mark.parametrize("k", [0.001, 0.13303, 1.7, 13.9, 14.1])
def test_theodorsen_is_mpmaths(k: float) -> None:
    """Independently computed: mpmath with 30 digits."""
    with mpmath.workdps(30):
        h0, h1 = mpmath.hankel2(0, k), mpmath.hankel2(1, k)
        exact = complex(h1 / (h1 + 1j * h0))
    assert abs(theodorsen(k) - exact) < 1e-10


def test_theodorsen_limits() -> None:
    """Steady flow: full circulation; infinitely fast: half of it (limits)."""
    assert theodorsen(0) == 1
    assert theodorsen(1e6) == pytest.approx(0.5, abs=DIGITS)
    assert shed_loss(0.0) == 0


@pytest.mark.parametrize("k", [-0.1, math.nan, math.inf])
def test_theodorsen_refuses_what_is_no_frequency(k: float) -> None:
    with pytest.raises(ValueError):
        theodorsen(k)


@pytest.mark.parametrize(
    "k, loss", [(0.05, 0.01239), (0.08, 0.01960), (0.10, 0.02429), (0.12, 0.02885), (0.15, 0.03546), (0.20, 0.04581)]
)
def test_shed_loss(k: float, loss: float) -> None:
    """Independently computed from Garrick's F and G (SciPy)."""
    assert shed_loss(k) == pytest.approx(loss, abs=5e-6)


@pytest.mark.parametrize("k, efficiency", [(0.1, 0.867610), (1e-4, 0.999843), (100, 0.500009)])
def test_heave_efficiency(k: float, efficiency: float) -> None:
    """Garrick 1936, NACA TR-567 (formula from memory): (F^2 + G^2)/F, 1 for slow heaving, 1/2 for fast."""
    swing = garrick(1000, 5, 0.06, k * 5 / 0.06, 0.001)
    assert swing.efficiency == pytest.approx(efficiency, abs=DIGITS)


@pytest.mark.parametrize(
    "pitch_deg, phase_deg, axis, thrust, power, efficiency",
    [  # Garrick 1936 (equations from memory), digits independently computed. V 5, c 0.12, 1.5 Hz, heave 0.12 m.
        (0, 0, -0.5, 167.7083, 982.3198, 0.853634),
        (5, -90, -0.5, 108.1245, 595.1348, 0.908403),
        (5, 90, -0.5, 219.0814, 1371.7999, 0.79852),
        (3, 90, -0.5, 199.5174, 1215.7324, 0.82056),
        (5, 90, 0.0, 219.2750, 1372.5624, 0.79878),
    ],
)
def test_garrick(
    pitch_deg: float, phase_deg: float, axis: float, thrust: float, power: float, efficiency: float
) -> None:
    pitch = math.radians(pitch_deg) * complex(math.cos(math.radians(phase_deg)), math.sin(math.radians(phase_deg)))
    swing = garrick(1000, 5, 0.06, 3 * math.pi, 0.12, pitch, axis)
    assert swing.thrust == pytest.approx(thrust, rel=1e-5)
    assert swing.power == pytest.approx(power, rel=1e-5)
    assert swing.efficiency == pytest.approx(efficiency, rel=1e-5)


def test_lift_of_pure_heave_would_overload_a_rider() -> None:
    """1756 N/m, independently computed: why pumping is mostly feathering."""
    assert abs(garrick(1000, 5, 0.06, 3 * math.pi, 0.12).lift) == pytest.approx(1756, abs=0.5)


@given(
    k=st.floats(0.01, 3),
    heave=st.floats(0.01, 0.3),
    pitch=st.complex_numbers(max_magnitude=0.2, allow_nan=False),
    axis=st.floats(-1, 1),
)
def test_what_the_swing_takes_is_thrust_and_wake(k: float, heave: float, pitch: complex, axis: float) -> None:
    """Energy: power in = thrust x speed + kinetic energy left in the wake, (F - |C|^2) pi rho b V |Q|^2 >= 0, for any
    motion."""
    rho, v, b = 1000.0, 5.0, 0.06
    w = k * v / b
    swing = garrick(rho, v, b, w, heave, pitch, axis)
    c = theodorsen(k)
    q = v * pitch + 1j * w * heave + b * (0.5 - axis) * 1j * w * pitch
    wake = math.pi * rho * b * v * abs(q) ** 2 * (c.real - abs(c) ** 2)
    assert wake >= 0
    assert swing.power - swing.thrust * v == pytest.approx(wake, rel=1e-9, abs=1e-6)
