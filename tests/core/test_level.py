"""The level against the momentum theorem: a sensor that reads too much, and a mean that is no offset."""

from __future__ import annotations

import pytest

from cadence_coach.core.level import level_after


def after(mean: float, count: int) -> float:
    level = 1.0
    for n in range(1, count + 1):
        level = level_after(level, n, mean)
    return level


def test_it_goes_to_two_fifths_of_the_offset() -> None:
    assert after(1.0, 50) == 1.0
    assert after(1.05, 200) == pytest.approx(1.02)
    assert after(0.95, 200) == pytest.approx(0.98)


def test_at_first_it_weighs_like_two_cycles() -> None:
    """A plain mean of two at 1.0 and those so far, then one twelfth each."""
    assert after(1.05, 1) == pytest.approx(1.0 + 0.02 / 3)
    assert after(1.05, 4) == pytest.approx(1.0 + 0.02 * 4 / 6)
    assert after(1.05, 11) - after(1.05, 10) == pytest.approx((1.02 - after(1.05, 10)) / 12)


@pytest.mark.parametrize("mean", [1.1, 1.5, 0.9, 0.2])
def test_no_further_than_a_tenth_is_believed(mean: float) -> None:
    assert after(mean, 300) == pytest.approx(1.04 if mean > 1 else 0.96)
