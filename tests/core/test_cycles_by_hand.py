"""Each rule of the cycle detector just below and just above its bound: points made by hand, no filter between.

Triangles: along straight lines a crossing is where the formula says, to rounding. A cycle of 60 points of 0.6 g rises
by 0.04 g a point and crosses 1 g half-way between two points.

Over 400 lines: one subject, a test or two for each rule in the order of `cycles`.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

from cadence_coach.core.cycles import STEP
from cadence_coach.core.events import CycleDone, Event, Onset, PushEnd
from cadence_coach.core.units import G

from .by_hand import Points, triangle
from .plain import Cycles

EXACT = 1e-9
"""[s]"""


def test_onsets_of_triangles_are_exact_and_come_sooner_once_the_beat_is_known() -> None:
    """The highest point shown is 0.58 g, so a push must rise by 0.05 g at first (2 points), by 15 % of 0.58 g (3) and,
    after three alike, by 8 % (2)."""
    hand = Points().cycles(7)
    found = hand.of(Onset)
    assert [e.time for e in found] == pytest.approx([0.585 + 0.6 * k for k in range(6)], abs=EXACT)
    assert [round(1e3 * (e.known - e.time)) for e in found] == [25, 35, 35, 35, 25, 25]
    assert [e.number for e in found] == list(range(6))
    ends = hand.of(PushEnd)
    assert [e.time for e in ends] == pytest.approx([0.885 + 0.6 * k for k in range(6)], abs=EXACT)
    assert [e.number for e in ends] == list(range(6))
    assert hand.detector.period == pytest.approx(0.6, abs=EXACT)


def test_what_is_told_of_a_cycle() -> None:
    """A triangle: once-per-cycle amplitude 8 / pi^2 of its height (Fourier series, any handbook of mathematics);
    travel by numpy's running sums on a grid ten times as fine; a quarter of the time to the peak and in each part."""
    cycles = Points().cycles(8).of(CycleDone)
    assert [c.number for c in cycles] == list(range(6)) and all(c.whole for c in cycles)
    fine = np.arange(0, 1, 1e-3)
    speed = np.cumsum([0.6 * G * triangle(x) for x in fine]) * 0.6e-3
    travel = float(np.ptp(np.cumsum(speed - speed.mean()) * 0.6e-3))
    for c in cycles[1:]:
        assert c.onset == pytest.approx(0.585 + 0.6 * c.number) and c.period == pytest.approx(0.6)
        assert c.push_share == pytest.approx(0.5)
        assert c.peak - c.onset == pytest.approx(0.15, abs=0.0051)
        assert c.low - c.onset == pytest.approx(0.45, abs=0.006)
        assert c.peak_g == pytest.approx(1.58) and c.lowest_g == pytest.approx(0.42)
        assert c.size_g == pytest.approx(0.6 * 8 / math.pi**2, rel=0.01)
        assert c.travel_m == pytest.approx(travel, rel=0.01)
    assert [c.known for c in cycles] == [e.known for e in Points().cycles(8).of(Onset)[1:]]


@pytest.mark.parametrize("lengths", [(60, 60), (80, 50), (50, 80)])
def test_travel_is_taken_over_two_cycles_that_join(lengths: tuple[int, int]) -> None:
    """A body that climbs in one cycle what it sinks in the next, by 0.1 g up and down: numpy's sums over both, less
    the mean force and the mean speed, give the path; over one alone it would be another."""
    forces = [
        np.array([0.6 * triangle((i + 0.5) / n) for i in range(n)]) + off
        for n, off in zip(lengths, (-0.1, 0.1 * lengths[0] / lengths[1]), strict=True)
    ]
    fine = np.concatenate([0.6 * np.array([triangle((i + 0.5) / n) for i in range(n)]) for n in (*lengths * 5, 60)])
    raw = np.concatenate([*forces * 5, fine[-60:]])
    hand, differ = Points(), []
    for k in range(len(raw) - 1):
        hand.show(1.0 + fine[k], None, 1.0 + raw[k + 1])
    for c in hand.of(CycleDone)[-7:-1]:
        mine = (c.number + 1) % 2  # the first cycle of all has no onset
        before, now = forces[1 - mine], forces[mine]
        both = np.concatenate([before, now])
        speed = np.cumsum(both - both.mean()) * G * STEP
        path = np.cumsum(speed - speed.mean()) * STEP
        alone = np.cumsum(now - now.mean()) * G * STEP
        expected = float(np.ptp(path[len(before) - 1 :]))
        assert c.travel_m == pytest.approx(expected, rel=1e-6 if lengths[0] == lengths[1] else 0.03)
        differ.append(abs(c.travel_m / float(np.ptp(np.cumsum(alone - alone.mean()) * STEP)) - 1.0))
    assert max(differ) > 0.03


@pytest.mark.parametrize(("before", "now", "joined"), [(40, 90, True), (117, 60, True), (118, 60, False)])
def test_travel_is_of_two_cycles_unless_the_one_before_was_twice_as_long(before: int, now: int, joined: bool) -> None:
    """Early in the history, too. The body is 0.1 g heavier in the first of them; numpy's sums as above."""
    hand, forces = Points().cycles(1, points=40), []
    for points, off in ((before, 0.1), (now, 0.0), (60, 0.0)):
        forces.append(np.array([off + 0.6 * triangle((k + 0.5) / points) for k in range(points)]))
    fine = [0.6 * triangle((k + 0.5) / n) for n in (before, now, 60) for k in range(n)]
    for s, raw in zip(fine, [*np.concatenate(forces)[1:], 0.0], strict=True):
        hand.show(1.0 + s, s, 1.0 + raw)
    (done,) = [c for c in hand.of(CycleDone) if c.number == 1]
    assert done.period == pytest.approx(now * STEP, abs=0.011)
    travels = []
    for span in (forces[1], np.concatenate(forces[:2])):
        speed = np.cumsum(span - span.mean()) * G * STEP
        travels.append(float(np.ptp(np.cumsum(speed - speed.mean())[-now:] * STEP)))
    assert done.travel_m == pytest.approx(travels[joined], rel=0.03)
    assert done.travel_m != pytest.approx(travels[not joined], rel=0.06)


def test_travel_after_a_pause_is_of_the_cycle_alone() -> None:
    fresh = Points().cycles(4).of(CycleDone)[0]
    hand = Points().cycles(4)
    for _ in range(200):
        hand.show(0.99, -0.01, 0.9)
    first = next(c for c in hand.cycles(4).of(CycleDone) if c.onset > 4.0)
    assert first.travel_m == pytest.approx(fresh.travel_m, rel=0.005)


def test_peak_is_of_the_push_and_lightness_of_the_glide() -> None:
    """A hole of 0.1 g in a push and a blow of 2.4 g in a glide are neither."""
    hand = Points().cycles(3)
    for k in range(60):
        value, later = (1.0 + 0.6 * triangle((k + d) / 60) for d in (0.5, 1.5))
        hand.show(value, None, {8: 0.1, 45: 2.4}.get(k, later))
    hand.cycles(1)
    c = hand.of(CycleDone)[2]
    assert (c.peak_g, c.lowest_g) == (pytest.approx(1.58), pytest.approx(0.42))
    assert c.low - c.onset == pytest.approx(0.45, abs=0.006)


@pytest.mark.parametrize(("behind", "lightest"), [(0.5, 0.1), (0.7, 0.3)])
def test_the_glide_begins_where_the_push_has_ended(behind: float, lightest: float) -> None:
    """From 0.9 g to 1.2 g and at once down to 0.5 g: above 1 g for 0.667 + 0.286 of a step, so that the first point
    of the cycle, 0.1 g, is the glide's. Down to 0.7 g it is 0.667 + 0.4 of a step, and that point is the push's."""
    hand = Points().cycles(1)
    hand.show(0.9, -0.1, 0.1)
    hand.show(1.2, -0.1)
    hand.show(behind, 0.1, 0.3)
    for _ in range(30):
        hand.show(0.7, -0.1)
    hand.show(1.2)
    assert hand.of(CycleDone)[0].lowest_g == pytest.approx(lightest)


def test_the_low_is_the_middle_of_all_that_is_no_higher_than_half_its_depth() -> None:
    """0.75 g is half of 0.5 g: from the sixth point of the glide to the 25th, not to the 15th."""
    hand = Points().cycles(1)
    for _ in range(20):
        hand.show(1.3, 0.3)
    start = hand.detector.n * STEP
    for value, points in ((0.9, 5), (0.5, 10), (0.75, 10), (0.76, 10)):
        for _ in range(points):
            hand.show(value, -0.1)
    hand.show(1.2)
    assert hand.of(CycleDone)[0].low == pytest.approx(start + 0.5 * (5 + 24) * STEP, abs=EXACT)


def test_a_push_that_ends_at_once_ends_between_the_points() -> None:
    """From 1.3 g to 0.9 g in one step: three quarters of it; known with that point."""
    hand = Points().cycles(1)
    for _ in range(20):
        hand.show(1.3, 0.3)
    (end,) = hand.show(0.9, -0.1)
    k = hand.detector.n - 1
    assert end == PushEnd(pytest.approx((k - 2 + 0.75) * STEP), k * STEP, 0)


def test_a_push_that_is_at_its_highest_when_the_coarse_view_has_dipped_ends_there() -> None:
    """Not where it went down to 0.9 g before: that was a shoulder."""
    hand = Points().cycles(1)
    for s in (1.1, 1.2, 0.9):
        hand.show(s, 0.1)
    (end,) = hand.show(1.3, -0.1)
    assert end.time == pytest.approx((hand.detector.n - 2) * STEP, abs=EXACT)


def test_a_cycle_ends_with_the_newest_point_however_late_its_end_is_told() -> None:
    """A push end and then an onset told 80 ms after their crossings are both of the newest point: behind it the ring
    still holds -9 g, from ten seconds ago."""
    hand = Points().cycles(1)
    hand.detector.late = (lambda figures: -0.08, lambda figures: -0.08)
    for _ in range(25):
        hand.show(1.3, 0.3)
    (end,) = hand.show(0.95, -0.1)
    assert end.time == pytest.approx((hand.detector.n - 1) * STEP, abs=EXACT)
    for k in range(3, 9):
        hand.detector.raw[hand.detector.n + k] = -9.0
    assert not hand.show(1.2, -0.1, 0.5) + hand.show(1.2, -0.1, 0.5)
    done, onset = hand.show(1.2, -0.1, 0.5)
    assert done.time == onset.time == pytest.approx((hand.detector.n - 1) * STEP, abs=EXACT)
    assert done.lowest_g == 0.5


def test_a_splash_of_three_points_is_held_back() -> None:
    """A step of over 0.8 g is believed when it has lasted for three points."""
    for high, points, seen in ((0.81, 3, 1.0), (0.79, 3, 1.79), (0.81, 4, 1.81)):
        filters = Cycles()
        for k in range(40):
            filters.push(k * STEP, 1.0 + high * (20 <= k < 20 + points), k * STEP)
        assert max(filters.detector.raw[:40]) == pytest.approx(seen)


TIMES = ("time", "known", "onset", "peak", "push_end", "low")


def plain(events: list[Event], later: float = 0.0, higher: int = 0) -> list[list[float]]:
    """Their values: kind, then fields, with times and numbers set back."""
    kinds = (Onset, PushEnd, CycleDone)
    return [
        [kinds.index(type(e)), *(getattr(e, f) - later * (f in TIMES) - higher * (f == "number") for f in fields(e))]
        for e in events
    ]


def fields(event: Event) -> list[str]:
    return [f.name for f in dataclasses.fields(event)]


def various(hand: Points) -> Points:
    """A beat, a quicker one, weak ones off the level, a pause, a beat."""
    hand.cycles(5).cycles(7, points=33).cycles(4, points=50, high=0.3, offset=0.05)
    for _ in range(250):
        hand.show(0.99, -0.01)
    return hand.cycles(4)


def test_the_same_whenever_it_begins() -> None:
    early, late = various(Points()).detector.out, various(Points(7.25)).detector.out
    assert len(early) > 40
    assert plain(late, 7.25) == [pytest.approx(x, abs=EXACT) for x in plain(early)]


def test_after_a_gap_it_begins_anew_and_counts_on() -> None:
    fresh, hand = various(Points()).detector.out, various(Points())
    for _ in range(15):
        hand.show(1.3, 0.3)  # in the middle of a push
    had, number = len(hand.detector.out), hand.detector.number
    hand.detector.restart()
    again = plain(various(hand.begin(50.0)).detector.out[had:], 50.0, number + 1)
    assert again == [pytest.approx(x, abs=EXACT) for x in plain(fresh)]


# ---- arming ----


def test_it_arms_only_after_having_been_above() -> None:
    hand = Points()
    for _ in range(10):
        hand.show(0.8, -0.2)
    assert hand.first_onset(1.2, 1.4) is None
    hand.show(1.0, 0.001)
    hand.show(0.98, -0.021)
    assert hand.first_onset(1.2, 1.4) is not None


@pytest.mark.parametrize(("depth", "armed"), [(0.0199, False), (0.0201, True)])
def test_quiet_standing_does_not_arm_it(depth: float, armed: bool) -> None:
    """0.02 g at least."""
    hand = Points()
    hand.show(1.1, 0.1)
    hand.show(0.97, -depth)
    assert (hand.first_onset(0.97, 1.3) is not None) == armed


@pytest.mark.parametrize(("high", "dip"), [(0.1, 0.02), (0.2, 0.0387), (0.6, 0.06)])
def test_how_deep_it_must_dip_to_end_a_push(high: float, dip: float) -> None:
    """A fifth of the running dip (0.967 of the height, the lowest point shown), but no less than 0.02 g and no more
    than 0.06 g."""
    for depth, armed in ((0.98 * dip, False), (1.02 * dip, True)):
        hand = Points().cycles(3, high=high)
        for _ in range(3):
            hand.show(1.3, 0.3)
        assert len(hand.of(Onset)) == 3
        assert [type(e) for e in hand.show(0.97, -depth)] == [PushEnd] * armed


# ---- how far it must rise ----


@pytest.mark.parametrize(
    ("cycles", "high", "rise"),
    [(1, 0.6, 0.05), (2, 0.6, 0.15 * 0.58), (2, 0.2, 0.05), (4, 0.6, 0.15 * 0.58), (5, 0.6, 0.08 * 0.58),
     (5, 0.2, 0.025), (2, 0.9, 0.1), (4, 0.9, 0.1)],
)  # fmt: skip
def test_how_far_it_must_rise(cycles: int, high: float, rise: float) -> None:
    below, above = Points().cycles(cycles, high=high), Points().cycles(cycles, high=high)
    assert below.first_onset(1.0 + 0.99 * rise) is None
    assert above.first_onset(1.0 + 1.01 * rise) is not None


@pytest.mark.parametrize(
    ("points", "s", "after"),
    [(60, 1.030, 3), (60, 1.024, None), (57, 1.030, 3), (54, 1.030, None), (54, 1.047, 1)],
)
def test_a_third_gone_a_small_rise_that_stays_is_enough(points: int, s: float, after: int | None) -> None:
    """Due are 0.046 g; 0.025 g do once they have stayed for 25 ms (third point), but not before 0.92 of the period."""
    hand = Points().cycles(5).cycles(1, points=points)
    found = hand.first_onset(*[s] * 6)
    assert (found and found[1]) == after


# ---- hovering and shoulders ----


def test_what_hovers_about_one_g_starts_where_it_leaves() -> None:
    """0.03 g above for four points and back: no shoulder, so the next crossing counts."""
    hand = Points().cycles(1)
    again = hand.crossing + 0.10
    assert hand.first_onset(*[1.03] * 4, *[0.99] * 6) is None
    assert hand.first_onset(1.01, 1.03, 1.052) == (pytest.approx(again, abs=0.001), 3)


@pytest.mark.parametrize(
    ("top", "dip", "points", "stands"),
    [(0.045, 0.05, 6, True), (0.045, 0.065, 6, False), (0.039, 0.05, 6, False), (0.045, 0.05, 14, True),
     (0.045, 0.05, 18, False)],
)  # fmt: skip
def test_a_landing_shoulder_belongs_to_the_push(top: float, dip: float, points: int, stands: bool) -> None:
    """0.04 g and more above 1 g, then less than 0.06 g below it, for 0.2 s at most: the first crossing stands."""
    hand = Points().cycles(1)
    first = hand.crossing
    assert hand.first_onset(1.02, *[1.0 + top] * 3, *[1.0 - dip] * points) is None
    found = hand.first_onset(1.0 + dip, 1.2)
    expected = first if stands else first + (4 + points) * STEP
    assert found is not None and found[0] == pytest.approx(expected, abs=0.006)


def test_a_shoulder_above_one_g_is_no_slow_rise() -> None:
    """Up to 0.046 g, down by more than 0.02 g but not below, up again: the onset is the first crossing. With a smaller
    dip in it the rise began by hovering: the onset is extrapolated from its steep end."""
    hand = Points().cycles(1)
    first = hand.crossing
    found = hand.first_onset(1.02, 1.046, *[1.01] * 6, 1.2)
    assert found is not None and found[0] == pytest.approx(first, abs=0.004)
    hand = Points().cycles(1)
    found = hand.first_onset(1.001, *[1.003] * 9, 1.043, 1.083)
    # a third of 0.05 g is passed 0.342 of a step after the tenth, 0.05 g 0.175 of a step after the eleventh
    third, top = 9.0 + (0.05 / 3 - 0.003) / 0.04, 10.0 + 0.007 / 0.04
    assert found is not None and found[0] == pytest.approx(0.59 + STEP * (third - 0.5 * (top - third)), abs=EXACT)
    hand = Points().cycles(1)
    found = hand.first_onset(1.001, *[1.003] * 7, 1.042, 1.030, 1.2)
    third, top = 7.0 + (0.05 / 3 - 0.003) / 0.039, 9.0 + 0.02 / 0.17
    assert found is not None and found[0] == pytest.approx(0.59 + STEP * (third - 0.5 * (top - third)), abs=EXACT)


@pytest.mark.parametrize(("points", "slow"), [(5, False), (6, True)])
def test_a_rise_is_slow_from_sixty_milliseconds_on(points: int, slow: bool) -> None:
    """1 mg at first, 3 mg after: the crossing lies at 0.95 of a step before the first; the onset of a rise that was
    confirmed within 60 ms is near it, that of a slower one at its steep end."""
    hand = Points().cycles(1)
    first = hand.crossing
    found = hand.first_onset(1.001, *[1.003] * (points - 1), 1.2)
    assert found is not None and found[1] == points + 1
    assert (found[0] > first + 0.03) == slow


def test_without_a_crossing_the_coarse_view_gives_the_onset() -> None:
    """The fine view has stayed above: 100 ms before the coarse one came back, its delay. At 1 g it is not yet."""
    hand = Points()
    for c in (0.1, -0.1, -0.05, -0.01, 0.0):
        assert hand.show(1.1, c) == []
    (found,) = hand.show(1.1, 0.01)
    assert found == Onset(pytest.approx(0.05 - 0.1), 0.05, 0)


def test_a_push_below_the_level_that_its_onset_raised_ends_where_it_goes_down() -> None:
    """0.1 g too much is learnt with an onset that the coarse view gives: the level is 1.0133 g then, the fine view
    stays at 1.005 g and goes down to 0.9 g: the line through these two meets the level. So does that through the first
    two of a push that goes down from its first point on."""
    hand = Points().cycles(3, offset=0.1)
    for s, c, points in ((1.6, 0.5, 30), (0.8, 0.01, 20), (1.005, 0.01, 3), (1.005, -0.1, 1)):
        for _ in range(points):
            hand.show(s, c)
    assert [type(e) for e in hand.show(1.005, 0.01)] == [CycleDone, Onset]
    level = hand.detector.level
    assert level == pytest.approx(1.0 + 0.4 * 0.1 / 3)
    for _ in range(3):
        hand.show(1.005, 0.01)
    (end,) = hand.show(0.9, -0.1)
    assert end.time == pytest.approx((hand.detector.n - 2 - (level - 0.9) / 0.105) * STEP, abs=EXACT)
    hand = Points().cycles(3, offset=0.1)
    for s, c, points in ((1.6, 0.5, 30), (0.8, 0.01, 20), (1.0131, 0.01, 3), (1.0131, -0.1, 1)):
        for _ in range(points):
            hand.show(s, c)
    slope = [1.013 - 1e-4 * k * k for k in range(11)]
    for s in slope[:-1]:
        assert hand.show(s, -0.05) == []
    assert [type(e) for e in hand.show(slope[-1], 0.01)] == [CycleDone, Onset]
    first = 1  # of the push: 0.1 s before the last, and the fine view is a step late
    at = hand.detector.n - len(slope) + first
    (end,) = hand.show(0.9, -0.1)
    over = (level - slope[first + 1]) / (slope[first] - slope[first + 1])
    assert end.time == pytest.approx((at - over) * STEP, abs=EXACT), "not of the two before"


def test_where_the_signal_bends_the_onset_lies_half_way_to_where_two_lines_meet() -> None:
    """Slopes of 0.04 and 0.16 g a step meet on 1 g a quarter of a step after the last point below; the fine view's
    own crossing lies at 0.01 / (0.01 + 0.12) of that step."""
    hand = Points().cycles(2)
    for s in (0.87, 0.91, 0.95, 0.99):
        hand.show(s, -0.01)
    at = (hand.detector.n - 2) * STEP
    found = hand.first_onset(1.12)
    assert found is not None and found[0] == pytest.approx(at + STEP / 13, abs=EXACT), "one point says nothing"
    hand = Points().cycles(1)
    for s in (0.87, 0.91, 0.95, 0.99):
        hand.show(s, -0.01)
    at = (hand.detector.n - 2) * STEP
    found = hand.first_onset(1.03, 1.046, 1.19)
    lines = [
        np.polyfit([-3, -2, -1, 0], [-0.13, -0.09, -0.05, -0.01], 1),
        np.polyfit([1, 2, 3], [0.03, 0.046, 0.19], 1),
    ]
    meet = np.average([-b / a for a, b in lines], weights=[a * a for a, _ in lines])
    assert found is not None and found[0] == pytest.approx(at + STEP * 0.5 * (0.25 + meet), abs=EXACT), "numpy.polyfit"


def test_four_points_either_side_tell_where_an_onset_lies() -> None:
    """No four of them in a line, and a fifth on each side that would tell something else: numpy.polyfit."""
    hand = Points().cycles(1)
    before, behind = [-0.15, -0.09, -0.07, -0.01], [0.01, 0.03, 0.035, 0.049]
    for s in (-0.5, *before):
        hand.show(1.0 + s, -0.03)
    at = (hand.detector.n - 2) * STEP
    found = hand.first_onset(*[1.0 + s for s in behind], 1.4)
    lines = [np.polyfit([-3, -2, -1, 0], before, 1), np.polyfit([1, 2, 3, 4], behind, 1)]
    meet = np.average([-b / a for a, b in lines], weights=[a * a for a, _ in lines])
    assert found == (pytest.approx(at + STEP * 0.5 * (0.5 + meet), abs=EXACT), 5)


def test_four_points_either_side_tell_where_a_push_ends() -> None:
    """As above, the other way round."""
    hand = Points().cycles(1)
    before, behind = [0.15, 0.09, 0.07, 0.01], [-0.01, -0.03, -0.035, -0.049]
    for s in (0.3, 0.4, 0.35, *before):
        hand.show(1.0 + s, 0.1)
    at = (hand.detector.n - 2) * STEP
    for s in behind:
        hand.show(1.0 + s, -0.01)
    (end,) = hand.show(0.5, -0.1)
    lines = [np.polyfit([-3, -2, -1, 0], before, 1), np.polyfit([1, 2, 3, 4], behind, 1)]
    meet = np.average([-b / a for a, b in lines], weights=[a * a for a, _ in lines])
    assert end.time == pytest.approx(at + STEP * meet, abs=EXACT)


def test_where_the_signal_bends_a_push_ends_where_two_lines_meet() -> None:
    """Slopes of 0.04 and 0.16 g a step: numpy.polyfit on four points before and three after, weighed by the squares."""
    hand = Points().cycles(1)
    before, behind = [0.13, 0.09, 0.05, 0.01], [-0.13, -0.29, -0.45]
    for s in (0.3, 0.3, 0.3, 0.2, *before):
        hand.show(1.0 + s, 0.1)
    at = (hand.detector.n - 2) * STEP
    for s, c in zip(behind, (-0.01, -0.05, -0.1), strict=True):
        hand.show(1.0 + s, c)
    lines = [np.polyfit([-3, -2, -1, 0], before, 1), np.polyfit([1, 2, 3], behind, 1)]
    meet = np.average([-b / a for a, b in lines], weights=[a * a for a, _ in lines])
    (end,) = hand.of(PushEnd)
    assert end.time == pytest.approx(at + STEP * meet, abs=EXACT)
    hand = Points().cycles(1)
    for s in (0.1, 0.1, 0.3, 0.05, -0.15, -0.35):
        hand.show(1.0 + s, 0.1)
    at = (hand.detector.n - 4) * STEP
    hand.show(0.45, -0.1)
    lines = [np.polyfit([-1, 0], [0.3, 0.05], 1), np.polyfit([1, 2, 3], [-0.15, -0.35, -0.55], 1)]
    meet = np.average([-b / a for a, b in lines], weights=[a * a for a, _ in lines])
    (end,) = hand.of(PushEnd)
    assert end.time == pytest.approx(at + STEP * meet, abs=EXACT), "not beyond the peak"
