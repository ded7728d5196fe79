"""How late a crossing is: what the nets are shown, by hand, their sum by numpy, what the detector does with it."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from cadence_coach.core.cycles import RING
from cadence_coach.core.events import CycleDone, Onset, PushEnd
from cadence_coach.core.timing import (
    AROUND_END,
    AROUND_ONSET,
    BEFORE_END,
    BEFORE_ONSET,
    LEVELS,
    Late,
    around,
    end_figures,
    onset_figures,
)
from cadence_coach.core.timing_fit import ONSET, PUSH_END, Net
from tests.benchmarks.accuracy import Score, ours
from tests.makes import drawn

from .by_hand import Points

EXACT = 1e-9
WIDTH = {"onset": 47, "end": 38}
SHARE, PERIOD, LATE, LEVEL = 43, 44, 45, 46
MEAN = 42


def ring(values: dict[int, float]) -> list[float]:
    return [values.get(i, 1.0) for i in range(RING)]


def ramp(slope: float = 0.02, zero: float = 100.0) -> list[float]:
    """1 g at `zero`, rising by `slope` [g] a point."""
    return [1.0 + slope * (i - zero) for i in range(RING)]


def test_points_are_read_from_straight_lines_in_heights() -> None:
    got = around(ramp(), 200, 100.25, (-10, 0, 3), 1.0, 0.5)
    assert got == pytest.approx([0.02 * (-9.75) / 0.5, 0.02 * 0.25 / 0.5, 0.02 * 3.25 / 0.5])
    assert around(ramp(), 200, 100.25, (0,), 1.004, 0.5) == pytest.approx([0.001 / 0.5])


def test_what_has_not_come_is_as_the_last_that_has() -> None:
    """Of 102 points the last is number 101: between it and the next there is no line yet."""
    got = around(ramp(), 102, 100.25, (0, 1, 2, 30), 1.0, 0.5)
    assert got == pytest.approx([0.02 * v / 0.5 for v in (0.25, 1.0, 1.0, 1.0)])


@pytest.mark.parametrize(("n", "third"), [(104, 3.0), (105, 3.25)])
def test_the_last_line_ends_at_the_last_point(n: int, third: float) -> None:
    assert around(ramp(), n, 100.25, (0, 3), 1.0, 0.5) == pytest.approx([0.02 * v / 0.5 for v in (0.25, third)])


@pytest.mark.parametrize(("value", "shown"), [(1.99, 1.99), (2.01, 2.0), (-1.99, -1.99), (-2.01, -2.0)])
def test_a_spike_counts_two_heights_at_most(value: float, shown: float) -> None:
    flat = [1.0 + 0.5 * value] * RING
    assert around(flat, 200, 100.5, (0,), 1.0, 0.5) == pytest.approx([shown])


def test_a_ring_is_read_across_its_end() -> None:
    """Points 1020 and 1028 lie at places 1020 and 4."""
    values = ring({RING - 1: 1.1, 0: 1.3})
    assert around(values, RING + 9, RING - 0.5, (0, -1, 1), 1.0, 1.0) == pytest.approx([0.2, 0.05, 0.15])


def onset(
    place: float = 160.4, before: float = 100.4, end: float = 124.4, period: float = 0.55, level: float = 1.0,
    height: float = 0.5, raw: list[float] | None = None,
) -> list[float]:  # fmt: skip
    return onset_figures(raw or ramp(), 163, place, before, end, period, level, height)


def test_figures_of_an_onset_by_hand() -> None:
    """Found 60 points after the last, whose push took 24 of them; the period runs at 55."""
    figures = onset()
    assert len(figures) == WIDTH["onset"]
    at = len(AROUND_ONSET)
    assert figures[:at] == around(ramp(), 163, 160.4, AROUND_ONSET, 1.0, 0.5)
    assert figures[at : at + len(BEFORE_ONSET)] == around(ramp(), 163, 100.4, BEFORE_ONSET, 1.0, 0.5)
    assert figures[at + len(BEFORE_ONSET) : MEAN] == around(ramp(), 163, 124.4, BEFORE_END, 1.0, 0.5)
    assert figures[MEAN] == pytest.approx(0.02 * 30.5), "mean of points 101 to 160, of which the line is 1 g at 100"
    assert figures[SHARE] == pytest.approx(0.24 / 0.55) and figures[PERIOD] == 0.55
    assert figures[LATE] == pytest.approx(0.05) and figures[LEVEL] == 0.0
    assert onset(level=1.02)[LEVEL] == pytest.approx(0.02)
    assert onset(level=1.02)[MEAN] == pytest.approx(0.02 * 30.5 - 0.02)


@pytest.mark.parametrize(("before", "end", "joined"), [
    (40.5, 60.0, True), (40.3, 60.0, False), (math.nan, 124.4, False), (100.4, math.nan, False),
])  # fmt: skip
def test_a_pump_long_ago_or_none_is_not_shown(before: float, end: float, joined: bool) -> None:
    """119.9 and 120.1 points before."""
    figures = onset(before=before, end=end)
    assert any(figures[len(AROUND_ONSET) : MEAN + 1]) == joined
    assert (figures[SHARE] == 0.4) != joined and len(figures) == WIDTH["onset"]


@pytest.mark.parametrize(("period", "late"), [(0.31, 0.29), (0.29, 0.0), (0.89, -0.29), (0.91, 0.0)])
def test_only_an_onset_of_this_rhythm_is_early_or_late(period: float, late: float) -> None:
    assert onset(period=period)[LATE] == pytest.approx(late)


def test_before_the_first_period_the_usual_stands() -> None:
    figures = onset(period=math.nan)
    assert (figures[SHARE], figures[PERIOD], figures[LATE]) == (0.4, 0.65, 0.0)
    assert onset(end=190.0, period=0.55)[SHARE] == 1.0, "a share is one at most"


@pytest.mark.parametrize(("height", "by"), [(0.14, 0.15), (0.16, 0.16)])
def test_heights_are_of_a_push_that_is_one(height: float, by: float) -> None:
    assert onset(height=height)[9] == pytest.approx(min(2.0, 0.02 * 60.4 / by))
    assert onset(height=height, raw=ramp(0.001))[9] == pytest.approx(0.001 * 60.4 / by)


def falling(*values: float) -> list[float]:
    """A peak of 1.5 g at point 100 and what follows it, at 0.5 g from then on."""
    return ring(
        {100: 1.5} | {101 + i: v for i, v in enumerate(values)} | {101 + len(values) + i: 0.5 for i in range(99)}
    )


def test_figures_of_a_push_end_by_hand() -> None:
    """From 1.2 g at point 101 to 0.8 g at 102: a fall of 0.01 g in a fortieth of a point."""
    raw = falling(1.2, 0.8)
    figures = end_figures(raw, 120, 101.5, 77.5, 100, 0.6, 1.0)
    assert len(figures) == WIDTH["end"]
    at = len(AROUND_END)
    assert figures[:at] == around(raw, 120, 101.5, AROUND_END, 1.0, 0.5)
    assert figures[at : at + len(LEVELS)] == pytest.approx([-level * 2.5 for level in LEVELS])
    assert figures[-3:] == pytest.approx([math.log(0.5), 0.6, 0.24 / 0.6])
    assert end_figures(raw, 120, 101.5, 77.5, 100, math.nan, 1.0)[-2:] == [0.65, 0.4]
    assert end_figures(raw, 120, 101.5, 21.5, 100, 0.6, 1.0)[-1] == 1.0


def test_the_first_fall_through_each_level_counts() -> None:
    """Down to 1.05 g and up again: levels of 0.12 and 0.06 g are crossed there, the rest at the second fall."""
    raw = falling(1.05, 1.4, 1.0, 0.9)
    got = end_figures(raw, 120, 103.0, 77.5, 100, 0.6, 1.0)[len(AROUND_END) : -3]
    first = [(0.5 - level) / 0.45 - 3.0 for level in (0.12, 0.06)]
    second = [(0.4 - 0.03) / 0.4 - 1.0, 0.0, 0.3, 0.6]
    assert got == pytest.approx([*first, *second, 1.0 + 0.02 / 0.4])


def test_a_level_that_is_not_crossed_or_far_away() -> None:
    raw = falling(*[1.2] * 11, 1.05, *[1.05] * 30)
    level = end_figures(raw, 115, 102.0, 77.5, 100, 0.6, 1.0)[len(AROUND_END) : -3]
    assert level[0] == pytest.approx(10 - 1 + 8 / 15, abs=0.5) and level[2:] == [10.0] * 5
    assert end_figures(raw, 115, 90.0, 77.5, 100, 0.6, 1.0)[len(AROUND_END)] == 12.0
    assert end_figures(raw, 115, 125.0, 77.5, 100, 0.6, 1.0)[len(AROUND_END)] == -12.0


def test_the_height_of_a_push_end_is_the_highest_of_three_points() -> None:
    for k in (99, 100, 101):
        assert end_figures(ring({k: 1.8}), 120, 105.0, 77.5, 100, 0.6, 1.0)[-3] == pytest.approx(math.log(0.8))
    for k in (98, 102):
        assert end_figures(ring({k: 1.8}), 120, 105.0, 77.5, 100, 0.6, 1.0)[-3] == pytest.approx(math.log(0.15))


@pytest.mark.parametrize("seed", range(5))
def test_a_net_is_a_line_and_tanh_units(seed: int) -> None:
    """Independently computed: numpy."""
    rng = np.random.default_rng(seed)
    c, w, o, line, x = (rng.normal(0, 0.04, n) for n in (3, (3, 6), 3, 7, 6))
    want = float(np.clip(line[0] + line[1:] @ x + o @ np.tanh(c + w @ x), -0.03, 0.03))
    net = (tuple(c), tuple(map(tuple, w)), tuple(o), tuple(line))
    assert Late(net)(x.tolist()) == pytest.approx(want, abs=1e-14)


@pytest.mark.parametrize(("late", "taken"), [(0.029, 0.029), (0.031, 0.03), (-0.029, -0.029), (-0.031, -0.03)])
def test_no_time_moves_further_than_30_ms(late: float, taken: float) -> None:
    assert Late(always(late, "onset"))([0.0] * WIDTH["onset"]) == pytest.approx(taken)


@pytest.mark.parametrize(("net", "width"), [(ONSET, WIDTH["onset"]), (PUSH_END, WIDTH["end"])])
def test_the_fitted_numbers_fit_the_figures(net: Net, width: int) -> None:
    constants, weights, counts, line = net
    assert len(constants) == len(weights) == len(counts) and len(line) == width + 1
    assert {len(w) for w in weights} == {width}


def always(late: float, kind: str, by: dict[int, float] | None = None) -> Net:
    line = [late, *[0.0] * WIDTH[kind]]
    for place, weight in (by or {}).items():
        line[1 + place] = weight
    return (0.0,), ((0.0,) * WIDTH[kind],), (0.0,), tuple(line)


def triangles(onset: Net, end: Net) -> Points:
    hand = Points()
    hand.detector.late = Late(onset), Late(end)
    return hand.cycles(7)


def test_errors_are_taken_off_and_what_is_shown_is_the_crossing_as_found() -> None:
    """As without nets 0.585 + 0.6 k and 0.3 later; the third figure from the end, how late for the period, stays 0
    though all onsets are moved alike, and so is the push share as found a half."""
    hand = triangles(always(0.005, "onset", {LATE: 1.0}), always(-0.004 - 0.5, "end", {WIDTH["end"] - 1: 1.0}))
    assert [e.time for e in hand.of(Onset)] == pytest.approx([0.580 + 0.6 * k for k in range(6)], abs=EXACT)
    ends = [e.time for e in hand.of(PushEnd)][2:]
    assert ends == pytest.approx([0.889 + 0.6 * k for k in range(2, 6)], abs=1e-5)
    done = hand.of(CycleDone)[2:]
    assert [c.push_end - c.onset for c in done] == pytest.approx([0.309] * len(done), abs=1e-5)
    assert [c.onset for c in done] == pytest.approx([0.580 + 0.6 * k for k in range(2, 2 + len(done))], abs=EXACT)


def test_the_push_end_before_is_shown_as_found_too() -> None:
    """Half the period as found, though it is told 6 ms later: 5 ms + a twentieth of (share - 0.5) are taken off.

    To 0.1 ms: cycles that begin and end elsewhere have other means, and the level follows them."""
    hand = triangles(always(0.005 - 0.025, "onset", {SHARE: 0.05}), always(-0.006, "end"))
    assert [e.time for e in hand.of(PushEnd)][1:] == pytest.approx([0.891 + 0.6 * k for k in range(1, 6)], abs=1e-4)
    assert [e.time for e in hand.of(Onset)][3:] == pytest.approx([0.580 + 0.6 * k for k in range(3, 6)], abs=1e-4)


def test_an_onset_does_not_move_into_the_push_before() -> None:
    """Found 5 ms after a push end, 20 ms early: it begins where that push ends, unless none is open."""
    detector = triangles(always(0.02, "onset"), always(0, "end")).detector
    at = detector._push_end + 0.005
    assert detector._better_onset(at) == detector._push_end
    detector._onset = math.nan
    assert detector._better_onset(at) == pytest.approx(at - 0.02)


def test_an_onset_is_not_later_than_the_newest_point() -> None:
    """Known 35 ms after the crossing: 34 ms more are believed, 36 are not."""
    for late, time in ((0.034, 0.619), (0.036, 0.620)):
        hand = Points()
        hand.detector.late = (lambda figures, late=late: -late), (lambda figures: 0.0)
        first = hand.cycles(2).of(Onset)[0]
        assert first.time == pytest.approx(time, abs=EXACT) and first.known == pytest.approx(0.620)


def test_a_push_end_is_not_later_than_the_newest_point() -> None:
    """Known 25 ms after the crossing: 24 ms more are believed, 26 are not."""
    for late, time in ((0.024, 0.909), (0.026, 0.910)):
        hand = Points().cycles(1.5)
        hand.detector.late = (lambda figures: 0.0), (lambda figures, late=late: -late)
        hand.show(0.98, 0.0)
        hand.show(0.94, -0.1)
        (end,) = hand.of(PushEnd)
        assert end.time == pytest.approx(time, abs=EXACT) and end.known == pytest.approx(0.910)


def test_an_onset_is_told_35_ms_after_its_crossing_and_a_splash_that_is_over_by_then_is_none() -> None:
    """Before the push 1.14 g for three points, then 0.8 g. Without nets the splash has the onset, and the push none."""
    for nets, points, onset, known in ((True, 3, 0.6070, 0.65), (False, 3, 0.5550, 0.57), (True, 4, 0.5675, 0.60)):
        hand = Points()
        if nets:
            hand.detector.late = (lambda figures: 0.0), (lambda figures: 0.0)
        hand.cycles(0.95)
        for s in [1.14] * points + [0.8] * (5 - points):
            hand.show(s, -0.01)
        (found,) = hand.cycles(1).of(Onset)
        assert found.time == pytest.approx(onset, abs=1e-4) and found.known == pytest.approx(known)


def test_a_push_ends_after_its_peak_and_the_next_begins_after_that() -> None:
    """Triangles of 24 points peak 6 points after the onset and cross again 6 later; a push end 30 ms late and a next
    onset 30 ms early keep their order."""
    hand = Points()
    hand.detector.late = Late(always(0.03, "onset")), Late(always(-0.03, "end"))
    hand.cycles(12, 26)
    marks = sorted([e for e in hand.detector.out if isinstance(e, Onset | PushEnd)], key=lambda e: (e.number, e.time))
    assert [type(e) for e in marks[:6]] == [Onset, PushEnd] * 3
    assert all(a.time <= b.time for a, b in pairwise(marks))
    hand = Points()
    hand.detector.late = Late(always(0, "onset")), Late(always(0.03, "end"))
    hand.cycles(12, 6)
    assert all(c.push_end >= c.peak for c in hand.of(CycleDone))


def test_unseen_outings_are_timed_better_with_the_nets_than_without(monkeypatch: pytest.MonkeyPatch) -> None:
    """Drawn outings of seeds that nothing was fitted to. Regression values, rounded up: onsets gain a sixth at the
    95th percentile, push ends a third."""
    kinds, rates = drawn.KINDS[:-1], (50.0, 100.0, 200.0)
    outings = [
        drawn.drawn_outing(330_000 + i, kinds[i % 7], rates[i // 7 % 3], gyro=bool(i % 2), speed=False)
        for i in range(14)
    ]
    after, before = Score(), Score()
    for o in outings:
        after.add(o, ours(o))
    monkeypatch.setattr("cadence_coach.core.timing.MOST", 0.0)
    for o in outings:
        before.add(o, ours(o))
    for found, crossed, most in ((after.onset, before.onset, 0.95), (after.end, before.end, 0.8)):
        assert len(found) > 500
        assert np.median(found) < np.median(crossed)
        assert np.percentile(found, 95) < most * np.percentile(crossed, 95)
