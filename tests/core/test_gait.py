"""What two legs and a beat that goes on count for and against a flight: by hand, each bound from both sides."""

from __future__ import annotations

import pytest

from cadence_coach.core.gait import legs_evidence

EVEN = [0.6] * 20


def evidence(number: float | None, count: int, swing: float = 0.0) -> float:
    """Of so many bounces of the same number, their periods 0.6 s and so much more and less in turn [s]."""
    return legs_evidence([number] * count, [0.6 + (swing if k % 2 else -swing) for k in range(count)])


def test_no_number_no_evidence() -> None:
    assert legs_evidence([], []) == 0.0 == legs_evidence([None] * 5, EVEN[:5])


@pytest.mark.parametrize(
    ("number", "each"),
    [(0.25, 1.5), (1.0, 0.375), (1.25, 0.0), (1.5, -0.375), (3.25, -3.0), (4.0, -4.125), (9.0, -4.125)],
)
def test_what_each_bounce_counts(number: float, each: float) -> None:
    """1.5 x (1.25 - number), the number at most 4; for a flight only from eight bounces on, against it at once."""
    assert evidence(number, 8) == pytest.approx(8 * each)
    assert evidence(number, 7) == pytest.approx(7 * min(each, 0.0))
    assert evidence(number, 1) == pytest.approx(min(each, 0.0))


def test_bounces_without_a_number_count_like_the_others() -> None:
    """The mean of the known numbers holds for all of them."""
    assert legs_evidence([None, None, 1.0, *[0.5] * 3, *[0.0] * 2], EVEN[:8]) == pytest.approx(
        8 * 1.5 * (1.25 - 2.5 / 6)
    )


@pytest.mark.parametrize(("swing", "each"), [(0.047, 1.5), (0.049, 0.5)])
def test_an_uneven_beat_speaks_for_a_flight_by_little(swing: float, each: float) -> None:
    """Periods that vary by more than 8 % (SD, here the swing itself): half a point each at most."""
    assert evidence(0.25, 10, swing) == pytest.approx(10 * each)
    assert evidence(1.0, 10, swing) == pytest.approx(10 * 0.375), "what is less stays"
    assert evidence(2.25, 10, swing) == pytest.approx(10 * -1.5), "as does what speaks against it"
