"""A wing that swings: Theodorsen's function and what Garrick's thrust loses to the wake, in two dimensions.

    theodorsen(k) -> C(k), complex          shed_loss(k) -> (F/|C|^2 - 1)/(2 pi)

k = omega x half-chord / speed; k may be an array. Without scipy, because the phone has none: ascending series below k
= 14 and Hankel's asymptotic series above, both within 1e-11 of scipy.special and mpmath in the tests.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

SWITCH = 14.0
"""k where the ascending series (losing digits as e^k) hands over to the asymptotic one (good to e^(-2k))."""
EULER = 0.5772156649015329


def _ascending(k: np.ndarray, orders: int) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """J0, Y0, J1, Y1 by their power series (Abramowitz & Stegun 9.1.10-13), for 0 < k <= SWITCH."""
    x = -(k * k) / 4
    log = np.log(k / 2) + EULER
    term0, term1 = np.ones_like(k), np.ones_like(k)
    j0, j1, s0, s1, harmonic = term0.copy(), term1.copy(), np.zeros_like(k), term1.copy(), 0.0
    for n in range(1, orders):
        term0 = term0 * x / (n * n)
        term1 = term1 * x / (n * (n + 1))
        harmonic += 1 / n
        j0, j1 = j0 + term0, j1 + term1
        s0 = s0 - harmonic * term0
        s1 = s1 + (2 * harmonic + 1 / (n + 1)) * term1
    j1 = j1 * k / 2
    y0 = (2 / math.pi) * (log * j0 + s0)
    y1 = (2 / math.pi) * (log * j1 - 1 / k - k / 4 * s1)
    return j0, y0, j1, y1


def _hankel_tail(order: int, k: np.ndarray) -> np.ndarray:
    """The factor of H(2) besides its common phase and size: sum of a_n (-i/k)^n (Abramowitz & Stegun 9.2.8), for k >
    SWITCH."""
    total = term = np.ones_like(k, dtype=complex)
    for n in range(1, 26):  # the smallest term is near n = 2 k
        term = term * (4 * order**2 - (2 * n - 1) ** 2) / (8 * n) * (-1j / k)
        total = total + term
    return total


def theodorsen(k: Any) -> Any:
    """C(k) = F + iG = H1 / (H1 + i H0), Hankel functions of the second kind (Theodorsen 1935, NACA TR-496).

    1 at k = 0, 1/2 as k -> infinity. ValueError for k < 0 or not finite.
    """
    values = np.atleast_1d(np.asarray(k, dtype=float))
    if not (np.isfinite(values).all() and (values >= 0).all()):
        raise ValueError("reduced frequency must be finite and not negative")
    out = np.ones(values.shape, dtype=complex)
    low = (values > 0) & (values <= SWITCH)
    if low.any():
        x = values[low]
        j0, y0, j1, y1 = _ascending(x, orders=12 + int(3 * x.max()))
        h0, h1 = j0 - 1j * y0, j1 - 1j * y1
        out[low] = h1 / (h1 + 1j * h0)
    high = values > SWITCH
    if high.any():
        # H_n(2) ~ e^{-i(k - n pi/2 - pi/4)}: between order 0 and 1 the phase is i.
        h0, h1 = _hankel_tail(0, values[high]), 1j * _hankel_tail(1, values[high])
        out[high] = h1 / (h1 + 1j * h0)
    return out.reshape(np.shape(k)) if np.ndim(k) else complex(out[0])


def shed_loss(k: Any) -> Any:
    """(F/|C|^2 - 1)/(2 pi): loss to shed vorticity per mean square of the swinging CL, from Garrick 1936. 0 at k =
    0."""
    c = theodorsen(k)
    return (np.real(c) / np.abs(c) ** 2 - 1) / (2 * math.pi)
