"""What the cycle detector takes for a beat, how it follows it, and the level it learns: triangles by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from cadence_coach.core.cycles import STEP
from cadence_coach.core.events import CycleDone, Onset, PushEnd

from .by_hand import Points

EXACT = 1e-9
"""[s]"""

# ---- too soon, too late ----


@pytest.mark.parametrize(("points", "found"), [(16, 2), (24, 3)])
def test_no_two_onsets_within_a_fifth_of_a_second(points: int, found: int) -> None:
    """Before the beat is known: 0.16 s after the first is none, 0.24 s is one."""
    hand = Points().cycles(1).cycles(1, points=points).cycles(1)
    assert len(hand.of(Onset)) == found - 1
    hand.first_onset(1.2)
    assert len(hand.of(Onset)) == found


@pytest.mark.parametrize(("cycles", "points", "more"), [(3, 38, True), (4, 38, False), (4, 40, True)])
def test_no_onset_within_two_thirds_of_the_beat(cycles: int, points: int, more: bool) -> None:
    """0.65 of 0.6 s is 0.39 s, once two gaps were like the first."""
    hand = Points().cycles(cycles).cycles(1, points=points)
    had = len(hand.of(Onset))
    hand.first_onset(1.2)
    assert (len(hand.of(Onset)) > had) == more


@pytest.mark.parametrize(("high", "more"), [(0.45, False), (0.51, True)])
def test_a_push_four_times_as_high_ends_the_beat_before_it(high: float, more: bool) -> None:
    """Chop of 0.12 g each 0.6 s on a rope, then the first pump, and the second 0.38 s later."""
    hand = Points().cycles(5, high=0.12).cycles(1, points=38, high=high)
    had = len(hand.of(Onset))
    hand.first_onset(1.2)
    assert (len(hand.of(Onset)) > had) == more


def test_a_beat_that_was_twice_too_long_is_mended_at_the_second_refusal() -> None:
    """From 0.6 s to 0.3 s at the same depth: the first is refused, the next ends a beat, the third is believed and so
    is all that follows."""
    hand = Points().cycles(5).cycles(8, points=30)
    hand.first_onset(1.2)
    assert np.diff([e.time for e in hand.of(Onset)])[4:].round(2).tolist() == [0.6, *[0.3] * 6]


@pytest.mark.parametrize(("shallow", "found"), [(0.28, 0), (0.33, 4)])
def test_dips_of_less_than_half_the_depth_are_no_beat(shallow: float, found: int) -> None:
    """Every other dip is shallower: of half the depth and more (0.3 g) they are onsets from the second on."""
    hand = Points().cycles(5)
    for _ in range(5):
        hand.cycles(1, points=30, high=shallow).cycles(1, points=30)
    hand.first_onset(1.2)
    assert len(hand.of(Onset)) == 10 + found


@pytest.mark.parametrize(
    ("cycles", "points", "waits", "lasts"), [(1, 60, 2.2, 1.1), (4, 60, 1.6, 0.6), (4, 80, 2.0, 0.8)]
)
def test_a_last_cycle_is_closed_when_none_follows(cycles: int, points: int, waits: float, lasts: float) -> None:
    """max(1.6 s, 2.5 periods) after the last onset, 2.2 s after one alone; it is then a period long, half of 2.2 s
    where none is known. After that the rhythm is forgotten."""
    hand = Points().cycles(cycles, points=points).cycles(0.75, points=points)
    last = hand.of(Onset)[-1].time
    while not (ended := [e for e in hand.show(0.99, -0.01) if isinstance(e, CycleDone)]):
        assert hand.detector.n < 1000
    (done,) = ended
    assert not done.whole and done.time == pytest.approx(last + lasts)
    assert done.known - STEP == pytest.approx(last + waits, abs=0.0101) and done.known - STEP > last + waits
    assert math.isnan(hand.detector.period)
    assert hand.of(PushEnd)[-1].time == pytest.approx(last + 0.005 * points)


@pytest.mark.parametrize(("points", "ends"), [(50, 0.6), (80, 0.8), (140, 1.4), (400, 1.6)])
def test_a_last_push_that_outlasts_the_beat_is_all_of_its_cycle(points: int, ends: float) -> None:
    """At 0.6 s a beat, 1.3 g for so long: no moment of it comes after its end. The last goes on when nobody waits for
    an onset any more."""
    hand = Points().cycles(4)
    for k in range(points):
        hand.show(1.3 - 1e-4 * k, 0.3)
    last = hand.of(Onset)[-1].time
    while (done := hand.of(CycleDone)[-1]).whole:
        hand.show(0.9, -0.1)
    assert done.onset == last and done.time == pytest.approx(last + ends, abs=0.02)
    assert done.push_end == hand.of(PushEnd)[-1].time == pytest.approx(last + min(0.01 * points, 1.6), abs=0.02)
    assert done.onset <= done.peak <= done.push_end <= done.low <= done.time <= done.known


@pytest.mark.parametrize(("late", "hovers", "whole"), [(-0.02, 3, True), (0.02, 0, False), (-0.02, 12, False)])
def test_an_onset_that_came_in_time_is_waited_for(late: float, hovers: int, whole: bool) -> None:
    """It crosses 1 g within the 1.6 s and is told later: 0.08 s are granted, none to one that crosses after them."""
    hand = Points().cycles(5)
    last = hand.of(Onset)[-1].time
    while (hand.detector.n - 1) * STEP < last + 1.6 + late:
        hand.show(0.95, -0.1)
    for s in (*[1.02] * hovers, 1.5):
        hand.show(s, -0.1)
    hand.show(1.6, -0.1)
    assert hand.of(CycleDone)[-1].whole == whole
    assert hand.of(CycleDone)[-1].onset == last


@pytest.mark.parametrize(("depth", "armed"), [(0.0199, False), (0.0201, True)])
def test_after_a_last_cycle_the_first_dip_may_be_shallow_again(depth: float, armed: bool) -> None:
    """0.02 g, as at the very beginning; after the dips before it were 0.06 g. It ends in a push that goes on and on."""
    hand = Points().cycles(4)
    while not math.isnan(hand.detector.period):
        hand.show(1.3, 0.3)
    assert not hand.of(CycleDone)[-1].whole
    hand.show(0.97, -depth)
    assert (hand.first_onset(0.97, 1.3) is not None) == armed


@pytest.mark.parametrize(("cycles", "due"), [(4, False), (5, True)])
def test_after_a_last_cycle_the_beat_begins_anew(cycles: int, due: bool) -> None:
    """As at the very beginning a rise of 8 % of the height (0.04 g, not 0.08 g) will do from its fifth onset on."""
    hand = Points().cycles(4)
    while not math.isnan(hand.detector.period):
        hand.show(1.3, 0.3)
    hand.cycles(cycles)
    assert (hand.first_onset(1.05) is not None) == due


def test_the_beat_follows_by_a_quarter_and_by_no_leap() -> None:
    """0.6 s, then 0.7 s: a quarter of the way each time. 1.2 s counts as 1.4 of the period, 0.42 s as 0.7 of it."""
    hand = Points().cycles(5).cycles(1, points=70)
    hand.first_onset(1.2)
    assert hand.detector.period == pytest.approx(0.6 + 0.25 * 0.1, abs=0.003)
    hand = Points().cycles(5).cycles(1, points=120)
    hand.first_onset(1.2)
    assert hand.detector.period == pytest.approx(0.6 + 0.25 * 0.24, abs=0.001)
    hand = Points().cycles(5).cycles(1, points=41)
    hand.first_onset(1.2)
    assert hand.detector.period == pytest.approx(0.6 - 0.25 * 0.18, abs=0.001)


@pytest.mark.parametrize(("since", "due"), [(2, False), (3, True)])
def test_after_an_uneven_cycle_two_even_ones_make_the_next_due(since: int, due: bool) -> None:
    """Then a rise of 0.046 g is enough again, not 0.087 g: 0.8 s after 0.6 s is off by more than a quarter."""
    hand = Points().cycles(5).cycles(1, points=80).cycles(since)
    assert (hand.first_onset(1.05) is not None) == due


# ---- the level ----


@pytest.mark.parametrize(("offset", "believed"), [(0.03, 0.012), (-0.05, -0.02), (0.15, 0.04)])
def test_the_level_is_the_mean_of_whole_cycles_believed_by_two_fifths(offset: float, believed: float) -> None:
    """A running mean over n cycles beside two of 1 g, a dozen at most; never over 0.1 g off. The first two cycles
    after the first onset are not yet alike. Half-way the sensor's offset changes its sign."""
    hand, learnt = Points(), [0.0]
    for k in range(32):
        hand.cycles(1, offset=offset if k < 17 else -offset)
        assert k < 3 or k > 4 or offset > 0.1 or (hand.detector.level != 1.0) == (k == 4), "at the fourth onset"
        learnt += [hand.detector.level - 1.0] * (hand.detector.level - 1.0 != learnt[-1])
    expected = [0.0]
    for n in range(1, len(learnt)):
        goal = believed if n <= len(learnt) - 15 else -believed
        expected.append(expected[-1] + (goal - expected[-1]) / (min(n, 10) + 2))
    assert len(learnt) >= 28 and learnt == pytest.approx(expected, abs=0.03 * abs(believed))
