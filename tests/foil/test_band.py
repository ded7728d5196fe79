"""The table that is looked up live: against the exact solver, leaned and widened."""

from __future__ import annotations

import math

import attrs
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize

from cadence_coach.core.targets import NARROWEST, Band, BandTable, lean, replace, widen
from cadence_coach.foil.band import band_table
from cadence_coach.foil.share import share_band
from cadence_coach.foil.solve import feasible_speeds, solve
from tests.foil.riders import RIDERS, B

GRID_ERROR = 0.025
"""Hz. Measured worst 0.023 (hard_hi within 0.2 m/s of the stall), else 0.01; the model itself is known to 20 %."""
SHARE_ERROR = 0.03


@pytest.mark.parametrize("name", RIDERS)
def test_table_is_the_solver(name: str) -> None:
    setup = RIDERS[name]
    table = band_table(setup)
    ends = feasible_speeds(setup)
    assert ends is not None
    edge = np.array([0.0008, 0.003, 0.008, 0.015, 0.025, 0.05, 0.1])  # between rows, where limits run together
    speeds = np.concatenate([np.random.default_rng(5).uniform(*ends, 120), ends[0] + edge, ends[1] - edge])
    exact = solve(setup, speeds)
    for i, speed in enumerate(speeds):
        band = table.model_at(float(speed))
        assert band.speed == speed and band.reason is None
        for key in ("lo", "target", "hi", "hard_lo", "hard_hi"):
            assert getattr(band, key) == pytest.approx(float(getattr(exact, key)[i]), abs=GRID_ERROR), (key, speed)
        assert band.size_needed == pytest.approx(float(exact.size_needed[i]), abs=0.006)


@pytest.mark.parametrize("name", RIDERS)
def test_share_in_the_table(name: str) -> None:
    """Most speeds within half a metre a second of the stall, where the share band has its kink."""
    table, ends, random = band_table(RIDERS[name]), feasible_speeds(RIDERS[name]), np.random.default_rng(8)
    assert ends is not None
    near_stall, elsewhere, at_top = random.uniform(0.01, 0.5, 8), random.uniform(0.5, 1.0, 2), [ends[1] - 0.02]
    for speed in (*(ends[0] + near_stall), *(ends[0] + elsewhere * (ends[1] - ends[0])), *at_top):
        band = table.model_at(float(speed))
        exact = share_band(RIDERS[name], float(speed), float(solve(RIDERS[name], [speed]).target[0]))
        assert exact is not None
        got, right = (band.share_lo, band.share, band.share_hi), (exact.lo, exact.best, exact.hi)
        assert got == pytest.approx(right, abs=SHARE_ERROR), speed


@pytest.mark.parametrize("name", RIDERS)
def test_cruise_speed_is_the_least_effort_per_metre(name: str) -> None:
    """Independently computed: scipy's bounded search on the exact solver; the grid is within 0.005 m/s of it."""

    def per_metre(speed: float) -> float:
        return float(solve(RIDERS[name], [speed]).pump.cost[0] / speed)

    cruise = band_table(RIDERS[name]).cruise_speed
    found = optimize.minimize_scalar(per_metre, bounds=(cruise - 0.3, cruise + 0.3), method="bounded")
    assert cruise == pytest.approx(found.x, abs=0.005)


def test_travel_in_the_table_is_that_of_a_sinusoid_of_the_size() -> None:
    """2 r g / w^2 (derived)."""
    for band in band_table(B).bands[1:-1]:
        assert band.size_needed is not None and band.target is not None
        assert band.travel == pytest.approx(2 * band.size_needed * B.gravity / (2 * math.pi * band.target) ** 2)


@pytest.mark.parametrize("name", RIDERS)
def test_outside_there_is_a_reason_and_no_number(name: str) -> None:
    setup = RIDERS[name]
    table = band_table(setup)
    ends = feasible_speeds(setup)
    assert ends is not None
    for speed, reason in ((0.5, "stall"), (ends[0] - 1e-4, "stall"), (ends[1] + 1e-4, "force"), (30.0, "force")):
        band = table.at(speed)
        assert band.reason == reason and band.speed == speed
        assert band.lo is band.target is band.hi is band.hard_lo is band.size_needed is band.share is None
    for speed in (ends[0] + 1e-4, ends[1] - 1e-4):
        assert table.at(speed).reason is None
    for none, edge in ((table.bands[0], ends[0]), (table.bands[-1], ends[1])):
        assert none.reason and none.speed == pytest.approx(edge, abs=1e-5), "between the last two rows lies nothing"


def test_a_setup_that_cannot_be_pumped_at_all() -> None:
    table = band_table(attrs.evolve(B, stroke=0.05))
    assert table.at(4.5).reason == "stroke" and table.at(None).target is None
    assert (table.bands[0].speed, table.bands[-1].speed) == (1.5, 9.0), "a reason for all speeds that are looked at"


def test_unknown_speed_takes_the_cruise_speed() -> None:
    table = band_table(B)
    assert table.at(None) == table.at(table.cruise_speed)
    assert table.at(math.nan) == table.at(None)


def row(speed: float, target: float, lo: float, hi: float) -> Band:
    return Band(speed, lo, target, hi, 1.1, 2.9, 0.34, 0.5, 0.62, 0.6, 0.16)


def test_lookup_by_hand() -> None:
    stall = Band(2.9, *(None,) * 10, reason="stall")
    table = BandTable((stall, row(3.0, 1.3, 1.2, 1.7), row(4.0, 1.5, 1.3, 1.9)), 4.0)
    assert table.model_at(3.25).target == pytest.approx(1.35)
    assert table.model_at(3.25).hi == pytest.approx(1.75)
    assert table.model_at(3.0) == table.bands[1]
    assert table.model_at(9.0) == replace(table.bands[2], speed=9.0)
    assert table.model_at(2.95).reason == "stall" and table.model_at(1.0).reason == "stall"
    assert table.at(None).speed == 4.0


def test_what_one_row_does_not_know_is_not_known_between_them_either() -> None:
    """A push share can be missing where everything else is known."""
    known = row(3.0, 1.3, 1.2, 1.7)
    for rows in (
        (known, replace(row(4.0, 1.5, 1.3, 1.9), share=None)),
        (replace(known, share=None), row(4.0, 1.5, 1.3, 1.9)),
    ):
        band = BandTable(rows, 3.5).model_at(3.5)
        assert band.share is None and band.target == pytest.approx(1.4)


def test_leaning_by_hand() -> None:
    """Own cadence 0.9 of the model's 1.5: lo (1.2 + 0.9 x 1.35)/2, target (1.5 + 1.35)/2, hi (1.9 + 1.1 x 1.35)/2."""
    band = lean(row(4.0, 1.5, 1.2, 1.9), 0.9)
    assert (band.lo, band.target, band.hi) == pytest.approx((1.2075, 1.425, 1.6925))
    assert lean(row(4.0, 1.5, 1.2, 1.9), None) == row(4.0, 1.5, 1.2, 1.9)
    low = lean(row(4.0, 1.5, 1.2, 1.9), 0.4)
    assert (low.lo, low.target) == (1.1, 1.1)  # the hard limit


@given(
    target=st.floats(1.1, 2.1),
    below=st.floats(0, 0.5),
    above=st.floats(0, 0.8),
    q=st.one_of(st.none(), st.floats(0.3, 3)),
)
def test_never_narrower_and_in_order(target: float, below: float, above: float, q: float | None) -> None:
    model = replace(row(4.0, target, target - below, target + above), hard_lo=target - below, hard_hi=target + above)
    band = BandTable((model,), 4.0, q).at(4.0)
    assert band.lo is not None and band.target is not None and band.hi is not None
    assert band.lo <= (1 - NARROWEST) * band.target and band.hi >= (1 + NARROWEST) * band.target
    assert target - below <= band.target <= target + above  # no leaning passes a hard limit
    assert band.lo >= min(target - below, (1 - NARROWEST) * band.target)
    assert band.hi <= max(target + above, (1 + NARROWEST) * band.target)


@pytest.mark.parametrize("q", [0, -1, math.nan, math.inf])
def test_leaning_refuses_what_is_no_ratio(q: float) -> None:
    with pytest.raises(ValueError, match="q"):
        lean(row(4.0, 1.5, 1.2, 1.9), q)


def test_widening_leaves_a_wide_band_alone() -> None:
    assert widen(row(4.0, 1.5, 1.2, 1.9)) == row(4.0, 1.5, 1.2, 1.9)
    narrow = widen(row(4.0, 1.5, 1.49, 1.51))
    assert (narrow.lo, narrow.hi) == (pytest.approx(1.35), pytest.approx(1.65))
    none = Band(2.0, *(None,) * 10, reason="stall")
    assert widen(none) is none and lean(none, 1.2) is none
