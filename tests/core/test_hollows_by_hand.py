"""Onsets of chop and splashes in the hollow before a push: which are none, at each rule's bound from both sides.

After five triangles of 0.6 s the next onset is due. What comes then is shown by hand; the coarse view is given, too.
"""

from __future__ import annotations

import math

import pytest

from cadence_coach.core.cycles import STEP
from cadence_coach.core.events import CycleDone, Onset, PushEnd
from cadence_coach.core.landing import SOFT

from .by_hand import Points

HEIGHT = 0.58
"""Highest point of a triangle that is shown [g over 1 g]."""


def chop(coarse: float, cycles: int = 5) -> Points:
    """A beat, then an onset that is found while the coarse view is so low [g], and at once below again."""
    hand = Points().cycles(cycles)
    assert [type(e) for e in hand.show(1.3, coarse)][-1:] == [Onset]
    return hand


@pytest.mark.parametrize("coarse", [-0.2, -0.01])
@pytest.mark.parametrize(("deep", "armed"), [(0.0599, False), (0.0601, True)])
def test_a_deeper_hollow_after_an_onset_arms_anew(coarse: float, deep: float, armed: bool) -> None:
    """By 0.06 g below where the coarse view was when the onset was found; the push of that onset is over then."""
    hand = chop(coarse)
    for _ in range(12):
        assert hand.show(0.8, coarse) == []
    assert [type(e) for e in hand.show(0.8, coarse - deep)] == [PushEnd] * armed


@pytest.mark.parametrize(("highest", "low", "armed"), [(0.0501, 0.112, False), (0.0499, 0.109, False),
                                                      (0.0499, 0.111, True)])  # fmt: skip
def test_so_does_a_hollow_after_the_coarse_view_had_all_but_come_back(highest: float, low: float, armed: bool) -> None:
    """To within 0.05 g of 1 g, and then 0.06 g below that."""
    hand = chop(-0.3)
    for _ in range(12):
        hand.show(0.8, -highest)
    assert [type(e) for e in hand.show(0.8, -low)] == [PushEnd] * armed


def test_a_hollow_lasts_for_ten_points() -> None:
    """A splash into a push does not."""
    hand = chop(-0.2)
    brought = [len(hand.show(0.8, -0.4)) for _ in range(10)]
    assert brought == [0] * 9 + [1]
    hand = chop(-0.2)
    brought = [len(hand.show(1.01 if k == 5 else 0.8, -0.4)) for k in range(15)]
    assert brought == [0] * 15


def test_the_push_after_a_hollow_is_found_and_the_beat_goes_on() -> None:
    """0.16 s after the chop's onset, nearer than any two bounces; its gap is from the onset before the chop."""
    hand = Points().cycles(5)
    before, period = hand.of(Onset)[-1].time, hand.detector.period
    hand.show(1.3, -0.2)
    for _ in range(15):
        hand.show(0.5, -0.4)
    assert hand.detector.period == period, "as it was before the chop"
    level = hand.detector.level
    hand.show(1.5, -0.3)
    first, second = hand.of(Onset)[-2:]
    assert second.time - first.time == pytest.approx(0.16, abs=0.006)
    gap = second.time - before
    assert gap == pytest.approx(0.76, abs=0.01)
    assert hand.detector.period == pytest.approx(period + 0.25 * (gap - period))
    assert hand.detector.level == level, "half a cycle's mean says nothing of 1 g"


@pytest.mark.parametrize(("coarse", "found"), [(-0.049, False), (-0.051, True)])
def test_an_onset_too_soon_takes_no_arming_from_the_push_in_whose_hollow_it_was(coarse: float, found: bool) -> None:
    """0.3 s after an onset, half of the beat: refused. A hollow follows, 0.05 g deep in the coarse view, and a push."""
    hand = Points().cycles(5)
    for s, c in [(1.3, 0.2)] * 10 + [(0.7, -0.2)] * 20:
        hand.show(s, c)
    had = len(hand.of(Onset))
    assert hand.show(1.2, -0.2) == [], "refused"
    for _ in range(20):
        hand.show(0.8, coarse)
    hand.show(1.5, coarse)
    assert (len(hand.of(Onset)) > had) == found


@pytest.mark.parametrize(("share", "found"), [(0.39, True), (0.41, False)])
def test_after_a_push_that_hardly_rose_the_next_is_not_too_soon(share: float, found: bool) -> None:
    """No more than 0.4 of the running height: the push 0.3 s after it (0.65 of 0.6 s) is found, and its gap is from the
    onset before."""
    hand = Points().cycles(5)
    period = hand.detector.period
    for _ in range(12):  # longer than a splash
        hand.show(1.0 + share * HEIGHT, 0.01)
    for _ in range(18):
        hand.show(0.7, -0.2)
    had = len(hand.of(Onset))
    hand.show(1.5, -0.1)
    assert (len(hand.of(Onset)) > had) == found
    if found:
        assert hand.detector.period == pytest.approx(period + 0.25 * 0.4 * period, abs=0.001), "0.9 s, taken for 1.4"


def test_where_the_next_comes_in_time_a_push_that_hardly_rose_counts() -> None:
    """0.45 s after it: a gap of 0.6 s, then that."""
    hand = Points().cycles(5)
    for _ in range(12):
        hand.show(1.1, 0.01)
    for _ in range(33):
        hand.show(0.7, -0.2)
    assert hand.first_onset(1.5) is not None
    assert hand.detector.period == pytest.approx(0.6 - 0.25 * 0.15, abs=0.003)


def splash(cycles: float = 5, share: float = 0.39, points: int = 6, dip: float = 0.061, later: int = 17) -> Points:
    """A beat, an onset that rises so far (share of the running height) for so long, so far below the level then, and a
    push so many points after that onset."""
    hand = Points().cycles(cycles)
    for _ in range(points):
        hand.show(1.0 + share * HEIGHT, -0.01)
    for k in range(later - points):
        hand.show(1.0 - dip if k == 0 else 0.97, -0.01)
    hand.show(1.5, 0.1)
    return hand


@pytest.mark.parametrize(
    ("how", "found"),
    [({}, True), ({"share": 0.41}, False), ({"points": 7}, False), ({"dip": 0.059}, False), ({"cycles": 4}, True),
     ({"cycles": 3}, False), ({"later": 18}, False)],
)  # fmt: skip
def test_a_push_right_after_a_splash_is_found(how: dict[str, float], found: bool) -> None:
    """In a rhythm (three onsets behind); a splash rises to 0.4 of the running height at most and is 0.06 g below the
    level within 0.07 s; the push comes within 0.18 s of it. All but that is a shoulder, or chop."""
    times = [e.time for e in splash(**how).of(Onset)]  # type: ignore[arg-type]
    assert (times[-1] - times[-2] < 0.2) == found


def test_then_the_splash_was_no_cycle_and_the_beat_goes_on() -> None:
    """0.17 s before the push, which is 0.6 s after the last: no bounce is so short, none is told."""
    hand = splash(cycles=4.75)
    *_, last, chop, push = hand.of(Onset)
    assert push.time - chop.time == pytest.approx(0.17, abs=0.01)
    assert [(c.onset, c.number) for c in hand.of(CycleDone)][-1] == (last.time, last.number)
    assert [e.number for e in hand.of(PushEnd)][-1] == chop.number
    assert hand.detector.period == pytest.approx(0.6, abs=0.01)
    hand.cycles(2)
    assert [b.number for b in hand.detector.likely._last][-2:] == [last.number, push.number], "beside each other"


def test_a_splash_that_no_push_follows_stays_and_takes_no_arming() -> None:
    """What the coarse view dips for and rises again is the next."""
    hand = Points().cycles(5)
    for s in [1.2] * 3 + [0.8] * 45:
        hand.show(s, 0.01 if s > 1.0 else -0.01)
    assert len(hand.of(Onset)) == 5
    assert hand.first_onset(1.5) is None, "not armed: the coarse view has not dipped"
    for _ in range(40):
        hand.show(0.8, -0.2)
    assert hand.first_onset(1.5) is not None


@pytest.mark.parametrize(("between", "found"), [(13, False), (14, True)])
def test_what_comes_again_and_again_is_how_this_rider_lands(between: int, found: bool) -> None:
    """A shoulder like a splash: the onset of the second is the 15th or the 16th after that of the first."""
    hand = splash(cycles=4.8)
    hand.cycles(between + 1)
    for s in [1.2] * 3 + [0.8] * 7:
        hand.show(s, -0.05)
    hand.show(1.5, 0.1)
    *_, again, push = hand.of(Onset)
    assert (push.time - again.time < 0.18) == found


@pytest.mark.parametrize(("points", "found"), [(59, False), (61, True)])
def test_after_slow_chop_a_pump_is_not_too_soon(points: int, found: bool) -> None:
    """0.65 of 1.5 s were 0.98 s; never more than 0.6 s."""
    hand = Points().cycles(5, points=150).cycles(1, points=points)
    assert hand.detector.period == pytest.approx(1.5, abs=STEP)
    assert (hand.first_onset(1.1, 1.5) is not None) == found


def test_a_beat_that_only_chop_followed_is_forgotten() -> None:
    """A splash a second in one long hollow, none of the beat: 2.6 s after its last there is none, and the next pumps
    have their own."""
    hand, periods = chop(-0.2), []
    for _ in range(30):
        for _ in range(99):
            hand.show(0.8, -0.4)
        periods.append(hand.detector.period)
        assert [type(e) for e in hand.show(1.3, -0.2)][-1:] == [Onset]
    assert periods[0] == pytest.approx(0.6, abs=0.01) and all(math.isnan(p) for p in periods[2:])
    assert hand.cycles(3).detector.period == pytest.approx(0.6, abs=0.1)


@pytest.mark.parametrize(("cycles", "due"), [(3, False), (4, True)])
def test_a_new_beat_after_it_is_due_from_its_fifth_onset_on(cycles: int, due: bool) -> None:
    """Two gaps like the first, as at the very beginning: then 8 % of the height (0.046 g) will do, not 15 % (0.087)."""
    hand = chop(-0.2)
    for _ in range(3):
        for _ in range(99):
            hand.show(0.8, -0.4)
        hand.show(1.3, -0.2)
    assert math.isnan(hand.detector.period)
    hand.cycles(cycles)
    assert (hand.first_onset(1.05) is not None) == due


def test_ever_slower_bounces_end_where_the_ring_does() -> None:
    """Each 8 % longer than the one before, from 2 s to 20 s: no cycle of more than 8.2 s, of which all is kept."""
    hand, points = Points().cycles(2, points=200), 200.0
    while points < 2000:
        hand.cycles(1, points=round(points), high=0.3)
        points *= 1.08
    whole = [c.period for c in hand.of(CycleDone) if c.whole]
    assert 7.0 < max(whole) <= 8.2


# ---- which points it asks for ----


@pytest.mark.parametrize(
    ("coarse", "below", "above"),
    [(-0.2, -0.26, -0.05), (-0.0501, -0.1101, -0.05), (-0.0499, -0.1099, 0.0), (-0.01, -0.07, 0.0), (0.1, 0.04, 0.0)],
)
def test_after_an_onset_it_asks_for_a_deeper_hollow_and_for_the_way_back(
    coarse: float, below: float, above: float
) -> None:
    """Deeper by 0.06 g; above 1 g, or 0.05 g below it where that moves the hollow that is asked for."""
    assert chop(coarse).detector.bounds[1:4] == pytest.approx((below, above, SOFT))
    hand = chop(-0.2)
    hand.show(0.8, -0.049)
    assert hand.detector.bounds[1:4] == pytest.approx((-0.11, 0.0, SOFT))
    hand = Points().cycles(5)
    hand.show(1.2, -0.2)
    assert hand.detector.bounds[2] == -math.inf, "may be a splash: for all"
    last = hand.of(Onset)[-1].time
    hand.show(0.9, -0.2)
    assert hand.detector.bounds[1:] == (-math.inf, 0.0, 1.0, pytest.approx(last + 0.18)), "armed until then"


@pytest.mark.parametrize(("high", "dip"), [(0.1, 0.02), (0.2, 0.0387), (0.6, 0.06)])
def test_in_a_push_it_asks_for_its_end_then_for_a_crossing_then_for_all(high: float, dip: float) -> None:
    """The dip that arms (test_cycles_by_hand); armed, the fine view from the level on or the coarse one back above
    1 g; from the crossing on every point. And always the time at which it gives up, here after 1.6 s."""
    hand = Points().cycles(3, high=high)
    for _ in range(3):
        hand.show(1.3, 0.3)
    late = hand.of(Onset)[-1].time + 1.6
    assert hand.detector.bounds[1:] == pytest.approx((-dip, math.inf, SOFT, late), abs=1e-4)
    hand.show(0.9, -0.1)
    assert hand.detector.bounds == pytest.approx((-0.1, -math.inf, 0.0, 1.0, late))
    hand.show(1.01, -0.05)
    assert hand.detector.bounds == pytest.approx((-0.1, -math.inf, -math.inf, math.inf, late))


# ---- the hollow after a landing ----


def landed(top: float = 3.0, wide: int = 12, hovers: int = 0, low: tuple[float, ...] = (0.6,) * 9) -> Points:
    """Running steps, a landing, perhaps something above 1 g after it, a hollow, a push; the coarse view stays up."""
    hand = Points().cycles(5, points=36)
    for s in [*[top] * wide, *[1.1] * hovers, *low, 1.5]:
        hand.show(s, 0.3)
    return hand


LAND = 5
"""Onsets of `landed` up to the landing's own."""


@pytest.mark.parametrize(
    ("how", "found"),
    [({}, True), ({"top": 2.61}, True), ({"top": 2.59}, False), ({"low": (0.6,) * 8}, False),
     ({"low": (*(0.6,) * 8, 1.1, 0.6)}, False), ({"low": (*(0.6,) * 3, 1.1, *(0.6,) * 9)}, True),
     ({"low": (0.99,) * 9}, True), ({"wide": 10}, True), ({"wide": 8}, False),
     ({"hovers": 25}, True), ({"hovers": 28}, False)],
)  # fmt: skip
def test_a_push_right_after_a_landing_is_found(how: dict, found: bool) -> None:
    """The fine view was over 2.6 g, and within 0.35 s below 1 g for 90 ms in a row; 0.18 s after the landing at least,
    however long the running steps were (0.65 of 0.36 s)."""
    hand = landed(**how)
    assert len(hand.of(Onset)) == LAND + found
    if found:
        assert hand.of(Onset)[-1].time == pytest.approx(hand.crossing - STEP, abs=0.5 * STEP), "between two points"


@pytest.mark.parametrize(
    ("how", "found"),
    [({}, True), ({"top": 1.91}, True), ({"top": 1.89}, False), ({"free": 18}, True), ({"free": 17}, False),
     ({"fall": 0.29}, True), ({"fall": 0.31}, False), ({"low": 8}, False)],
)  # fmt: skip
def test_after_a_leap_a_softer_landing_is_one(how: dict, found: bool) -> None:
    """Over 1.9 g, right after 0.18 s under 0.3 g. No running step flies so long (common practice, no source)."""
    asked = {"top": 2.2, "free": 20, "fall": 0.1, "low": 9, **how}
    hand = Points().cycles(5, points=36)
    for _ in range(asked["free"]):
        hand.show(asked["fall"], -0.4)
    for s in [*[asked["top"]] * 12, *[0.6] * asked["low"], 1.5]:
        hand.show(s, 0.3)
    assert len(hand.of(Onset)) == LAND + found


@pytest.mark.parametrize(("between", "found"), [(12, True), (13, False)])
def test_a_leap_is_right_before_its_landing(between: int, found: bool) -> None:
    """18 points of the fall among the last 32, with 12 of neither and two of the landing: the first of them is the
    onset of its own bounce."""
    hand = Points().cycles(5, points=36)
    for s in [*[0.1] * 20, *[0.6] * between]:
        hand.show(s, -0.4)
    for s in [2.2, 2.2, *[1.7] * 10, *[0.6] * 9, 1.5]:
        hand.show(s, 0.3)
    assert len(hand.of(Onset)) == LAND + found


def test_such_a_hollow_is_no_dip_of_the_beat() -> None:
    """The coarse view never went down: nothing to go by for the next. And every point is asked for until it is over."""
    hand = Points().cycles(5, points=36)
    for _ in range(12):
        hand.show(3.0, 0.3)
    before = hand.detector._dip_run
    assert hand.detector.bounds[1:4] == (-math.inf, -math.inf, SOFT)
    for s in [*[0.6] * 9, 1.5]:
        hand.show(s, 0.3)
    assert hand.detector._dip_run == pytest.approx(0.7 * before)
    assert hand.detector.bounds[2] == 0.0
    hand = landed(low=(1.1,) * 36)
    assert hand.detector.bounds[1:4] == pytest.approx((-0.06, math.inf, SOFT), abs=0.01)
