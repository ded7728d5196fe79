"""Statistics against the published check values and independent libraries."""

from __future__ import annotations

import numpy as np
import pingouin
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from cadence_coach.review import stats

# independently computed once with NumPy and SciPy, kept with all printed digits; tolerance: half the last one
PERIODS = np.array([0.60, 0.62, 0.58, 0.61, 0.59, 0.60, 0.64, 0.57])
HALF_DIGIT_8 = 0.5e-8


def test_variation_rmssd_and_carry_over_have_their_check_values():
    assert stats.variation(PERIODS) == pytest.approx(0.03712385, abs=HALF_DIGIT_8)
    assert stats.variation(PERIODS) == pytest.approx(scipy.stats.variation(PERIODS, ddof=1), rel=1e-12)
    assert stats.rmssd(PERIODS) == pytest.approx(0.03760699, abs=HALF_DIGIT_8)
    assert stats.lag1(PERIODS) == pytest.approx(-0.55958781, abs=HALF_DIGIT_8)


def test_drift_of_cadence_by_least_squares_and_by_theil_sen():
    number, cadence = np.arange(len(PERIODS)), 60.0 / PERIODS
    assert stats.straight_slope(number, cadence) == pytest.approx(0.17512583, abs=HALF_DIGIT_8)
    assert stats.straight_slope(number, cadence) == pytest.approx(np.polyfit(number, cadence, 1)[0], rel=1e-9)
    assert stats.robust_slope(number, cadence).slope == pytest.approx(0.39335261, abs=HALF_DIGIT_8)


PHASES = np.array([0.1, 0.2, -0.1, 0.05, -0.3, 0.4, 0.0, 0.15])


def test_lock_to_the_click_has_its_check_values_and_agrees_with_pingouin():
    found = stats.lock(PHASES)
    assert (found.n, found.r, found.mean_rad) == (
        8,
        pytest.approx(0.98117840, abs=HALF_DIGIT_8),
        pytest.approx(0.06271890, abs=HALF_DIGIT_8),
    )
    assert found.rayleigh_p == pytest.approx(2.81694e-5, abs=0.5e-10)
    assert found.v_p == pytest.approx(4.48295e-5, abs=0.5e-10)
    assert found.rayleigh_p == pytest.approx(pingouin.circ_rayleigh(PHASES)[1], rel=1e-9)
    assert found.v_p == pytest.approx(pingouin.circ_vtest(PHASES, dir=0.0)[1], rel=1e-9)
    assert found.r == pytest.approx(pingouin.circ_r(PHASES), rel=1e-12)


@pytest.mark.parametrize(("spread_ms", "r"), [(20, 0.982), (30, 0.961), (50, 0.895), (80, 0.753)])
def test_lock_of_pure_scatter_at_90_a_minute(spread_ms, r):
    """R = exp(-sigma^2 / 2), mean of a wrapped normal (Mardia & Jupp, from memory); values computed at 1.5 Hz."""
    rng = np.random.default_rng(0)
    sigma = 2.0 * np.pi * 1.5 * spread_ms / 1000.0
    assert np.exp(-(sigma**2) / 2.0) == pytest.approx(r, abs=0.0005)
    assert stats.lock(sigma * rng.standard_normal(200_000)).r == pytest.approx(r, abs=0.002)


values = st.floats(-100, 100).map(lambda v: round(v, 2))


@given(
    st.integers(3, 60).flatmap(
        lambda n: st.tuples(arrays(float, n, elements=values), arrays(float, n, elements=values))
    )
)
def test_theil_sen_and_its_interval_agree_with_scipy(pair):
    x, y = pair
    if len(np.unique(x)) < 3:
        assert stats.robust_slope(x, y) is None
        return
    with np.errstate(invalid="ignore"):
        judge = scipy.stats.theilslopes(y, x)
    found = stats.robust_slope(x, y)
    assert found.slope == pytest.approx(judge.slope, rel=1e-9, abs=1e-12)
    if (
        _variance_of_s(x, y) > 0
    ):  # so many ties that the normal approximation has no spread: scipy gives no interval then
        assert found[1:] == pytest.approx((judge.low_slope, judge.high_slope), rel=1e-9, abs=1e-12)


def _variance_of_s(x, y):
    """Of Kendall's S with ties (Sen 1968), times 18."""
    n = len(x)
    ties = [np.unique(v, return_counts=True)[1] for v in (x, y)]
    return n * (n - 1) * (2 * n + 5) - sum(float(np.sum(k * (k - 1) * (2 * k + 5))) for k in ties)


def test_a_long_series_is_thinned_without_moving_the_slope():
    rng = np.random.default_rng(4)
    x = np.arange(3000.0)
    found = stats.robust_slope(x, 0.01 * x + rng.standard_normal(3000))
    assert found.slope == pytest.approx(0.01, abs=3e-4)
    assert found.low < 0.01 < found.high


@given(arrays(float, st.integers(4, 80), elements=st.floats(0.3, 1.2)))
def test_spread_is_scipys_interquartile_range(x):
    assert stats.spread(x) == pytest.approx(scipy.stats.iqr(x), abs=1e-12)


def test_what_is_not_defined_is_none():
    assert stats.variation(np.array([0.6])) is None
    assert stats.rmssd(np.array([])) is None
    assert stats.lag1(np.array([0.6, 0.6, 0.6])) is None
    assert stats.lock(np.array([0.1, 0.2])) is None
    assert stats.spread(np.array([1.0, 2.0])) is None
    assert stats.middle(np.array([np.nan])) is None
