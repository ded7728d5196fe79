"""Figures of a bounce against NumPy."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cadence_coach.core.shape import LIGHT_G, Shape, middle_of_low, shape_of, travel_of


@given(st.integers(8, 220), st.integers(0, 2**32 - 1), st.floats(0.05, 2.0))
def test_figures_are_numpys(count: int, seed: int, high: float) -> None:
    """Harmonics by numpy.fft, the moving average by numpy.convolve, the rest by sorting and differences."""
    rng = np.random.default_rng(seed)
    x = np.arange(count) / count
    v = 1.0 + high * np.sin(2 * np.pi * x + rng.uniform(0, 6)) + 0.3 * high * rng.standard_normal(count)
    got = shape_of(v.tolist())
    waves = 2.0 / count * np.abs(np.fft.fft(v)[:4])
    size = waves[1]
    left = v[3:-3] - np.convolve(v, np.full(7, 1 / 7), "valid")
    depth = 1.0 - v.min()
    low = v[v < v.min() + 0.6 * depth]
    expected = Shape(
        v.mean(),
        size,
        waves[2] / size,
        waves[3] / size,
        math.sqrt((left**2).sum() / len(left)) / size,
        np.mean(low < v.min() + 0.2 * depth),
        np.abs(v[4:] - v[:-4]).max() / size,
        0.01 * np.sum(low < LIGHT_G),
    )
    for name in Shape.__slots__:
        assert getattr(got, name) == pytest.approx(getattr(expected, name), rel=1e-9, abs=1e-12), name


def test_edges_of_what_can_be_told() -> None:
    """Nothing moves: no shape, not a division by nothing. Five points have no moving average but an edge; a bounce
    that never weighs less than 1 g has no glide."""
    still = shape_of([1.0] * 30)
    assert (still.mean, still.size, still.grain, still.flat, still.edge) == (
        1.0,
        pytest.approx(0.0, abs=1e-15),
        0,
        0,
        0,
    )
    five = shape_of([0.5, 1.5, 1.0, 0.5, 0.7])
    assert five.grain == 0.0 and five.edge == pytest.approx(0.2 / five.size)
    assert shape_of([1.0, 1.0, 1.0, 1.0]).edge == 0.0
    assert shape_of([1.1, 1.6, 1.4, 1.2, 1.1, 1.3]).flat == 0.0
    tiny = shape_of([1.0 + 1e-4 * math.sin(2 * math.pi * k / 40) for k in range(40)])
    assert tiny.size == pytest.approx(1e-4) and tiny.edge == pytest.approx(
        1e-4 * 2 * math.sin(math.pi / 10) / 1e-3, rel=0.01
    )


def test_middle_of_the_glides_lower_half() -> None:
    """Below the mean of the level and the lowest point: points 3 to 5 of the first, 4 to 5 of the second; where all
    lies over the level, the middle of what there is."""
    assert middle_of_low([2.0, 2.0, 1.0, 0.5, 0.2, 0.6, 1.0], 2, 1.0) == 4.0
    assert middle_of_low([2.0, 2.0, 1.0, 0.7, 0.2, 0.6, 1.0], 2, 1.0) == 4.5
    assert middle_of_low([2.0, 1.2, 1.3, 1.4, 1.2], 1, 1.0) == 3.0


@pytest.mark.parametrize("cycles", [1, 2])
@pytest.mark.parametrize("bias", [0.0, 0.03])
def test_travel_of_a_sinusoid_is_the_closed_form(cycles: int, bias: float) -> None:
    """Amplitude r g: 2 r g / w^2, peak to peak (double integral of a sinusoid), whatever the sensor's own 1 g is."""
    n, r = 60, 0.6
    values = [1.0 + bias + r * math.cos(2 * math.pi * k / n) for k in range(cycles * n)]
    w = 2 * math.pi / (n * 0.01)
    assert travel_of(values, (cycles - 1) * n) == pytest.approx(2 * r * 9.80665 / w**2, rel=0.01)
