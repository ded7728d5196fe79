"""Power and duration: closed forms, printed examples, and least squares against SciPy and pingouin."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize, stats

from cadence_coach.foil.endurance import Endurance, fit, student_95

TWO = Endurance(220, 15_000)
THREE = Endurance(220, 15_000, 900)


@pytest.mark.parametrize(
    "seconds, watts", [(120, 345.0), (150, 320.0), (300, 270.0), (600, 245.0), (1800, 228.33), (3600, 224.17)]
)
def test_two_parameters(seconds: float, watts: float) -> None:
    """Monod & Scherrer 1965 (published): P = CP + W'/t; by hand."""
    assert TWO.power(seconds) == pytest.approx(watts, abs=0.005)
    assert TWO.duration(TWO.power(seconds)) == pytest.approx(seconds)


def test_two_parameters_durations() -> None:
    assert TWO.duration(300) == pytest.approx(187.5, rel=1e-6)
    assert TWO.duration(260) == pytest.approx(375, rel=1e-6)
    assert TWO.duration(220) == math.inf and TWO.duration(100) == math.inf


@pytest.mark.parametrize(
    "seconds, watts", [(10, 687.89), (30, 508.14), (60, 402.80), (150, 307.18), (600, 244.11), (1800, 228.23)]
)
def test_three_parameters(seconds: float, watts: float) -> None:
    """Morton 1996 (from memory): P = CP + W'/(t + W'/(Pmax - CP)); by hand."""
    assert THREE.power(seconds) == pytest.approx(watts, abs=0.005)
    assert THREE.duration(THREE.power(seconds)) == pytest.approx(seconds)
    inverse = 15_000 / (watts - 220) - 15_000 / (900 - 220)
    assert inverse == pytest.approx(seconds, rel=2e-3)


def test_three_parameters_limits() -> None:
    """Pmax at once; without bound in Pmax it is the two-parameter model; CP for ever."""
    assert THREE.power(0) == pytest.approx(900)
    assert THREE.duration(900) == pytest.approx(0, abs=1e-9) and THREE.duration(2000) == 0
    assert Endurance(220, 15_000, 1e9).power(120) == pytest.approx(TWO.power(120), rel=1e-4)
    assert THREE.power(math.inf) == 220 and TWO.power(0) == math.inf


@pytest.mark.parametrize(
    "t1, t2, drop, work, share",
    [
        (150, 1800, 0.25, 450 / 11, 8 / 11),
        (120, 1800, 0.25, 32.143, 0.73214),
        (180, 1800, 0.25, 50.0, 0.72222),
        (150, 1200, 0.25, 42.857, 0.71429),
    ],
)
def test_a_quarter_less_power(t1: float, t2: float, drop: float, work: float, share: float) -> None:
    """From 150 s to 1800 s with 25 % less power: CP = 8/11 of P150, W' = 40.909 s of P150. Solved by hand, and here
    as two linear equations by NumPy. 25 % less drag at the same speed is 25 % less power."""
    rider = fit([t1, t2], [300, 300 * (1 - drop)]).endurance
    assert rider.duration(300) == pytest.approx(t1) and rider.duration(300 * (1 - drop)) == pytest.approx(t2)
    assert rider.duration(0.99 * rider.cp) == math.inf
    assert rider.w / 300 == pytest.approx(work, abs=5e-4)
    assert rider.cp / 300 == pytest.approx(share, abs=5e-6)
    cp, w = np.linalg.solve([[1, 1 / t1], [1, 1 / t2]], [300, 300 * (1 - drop)])
    assert (rider.cp, rider.w) == pytest.approx((cp, w))
    if (t1, t2) == (150, 1800):
        assert (rider.cp / 300, rider.w / 300) == pytest.approx((0.727273, 40.9091), abs=5e-5)
        assert (rider.cp, rider.w) == pytest.approx((218.2, 12_270), rel=1e-3)


def test_an_estimate_is_a_range() -> None:
    """At +-30 % of 285 W the same rider lasts 100 s or without bound: never one number."""
    shortest, longest = TWO.duration_range(285)
    assert shortest == pytest.approx(15_000 / (1.3 * 285 - 220)) and longest == math.inf
    assert TWO.power_range(120) == pytest.approx((0.7 * 345, 1.3 * 345))


@given(cp=st.floats(100, 400), w=st.floats(5e3, 3e4), extra=st.floats(1.01, 3), seconds=st.floats(1, 5000))
def test_longer_is_always_weaker(cp: float, w: float, extra: float, seconds: float) -> None:
    for rider in (Endurance(cp, w), Endurance(cp, w, cp * extra)):
        assert rider.power(seconds) > rider.power(seconds * 1.1) > cp
        assert rider.duration(rider.power(seconds)) == pytest.approx(seconds, rel=1e-6)


TRIALS = np.array([95.0, 140, 230, 410, 700, 1150])
SCATTER = np.array([4.0, -3, 2, -2, 1.5, -1])


def test_two_parameter_fit_is_scipys() -> None:
    """Independently computed: scipy.stats.linregress of power on 1/t, with its t intervals."""
    powers = TWO.power(1.0) * 0 + np.array([TWO.power(t) for t in TRIALS]) + SCATTER
    found = fit(TRIALS, powers)
    line = stats.linregress(1 / TRIALS, powers)
    assert (found.endurance.cp, found.endurance.w) == pytest.approx((line.intercept, line.slope))
    half = stats.t.ppf(0.975, 4)
    assert found.w_interval == pytest.approx((line.slope - half * line.stderr, line.slope + half * line.stderr))
    assert found.cp_interval == pytest.approx(
        (line.intercept - half * line.intercept_stderr, line.intercept + half * line.intercept_stderr)
    )
    assert found.trials == 6


def test_two_parameter_intervals_are_pingouins() -> None:
    """Independently computed: pingouin.linear_regression, a general statistics library."""
    import pingouin

    powers = np.array([TWO.power(t) for t in TRIALS]) + SCATTER
    found = fit(TRIALS, powers)
    table = pingouin.linear_regression(1 / TRIALS, powers)
    columns = [c for c in table.columns if str(c).startswith("CI")]
    low, high = columns[0], columns[1]
    assert found.cp_interval == pytest.approx((table[low][0], table[high][0]), rel=1e-6)
    assert found.w_interval == pytest.approx((table[low][1], table[high][1]), rel=1e-6)


def test_three_trials_leave_one_degree_of_freedom_and_two_none() -> None:
    """By the normal equations with NumPy; Student's t for one degree of freedom is 12.706 (printed tables)."""
    t, p = np.array([100.0, 300.0, 900.0]), np.array([305.0, 250.0, 228.0])
    x = np.stack([np.ones(3), 1 / t], axis=1)
    coefficients, residuals, *_ = np.linalg.lstsq(x, p, rcond=None)
    half = 12.706 * np.sqrt(residuals[0] * np.diag(np.linalg.inv(x.T @ x)))
    found = fit(t, p)
    for interval, value, wide in zip((found.cp_interval, found.w_interval), coefficients, half, strict=True):
        assert interval == pytest.approx((value - wide, value + wide), rel=1e-4)
    assert all(math.isnan(v) for v in fit(t[:2], p[:2]).cp_interval)


def test_three_parameter_fit_is_scipys() -> None:
    """Independently computed: scipy.optimize.curve_fit from the truth, with its covariance."""
    times = np.array([15.0, 40, 90, 180, 420, 900, 1500])
    powers = np.array([THREE.power(t) for t in times]) + np.array([8.0, -6, 4, -3, 2, -1, 1])
    found = fit(times, powers, three=True)

    def model(t: np.ndarray, cp: float, w: float, top: float) -> np.ndarray:
        return cp + w / (t + w / (top - cp))

    best, covariance = optimize.curve_fit(model, times, powers, p0=(220, 15_000, 900), xtol=1e-12, ftol=1e-12)
    assert found.endurance.p_max is not None and found.p_max_interval is not None
    assert (found.endurance.cp, found.endurance.w, found.endurance.p_max) == pytest.approx(best, rel=1e-4)
    half = stats.t.ppf(0.975, 4) * np.sqrt(np.diag(covariance))
    for interval, value, width in zip(
        (found.cp_interval, found.w_interval, found.p_max_interval), best, half, strict=True
    ):
        assert interval == pytest.approx((value - width, value + width), rel=2e-3)


def test_exact_trials_give_the_rider_back() -> None:
    for rider in (TWO, THREE):
        times = [20, 60, 150, 400, 900, 1500]
        found = fit(times, [rider.power(t) for t in times], three=rider.p_max is not None)
        assert found.endurance.cp == pytest.approx(rider.cp, rel=1e-4)
        assert found.endurance.w == pytest.approx(rider.w, rel=1e-3)


@pytest.mark.parametrize(
    "times, powers, words",
    [
        ([100], [300], "too few"),
        ([100, 101], [300, 299], "too alike"),
        ([100, 300], [200, 300], "does not fall"),
        ([100, math.nan], [300, 250], "finite"),
        ([100, -5], [300, 250], "above 0"),
        ([100, 200], [300], "one length"),
    ],
)
def test_what_cannot_carry_a_model_says_so(times: list[float], powers: list[float], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        fit(times, powers)


def test_doubts_are_said() -> None:
    """Published: trials under 10 to 12 min alone overestimate CP (J. Sci. Med. Sport 2018, 21, 742)."""
    short = fit([60, 120, 240], [TWO.power(t) for t in (60, 120, 240)])
    assert any("10 min" in d for d in short.doubts) and any("2 min" in d for d in short.doubts)
    assert math.isnan(fit([150, 700], [TWO.power(150), TWO.power(700)]).cp_interval[0])


@pytest.mark.parametrize("free", [1, 2, 3, 4, 5, 8, 13, 30, 100])
def test_students_t(free: int) -> None:
    """Independently computed: scipy.stats.t."""
    assert student_95(free) == pytest.approx(stats.t.ppf(0.975, free), rel=1e-9)


@pytest.mark.parametrize("values", [(0, 1, None), (200, -1, None), (200, 1e4, 150), (math.nan, 1, None)])
def test_no_such_rider(values: tuple[float, float, float | None]) -> None:
    with pytest.raises(ValueError):
        Endurance(*values)
    assert Endurance(0.5, 0.5).duration(1.5) == 0.5


def test_no_such_duration() -> None:
    with pytest.raises(ValueError):
        TWO.power(-1)
