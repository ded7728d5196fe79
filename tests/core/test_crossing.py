"""The crossing against straight lines whose crossing is known, and against NumPy's least squares."""

from __future__ import annotations

import numpy as np
import pytest

from cadence_coach.core.crossing import crossing

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
