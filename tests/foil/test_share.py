"""Waveforms with a push share: Fourier integrals, the identity, and the costs of short pushes."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate

from cadence_coach.foil import share as share_module
from cadence_coach.foil.pumping import Cycle
from cadence_coach.foil.share import (
    SHARES,
    ShapedCycle,
    body_position,
    body_velocity,
    harmonic,
    share_band,
    share_costs,
    waveform,
)
from cadence_coach.foil.solve import solve
from tests.foil.riders import RIDERS, A, B

GRID = 0.02
"""The shares were first worked out on this grid; an edge of theirs is its last point inside."""


@pytest.mark.parametrize("share, amplitude", [(0.22, 0.418), (0.30, 0.585), (0.42, 0.837), (0.5, 1.0)])
def test_fundamental(share: float, amplitude: float) -> None:
    """Independently computed: closed form, printed to 0.001; a half and half push is a sinusoid."""
    assert harmonic(share) == pytest.approx(amplitude, abs=5e-4)


@given(share=st.floats(0.1, 0.9), n=st.integers(1, 6))
def test_harmonics_are_the_fourier_integrals(share: float, n: int) -> None:
    """Independently computed: scipy.integrate.quad over the waveform."""

    def lobe(a: float, b: float, height: float) -> complex:
        parts = [
            integrate.quad(
                lambda t, f=f: height * math.sin(math.pi * (t - a) / (b - a)) * f(2 * math.pi * n * t),
                a,
                b,
                epsabs=1e-12,
            )[0]
            for f in (math.cos, math.sin)
        ]
        return complex(*parts)

    exact = 2 * abs(lobe(0, share, 1.0) - lobe(share, 1, share / (1 - share)))
    assert harmonic(share, n) == pytest.approx(exact, abs=1e-8)


@given(share=st.floats(0.1, 0.9))
def test_mean_variance_and_travel_of_the_waveform(share: float) -> None:
    """Derived: mean 0 (momentum), mean square d/(2 (1 - d)), body travel d/pi^2 of g T^2."""
    n = 40_000
    wave = waveform(share, n)
    assert wave.mean() == pytest.approx(0, abs=1e-6)
    assert 2 * (wave**2).mean() == pytest.approx(share / (1 - share), rel=1e-6)
    assert np.ptp(body_position(share)) == pytest.approx(share / math.pi**2, rel=5e-3)
    assert body_velocity(share).mean() == pytest.approx(0, abs=2e-3)


@pytest.mark.parametrize(
    "push, base, rms, first, ratio, travel",
    [
        (0.13, 0.8400, 0.3467, 0.3062, 2.564, 0.0595),
        (0.20, 0.7306, 0.4427, 0.4849, 1.667, 0.0901),
        (0.26, 0.6190, 0.5177, 0.6365, 1.323, 0.1152),
        (0.30, 0.5331, 0.5656, 0.7335, 1.189, 0.1312),
    ],
)
def test_pulse_on_a_level(push: float, base: float, rms: float, first: float, ratio: float, travel: float) -> None:
    """A half-sine push to 2 g on a flat glide, T 0.6 s: independently computed; momentum fixes the level.

    Why a 2 g push cannot last 0.13 s above 1 g: the fundamental would be far too small.
    """
    n, period = 60_000, 0.6
    t = np.arange(n) / n
    share = push / period
    mean = 2 / math.pi * share
    level = (1 - 2 * mean) / (1 - mean)
    wave = np.where(t < share, level + (2 - level) * np.sin(np.pi * t / share), level) - 1
    assert level == pytest.approx(base, abs=5e-4)
    assert math.sqrt((wave**2).mean()) == pytest.approx(rms, abs=2e-4)
    fundamental = 2 * abs(np.fft.rfft(wave)[1]) / n
    assert fundamental == pytest.approx(first, abs=2e-4)
    assert (wave**2).mean() / (fundamental**2 / 2) == pytest.approx(ratio, abs=2e-3)
    velocity = np.cumsum(wave - wave.mean()) * 9.81 * period / n
    assert np.ptp(np.cumsum(velocity - velocity.mean()) * period / n) == pytest.approx(travel, abs=2e-4)


def test_half_sine_support_for_a_peak() -> None:
    """Morin et al. 2005, J. Appl. Biomech. 21, 167 (published): F_max = (pi/2) m g (t_f/t_c + 1), so pi/4 of a period
    for 2 g."""
    peak = math.pi / 2 * (0.10 / 0.25 + 1)
    assert peak == pytest.approx(2.19911, abs=1e-5)
    n = 100_000
    t = np.arange(n) / n
    for share, height in ((0.25 / 0.35, peak), (math.pi / 4, 2.0)):
        assert np.where(t < share, height * np.sin(np.pi * t / share), 0).mean() == pytest.approx(1, abs=1e-4)


def test_half_and_half_is_the_sinusoid() -> None:
    """The worked point comes back: P 257.26, H .1060, stroke .3183 (0.1 %; stroke by samples 0.3 %)."""
    shaped = ShapedCycle(B, 4.5, 1.5, 0.5).pump(np.array([0.70]))
    plain = Cycle(B, 4.5, 1.5).pump(0.70)
    assert float(shaped.power[0]) == pytest.approx(257.26, rel=1e-3)
    for name, tolerance in (("power", 1e-9), ("heave", 1e-9), ("travel", 1e-9), ("positive", 1e-3), ("stroke", 3e-3)):
        assert float(np.ravel(getattr(shaped, name))[0]) == pytest.approx(float(getattr(plain, name)), rel=tolerance)
    assert float(np.ravel(shaped.cost)[0]) == pytest.approx(float(plain.cost), rel=1e-3)


@given(share=st.floats(0.2, 0.7), active=st.floats(0.3, 0.8), speed=st.floats(3.5, 6), cadence=st.floats(1.1, 2))
def test_leg_power_is_speed_times_drag_whatever_the_share(
    share: float, active: float, speed: float, cadence: float
) -> None:
    """The mean of foot force x leg speed, integrated here from the waveform, is the power the drag asks for."""
    pump = ShapedCycle(B, speed, cadence, share).pump(np.array([active]))
    n = 20_000
    t = np.arange(n) / n
    height, heave, w = float(pump.height[0]), float(pump.heave[0]), 2 * math.pi * cadence
    lag = math.acos(min(1.0, active / float(pump.size[0])))
    force = 1 + height * waveform(share, n)
    velocity = np.cumsum(force - force.mean()) * 9.81 / (n * cadence)
    legs = velocity - velocity.mean() + heave * w * np.cos(2 * np.pi * (t - share / 2) - lag)
    assert B.mass * 9.81 * float(np.mean(force * legs)) == pytest.approx(float(pump.power[0]), rel=3e-3)


@pytest.mark.parametrize(
    "share, ratio", [(0.22, 1.32), (0.26, 1.21), (0.30, 1.13), (0.34, 1.085), (0.38, 1.05), (0.42, 1.03)]
)
def test_cost_of_a_share(share: float, ratio: float) -> None:
    """Rider B, 4.5 m/s, 1.40 Hz: cost / least cost. Regression values, printed to 0.01."""
    costs = share_costs(B, 4.5, 1.4)
    assert float(costs[np.argmin(np.abs(SHARES - share))] / costs.min()) == pytest.approx(ratio, abs=0.006)


def on_grid(speed: float, cadence: float, near: float) -> tuple[float, float]:
    """First and last share of the grid inside."""
    costs = share_costs(B, speed, cadence)
    good = SHARES[costs <= near * costs.min()]
    return float(good[0]), float(good[-1])


@pytest.mark.parametrize(
    "speed, near, lo, hi",
    [
        (4.5, 1.03, 0.42, 0.58),
        (4.5, 1.08, 0.36, 0.62),
        (4.5, 1.10, 0.34, 0.62),
        (6.0, 1.03, 0.42, 0.50),
        (3.5, 1.03, 0.46, 0.62),
    ],
)
def test_share_bands(speed: float, near: float, lo: float, hi: float) -> None:
    """Rider B. Regression values, both on the grid of 0.02: within one step of it."""
    cadence = float(solve(B, [speed]).target[0]) if speed != 4.5 else 1.4
    assert on_grid(speed, cadence, near) == pytest.approx((lo, hi), abs=GRID + 1e-9)


def test_share_band_interpolates_and_knows_its_limits() -> None:
    """Rider B at 4.5 m/s: optimum 0.50, hard limits 0.21 to 0.64; the band's edges lie within a step of the grid's."""
    band = share_band(B, 4.5, 1.4)
    assert band is not None
    assert band.best == pytest.approx(0.50, abs=0.005)
    assert (band.hard_lo, band.hard_hi) == pytest.approx((0.21, 0.64), abs=0.01)
    assert (band.lo, band.hi) == pytest.approx((0.34, 0.62), abs=GRID)


@pytest.mark.parametrize("middle", [0.507, 0.493, 0.162, 0.738])
def test_best_share_and_edges_between_grid_points(middle: float, monkeypatch: pytest.MonkeyPatch) -> None:
    """Costs that are a parabola: its lowest point and where it passes 1.1 of the least are known in closed form. At
    either end of the grid the best share is the grid's own."""
    seen: list[np.ndarray] = []

    def costs(setup: object, speed: float, cadence: float, shares: object = SHARES) -> np.ndarray:
        seen.append(np.asarray(shares))
        return 200 * (1 + 20 * (seen[-1] - middle) ** 2)

    monkeypatch.setattr(share_module, "share_costs", costs)
    band = share_band(B, 4.5, 1.4)
    assert band is not None and len(seen) == 1, "nothing is looked for beyond the grid's ends"
    inner = SHARES[0] < middle - GRID / 2 and middle + GRID / 2 < SHARES[-1]
    assert band.best == pytest.approx(middle if inner else float(SHARES[np.argmin(abs(SHARES - middle))]), abs=1e-9)
    away = math.sqrt(0.1 / 20)
    assert band.lo == pytest.approx(max(middle - away, float(SHARES[0])), abs=1e-3)
    assert band.hi == pytest.approx(min(middle + away, float(SHARES[-1])), abs=1e-3)


@pytest.mark.parametrize("speed, cadence", [(4.0, 1.3), (4.5, 1.5), (4.4, 1.6)])
def test_hard_ends_are_where_the_last_allowed_share_lies(speed: float, cadence: float) -> None:
    """Against a scan eight times finer than the grid: inside, and at most an eighth of the grid (0.0025) away."""
    scan = np.arange(0.161, 0.739, 0.0005)
    good = scan[np.isfinite(share_costs(B, speed, cadence, scan))]
    band = share_band(B, speed, cadence)
    assert band is not None
    for ours, true, inwards in ((band.hard_lo, good[0], 1), (band.hard_hi, good[-1], -1)):
        assert -0.0006 <= inwards * (ours - true) <= 0.0031, (ours, true)


@pytest.mark.parametrize("name", RIDERS)
def test_best_share_is_about_a_half_for_all(name: str) -> None:
    """The 3 % band stays near 0.50 +-0.04 to 0.08 for all four at 4.5 m/s (regression)."""
    setup = RIDERS[name]
    band = share_band(setup, 4.5, float(solve(setup, [4.5]).target[0]), near=1.03)
    assert band is not None
    assert band.best == pytest.approx(0.5, abs=0.02)
    assert 0.04 - GRID <= 0.5 - band.lo <= 0.08 + GRID and 0.04 - GRID <= band.hi - 0.5 <= 0.08 + GRID


def test_no_share_where_nothing_can_be_pumped() -> None:
    assert share_band(A, 2.5, 1.4) is None
