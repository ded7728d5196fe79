"""The resampler against exact integrals, the smoother against its own theory, sums of products."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import butter, group_delay, lfilter
from scipy.signal.windows import hann

from cadence_coach.core.filters import dot, hann_weights, second_order, squares, stretch, third_order

from .plain import Resampler

STEP = 0.01


def grid(t: np.ndarray, xyz: np.ndarray, step: float = STEP) -> np.ndarray:
    """All grid points [n, 4] that the resampler gives for samples [n] and [n, 3]."""
    r = Resampler(step)
    r.restart(t[0], *xyz[0].tolist())
    out: list[tuple[float, float, float, float]] = []
    for s, a in zip(t[1:].tolist(), xyz[1:].tolist(), strict=True):
        out += r.push(s, *a)
    return np.array(out).reshape(-1, 4)


def integral(t: np.ndarray, y: np.ndarray, at: np.ndarray) -> np.ndarray:
    """Exact integral from t[0] to `at` of the straight lines between samples (trapezia, closed form within a piece)."""
    whole = np.concatenate([[0.0], np.cumsum(np.diff(t) * (y[1:] + y[:-1]) / 2)])
    i = np.clip(np.searchsorted(t, at, side="right") - 1, 0, len(t) - 2)
    d = at - t[i]
    slope = (y[i + 1] - y[i]) / (t[i + 1] - t[i])
    return whole[i] + d * (y[i] + 0.5 * slope * d)


@settings(max_examples=60)
@given(
    st.lists(st.floats(1e-4, 0.12), min_size=2, max_size=120),
    st.integers(0, 2**32 - 1),
    st.floats(0.0, 1e4),
)
def test_a_grid_point_is_the_mean_of_the_straight_lines_over_its_cell(steps: list[float], seed: int, t0: float) -> None:
    """Independently computed with numpy. 1e-7 m/s2: float64 rounding of times of some 1e4 s over cells of 10 ms."""
    t = t0 + np.concatenate([[0.0], np.cumsum(steps)])
    xyz = np.random.default_rng(seed).uniform(-80, 80, (len(t), 3))
    got = grid(t, xyz)
    edges = t[0] + STEP * np.arange(len(got) + 1)
    assert len(got) == np.sum(t[0] + STEP * np.arange(1, 100_000) <= t[-1])
    for k in range(3):
        want = np.diff(integral(t, xyz[:, k], edges)) / STEP
        assert np.allclose(got[:, 1 + k], want, rtol=0, atol=1e-7 * (1 + t0))
    assert np.allclose(got[:, 0], edges[:-1] + STEP / 2, rtol=0, atol=1e-11 * (1 + t0))


def test_samples_on_the_grid_become_the_mean_of_neighbours() -> None:
    """At the grid's own rate a cell mean is (a + b) / 2: scipy.signal.lfilter([.5, .5], 1, x) does the same sums.

    A step of 1/128 s and samples in 1/64 m/s2 make every sum and product exact, so the comparison is bit for bit."""
    step = 1 / 128
    xyz = np.random.default_rng(1).integers(-1280, 1280, (500, 3)) / 64
    got = grid(np.arange(500) * step, xyz, step)
    assert (got[:, 1:] == lfilter([0.5, 0.5], 1.0, xyz, axis=0)[1:]).all()


def test_a_constant_stays_and_a_line_stays_a_line() -> None:
    """Limiting cases: the mean of a constant is the constant, of a line its middle."""
    t = np.cumsum(np.random.default_rng(2).uniform(0.001, 0.03, 300))
    got = grid(t, np.column_stack([np.full(300, 9.8), 3.0 * t, -t]))
    assert np.allclose(got[:, 1], 9.8, atol=1e-12)
    assert np.allclose(got[:, 2], 3.0 * got[:, 0], atol=1e-10)


def test_a_cell_is_known_with_the_first_sample_at_or_after_its_end() -> None:
    r = Resampler(STEP)
    r.restart(0.0, 1.0, 1.0, 1.0)
    assert r.push(0.0099, 1.0, 1.0, 1.0) == []
    assert [p[0] for p in r.push(0.01, 1.0, 1.0, 1.0)] == [0.005]
    assert [round(p[0], 6) for p in r.push(0.0401, 1.0, 1.0, 1.0)] == [0.015, 0.025, 0.035]


def test_what_the_grid_cannot_carry_is_kept_out() -> None:
    """A tone at the grid's rate, sampled at 400 Hz, is gone: the first zero of the cell mean (its sinc)."""
    t = np.arange(4000) / 400
    got = grid(t, np.repeat(np.sin(2 * np.pi * 100 * t + 0.7)[:, None], 3, axis=1))
    assert np.abs(got[:, 1:]).max() < 1e-9


@pytest.mark.parametrize("half_width", [1, 2, 4, 7])
def test_smoother_is_scipys_hann_window(half_width: int) -> None:
    """scipy.signal.windows.hann without its two zeros, scaled to sum 1. Its delay by scipy.signal.group_delay."""
    weights = np.array(hann_weights(half_width))
    window = hann(2 * half_width + 3)[1:-1]
    assert np.allclose(weights, window / window.sum(), rtol=0, atol=1e-15)
    assert math.isclose(weights.sum(), 1.0, abs_tol=1e-15)
    assert (np.abs(weights - weights[::-1]) < 1e-15).all()
    _, delay = group_delay((weights, [1.0]), w=np.linspace(0.01, 0.5, 50))
    assert np.allclose(delay, half_width, atol=1e-6), "the same at every frequency"


@given(st.integers(0, 60), st.integers(0, 16))
def test_a_stretch_of_a_ring_is_what_went_in(first: int, count: int) -> None:
    """Against a list that forgets nothing."""
    ring, all_of_it = [math.nan] * 16, [float(k) for k in range(first + count)]
    for k, value in enumerate(all_of_it):
        ring[k % 16] = value
    assert stretch(ring, first, first + count) == all_of_it[first:]


@pytest.mark.parametrize("hz", [0.5, 3.0, 9.0, 20.0, 45.0])
@pytest.mark.parametrize("step", [0.01, 0.005])
def test_coefficients_are_scipys_butterworth(hz: float, step: float) -> None:
    """Independently computed: scipy.signal.butter. The third order as its two sections multiplied out."""
    b, a1, a2 = second_order(hz, step)
    theirs_b, theirs_a = butter(2, hz, fs=1 / step)
    assert np.allclose([b, 2 * b, b], theirs_b, rtol=1e-9) and np.allclose([1, a1, a2], theirs_a, rtol=1e-9)
    p, q, b, a1, a2 = third_order(hz, step)
    theirs_b, theirs_a = butter(3, hz, fs=1 / step)
    assert np.allclose(np.polymul([p, p], [b, 2 * b, b]), theirs_b, rtol=1e-9)
    assert np.allclose(np.polymul([1, q], [1, a1, a2]), theirs_a, rtol=1e-9)


@given(st.integers(1, 80), st.integers(0, 2**32 - 1), st.floats(1e-3, 1e3))
def test_sums_of_products_are_numpys(count: int, seed: int, size: float) -> None:
    """To 1e-14 of the sum of the squares: what the nets' log-odds and the harmonics of a cycle are made of."""
    a, b = np.random.default_rng(seed).standard_normal((2, count)) * np.array([[size], [1.0]])
    both = squares(a.tolist()) + squares(b.tolist())
    assert both == pytest.approx(float(a @ a + b @ b), rel=1e-14)
    assert dot(a.tolist(), b.tolist(), both) == pytest.approx(float(a @ b), rel=0, abs=1e-14 * both)
