"""The crossing against straight lines whose crossing is known, and against NumPy's least squares."""

from __future__ import annotations

import math

import numpy as np
import pytest

from cadence_coach.core.crossing import SIDE, crossing, fall, rise

FARTHEST = 3.0
"""Steps, as the rule says; written out, so that a change of the rule is seen."""


@pytest.mark.parametrize("at", [-0.5, 0.0, 0.37, 1.0])
@pytest.mark.parametrize("slopes", [(1.0, 1.0), (1.0, 6.0), (6.0, 1.0), (0.01, 0.3)])
@pytest.mark.parametrize("counts", [(2, 2), (4, 3), (5, 8)])
def test_two_lines_that_meet_on_the_level_are_found_exactly(
    at: float, slopes: tuple[float, float], counts: tuple[int, int]
) -> None:
    """A bend at the level, of any sharpness: where both lines are 0."""
    before = [slopes[0] * (i - at) for i in range(1 - counts[0], 1)]
    after = [slopes[1] * (i - at) for i in range(1, 1 + counts[1])]
    assert crossing(before, after) == pytest.approx(at, abs=1e-12)


@pytest.mark.parametrize("seed", range(20))
def test_noisy_sides_are_least_squares_lines_weighed_by_the_square_of_their_slopes(seed: int) -> None:
    """Independently computed: numpy.polyfit on each side."""
    rng = np.random.default_rng(seed)
    n, m = rng.integers(3, 8, 2)
    before = rng.uniform(0.2, 2) * np.arange(1 - n, 1) + rng.normal(0, 0.1, n)
    after = rng.uniform(0.2, 2) * np.arange(1, 1 + m) + rng.normal(0, 0.1, m)
    lines = [np.polyfit(np.arange(1 - n, 1), before, 1), np.polyfit(np.arange(1, 1 + m), after, 1)]
    places = [float(np.clip(-c / a, -FARTHEST, FARTHEST)) for a, c in lines]
    expected = np.average(places, weights=[a * a for a, _ in lines])
    assert crossing(before.tolist(), after.tolist()) == pytest.approx(expected)


def test_a_side_that_does_not_rise_says_nothing() -> None:
    rising = [0.6, 1.6, 2.6]  # 0 at 0.4
    for flat in ([-1.0, -1.0], [-1.0, -1.5]):
        assert crossing(flat, rising) == pytest.approx(0.4)
    assert crossing([-2.4, -1.4, -0.4], [1.0, 0.5]) == pytest.approx(0.4)
    assert crossing([-1.0, -1.0], [2.0, 1.0]) is None


def test_a_flat_line_is_not_followed_far() -> None:
    """-1 at 0 with a slope of 0.1 meets 0 at 10: at most three steps count, with a hundredth of the other's weight."""
    assert crossing([-1.1, -1.0], [5.0, 4.0]) == pytest.approx(FARTHEST)
    assert crossing([0.9, 1.0], [5.0, 4.0]) == pytest.approx(-FARTHEST)
    assert crossing([-1.1, -1.0], [0.6, 1.6]) == pytest.approx((0.4 + 0.01 * FARTHEST) / 1.01)


def ring_of(values: list[float], start: int, size: int = 16) -> list[float]:
    """A ring in which those are the points from number `start` on."""
    ring = [9.0] * size
    for k, value in enumerate(values, start):
        ring[k % size] = value
    return ring


@pytest.mark.parametrize("start", [0, 13, 100])
def test_in_a_ring_the_level_is_crossed_where_the_lines_meet_it(start: int) -> None:
    """Up with slope 0.1, from 0.37 after the fifth point on with slope 0.3; down with 0.2 from the highest on."""
    up = [1.0 + (0.1 if k < 4.37 else 0.3) * (k - 4.37) for k in range(8)]
    ring = ring_of(up, start)
    assert rise(ring, start + 4, start + 7, 1.0) == pytest.approx(start + 4.37)
    down = [1.1, 1.3, *(1.0 - 0.2 * (k - 4.6) for k in range(2, 8))]
    assert fall(ring_of(down, start), start, start + 7, 1.0) == (
        pytest.approx(1.52), start + 2, pytest.approx(start + 4.6),
    )  # fmt: skip


def test_in_a_ring_with_too_few_points_there_is_no_crossing() -> None:
    up = [1.0 + 0.1 * (k - 4.5) for k in range(8)]
    assert math.isnan(rise(ring_of(up, 10), 14, 15, 1.0)) and not math.isnan(rise(ring_of(up, 10), 14, 16, 1.0))
    assert math.isnan(rise(ring_of(up, -1), SIDE - 1, 6, 1.0)), "none so early"
    top, where, place = fall(ring_of(up, 10), 10, 17, 1.0)
    assert (top, where) == (up[-1], 17) and math.isnan(place)
