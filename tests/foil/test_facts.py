"""Published numbers that the model, its limits and its texts lean on, worked out again from first principles.

No part of the program computes these; each is done here by integration, beside the closed form of its source.
"""

from __future__ import annotations

import numpy as np
import pytest

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
