"""Figures of a flight from its bounces: medians and counts by NumPy, what is none, what is kept."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from cadence_coach.core.events import CycleDone, Onset
from cadence_coach.core.flown import (
    NO_BEAT,
    Figures,
    Flown,
    Swing,
    back_to_like,
    beats,
    glide_height,
    middle,
    of_glide,
    period_of,
)


def cycle(k: int, at: float) -> CycleDone:
    """A pump of 0.6 s."""
    return CycleDone(at + 0.6, at + 0.6, k, at, at + 0.15, at + 0.3, at + 0.45, 1.8, 0.4, 0.6, 0.2)


def swing(done: CycleDone, odds: float = 4.0) -> Swing:
    made = Swing(Onset(done.onset, done.onset, done.number))
    made.push_end, made.done, made.odds = done.push_end, done, odds
    return made


def bounces(gaps: list[float], first: float = 2.0) -> list[Swing]:
    """Closed bounces with these times from onset to onset [s]; of the last, which is 0.6 s, too."""
    made, t = [], first
    for k, gap in enumerate([*gaps, 0.6]):
        made.append(swing(replace(cycle(k, t), time=t + gap, size_g=0.5 + 0.01 * k)))
        t += gap
    return made


def flown(made: list[Swing], start: int = 3) -> Flown:
    """The first few bring the flight, the others come one by one; closed with all of them."""
    figures = Flown(made[:start])
    for one in made[start:]:
        figures.add(one)
    figures.close(figures.recent)
    return figures


@pytest.mark.parametrize("count", [3, 4, 9, 70, 200])
def test_figures_are_numpys(count: int) -> None:
    """However many are kept whole: gaps, shares and sizes of all."""
    gaps = np.random.default_rng(count).uniform(0.5, 0.8, count - 1).tolist()
    made = bounces(gaps)
    got = flown(made)
    assert got.pumps == count and got.start == 2.0 and got.skipped == []
    assert list(got.gaps.kept) == pytest.approx(gaps)
    assert got.period == pytest.approx(np.median(gaps)) and got.running == pytest.approx(np.median(gaps[-5:]))
    assert got.last_onset == pytest.approx(2.0 + sum(gaps))
    assert middle(got.sizes.kept) == pytest.approx(0.5 + 0.01 * (count - 1) / 2)
    assert middle(got.shares.kept) == pytest.approx(np.median([s.done.push_share for s in made if s.done]))
    assert got.steadiness == pytest.approx(np.std(gaps, ddof=1) / np.mean(gaps))


def test_of_one_bounce_there_is_no_period() -> None:
    """0.6 s, a usual pump; nothing to be steady."""
    got = flown(bounces([]), 1)
    assert (got.pumps, got.period, got.running) == (1, 0.6, 0.6) and math.isnan(got.steadiness)
    two = flown(bounces([0.7]), 2)
    assert (two.period, two.running) == (pytest.approx(0.7),) * 2 and math.isnan(two.steadiness)
    assert flown(bounces([0.6, 0.7])).steadiness == pytest.approx(0.1 / math.sqrt(2) / 0.65), "two are enough"
    assert math.isnan(middle(two.gaps.kept[:0]))


@pytest.mark.parametrize(("usual", "height"), [(1.6, 0.3), (2.0, 0.5), (2.6, 0.8)])
def test_chop_in_a_glide_is_under_half_of_the_usual_push(usual: float, height: float) -> None:
    """A bounce that is not over yet may still be a pump."""
    made = [swing(replace(cycle(k, 0.6 * k), peak_g=usual)) for k in range(5)]
    assert glide_height(made) == pytest.approx(height)
    chop = swing(replace(cycle(5, 3.0), peak_g=1.0 + height - 0.01), -9.0)
    assert of_glide(chop, height) and not of_glide(chop, height - 0.02)
    chop.done = None
    assert not of_glide(chop, height)


@pytest.mark.parametrize("missed", [1, 30, 98])
def test_a_pump_that_was_not_heard_is_no_unevenness(missed: int) -> None:
    """Of a rider who scatters by 4 %, one of a hundred pumps is lacking: two periods in one."""
    gaps = np.random.default_rng(missed).normal(0.6, 0.024, 99)
    heard = [*gaps[: missed - 1], gaps[missed - 1] + gaps[missed], *gaps[missed + 1 :]]
    got = flown(bounces(heard))
    left = np.delete(gaps, [missed - 1, missed])
    assert got.pumps == 99 and len(got.gaps.kept) == 98
    assert got.steadiness == pytest.approx(np.std(left, ddof=1) / np.mean(left))
    assert got.steadiness < 0.05 < 0.1 < np.std(heard, ddof=1) / np.mean(heard)


def test_the_longest_beat_is_known_from_both_sides() -> None:
    """1.6 medians: own value. Who pumps so unevenly that an interval is half as long again keeps it."""
    assert NO_BEAT == 1.6
    assert beats([0.5, 0.5, 0.5, 0.79, 0.81, 0.3]) == [0.5, 0.5, 0.5, 0.79, 0.3]
    assert beats([]) == [] and beats([2.0]) == [2.0]
    assert math.isnan(flown(bounces([0.3, 1.6])).steadiness), "one is left"


def test_what_was_not_closed_whole_has_an_onset_alone() -> None:
    made = bounces([0.6] * 5)
    made[4].done = replace(made[4].done, whole=False)  # type: ignore[type-var]
    made[5].done = None
    got = flown(made)
    assert got.pumps == 6 and len(got.gaps.kept) == 5 and len(got.shares.kept) == len(got.sizes.kept) == 4


def test_the_period_of_a_run_is_the_median_of_the_last_five() -> None:
    assert period_of([]) == period_of(bounces([])) == 0.6
    gaps = [0.9, 0.9, 0.9, 0.5, 0.6, 0.7, 0.55, 0.65]
    assert period_of(bounces(gaps)) == pytest.approx(np.median(gaps[-5:]))
    assert period_of(bounces([0.7, 0.9])) == pytest.approx(0.8)


def test_of_an_endless_flight_every_second_figure_is_kept() -> None:
    """4096 are kept; then half, evenly from all of it, and of what comes every second; and so on."""
    made = Figures()
    for k in range(20_000):
        made.append(k)
        if k in (4095, 4096, 4097, 4098, 8191, 8192, 8193, 8196, 16383, 16384, 19_999):
            every = 1 if k < 4096 else 2 if k < 8192 else 4 if k < 16384 else 8
            assert made.kept.tolist() == list(range(0, k + 1, every)), k


def test_the_end_of_an_endless_flight_weighs_no_more_than_its_beginning() -> None:
    """4400 pumps, then 2600 quicker and smaller ones; how fast they came last is of the last five."""
    gaps = np.r_[np.full(4400, 0.66), np.full(2599, 0.53)] + np.random.default_rng(7).normal(0.0, 0.01, 6999)
    made = bounces(gaps.tolist())
    for k, one in enumerate(made):
        assert one.done
        one.done = replace(one.done, size_g=0.6 if k < 4400 else 0.4, push_end=one.done.onset + 0.3 * (k < 4400) + 0.1)
    got = flown(made)
    assert got.pumps == 7000 and len(got.recent) <= 64 and len(got.gaps.kept) < 4096
    assert got.period == pytest.approx(np.median(gaps), abs=0.001)
    assert got.steadiness == pytest.approx(np.std(gaps) / np.mean(gaps), abs=0.001)
    shares = [one.done.push_share for one in made if one.done]
    assert middle(got.sizes.kept) == 0.6 and middle(got.shares.kept) == pytest.approx(np.median(shares), abs=0.001)
    assert got.running == pytest.approx(np.median(gaps[-5:]))


# ---- what is none ----


def skipped(odd: dict[int, float], count: int = 12) -> Flown:
    """Pumps, but for some of these log-odds."""
    return flown([swing(cycle(k, 0.6 * k), odd.get(k, 4.0)) for k in range(count)])


@pytest.mark.parametrize(("odds", "none"), [(-2.6, True), (-2.4, False)])
def test_a_bounce_between_pumps_that_is_none_is_not_counted(odds: float, none: bool) -> None:
    got = skipped({6: odds})
    assert got.skipped == [6] * none and got.pumps == 12 - none
    assert got.gaps.kept[5] == pytest.approx(1.2 if none else 0.6)


@pytest.mark.parametrize(("at", "judged"), [(0, False), (1, True), (10, True), (11, False)])
def test_the_first_and_the_last_of_all_are_judged_elsewhere(at: int, judged: bool) -> None:
    assert skipped({at: -5.0}).skipped == [at] * judged


def test_in_a_long_flight_what_is_none_is_told_as_well() -> None:
    """Also where it goes out of what is kept whole; the last 1024 are named."""
    assert skipped(dict.fromkeys((20, 31, 32, 33, 90), -5.0), 100).skipped == [20, 31, 32, 33, 90]
    many = range(3, 296, 4)
    got = skipped(dict.fromkeys(many, -5.0), 300)
    assert got.pumps == 300 - len(many)
    assert got.skipped == list(many)
    many = range(3, 5996, 4)
    assert skipped(dict.fromkeys(many, -5.0), 6000).skipped == list(many)[-1024:]


def test_a_splash_that_was_taken_back_is_not_counted() -> None:
    got = Flown([swing(cycle(k, 0.6 * k), 4.0) for k in range(5)])
    got.recent.pop()
    for k in (5, 6):
        got.add(swing(cycle(k, 0.6 * k), 4.0))
    got.close(list(got.recent))
    assert got.skipped == [4] and got.pumps == 6
    assert got.gaps.kept.tolist() == pytest.approx([0.6, 0.6, 0.6, 1.2, 0.6])


@pytest.mark.parametrize(
    ("odds", "before", "after", "none"),
    [(-1.1, 0.6, 0.6, False), (-2.4, 0.6, 0.6, False), (-2.6, 0.6, 0.6, True), (-1.1, 0.74, 0.46, False),
     (-1.1, 0.76, 0.6, True), (-1.1, 0.6, 0.44, True), (-1.1, 0.44, 0.6, True), (-1.1, 0.6, 0.76, True),
     (-0.9, 0.3, 0.3, False)],
)  # fmt: skip
def test_a_doubtful_bounce_in_time_is_a_pump(odds: float, before: float, after: float, none: bool) -> None:
    """Among pumps of 0.6 s; one out of time, or surely none, is not counted."""
    made = bounces([0.6, 0.6, 0.6, before, after, 0.6, 0.6, 0.6])
    made[4].odds = odds
    assert flown(made).skipped == ([4] if none else [])


def test_only_the_bounces_next_to_it_say_whether_it_is_in_time() -> None:
    made = bounces([0.6, 0.6, 0.9, 0.6, 0.6, 0.9, 0.6, 0.6, 0.6])
    made[1].odds = made[4].odds = -1.1
    assert flown(made).skipped == []


@pytest.mark.parametrize(
    ("odd", "like"),
    [({}, True),
     ({"size_g": 0.68}, True), ({"size_g": 0.7}, False), ({"size_g": 0.53}, True), ({"size_g": 0.52}, False),
     ({"peak_g": 1.91}, True), ({"peak_g": 1.93}, False), ({"peak_g": 1.7}, True), ({"peak_g": 1.69}, False),
     ({"push_end": 0.34}, True), ({"push_end": 0.35}, False), ({"push_end": 0.265}, True), ({"push_end": 0.255}, False),
     ({"time": 0.68, "push_end": 0.34}, True), ({"time": 0.7, "push_end": 0.35}, False),
     ({"time": 0.53, "push_end": 0.265}, True), ({"time": 0.51, "push_end": 0.255}, False), ({"whole": False}, False)],
)  # fmt: skip
def test_what_is_like_the_pumps_after_it_is_one(odd: dict[str, float], like: bool) -> None:
    """In period, size, push share and height, each to 15 % of their medians."""
    row = [swing(replace(cycle(0, 0.0), **odd)), *(swing(cycle(k, 0.6 * k)) for k in range(1, 6))]
    assert back_to_like(row, 1) == 1 - like


def test_like_pumps_are_found_one_after_the_other() -> None:
    """Until one is not; medians of the next five, three at least, so a pump that is odd itself does not matter."""
    row = [swing(cycle(k, 0.6 * k)) for k in range(9)]
    assert back_to_like(row, 6) == 0 and back_to_like(row, 7) == 7
    row[2].done = replace(row[2].done, size_g=0.9)
    assert back_to_like(row, 4) == 3
    row[5].done = row[6].done = None
    assert back_to_like(row, 4) == 3
    row[7].done = None
    assert back_to_like(row, 4) == 4
    row = [swing(replace(cycle(k, 0.6 * k), size_g=0.6 if k < 5 else 0.9)) for k in range(9)]
    assert back_to_like(row, 2) == 0 and back_to_like(row, 3) == 3


@pytest.mark.parametrize(("odds", "first"), [(-4.4, 0), (-4.6, 1)])
def test_what_is_surely_none_is_none_however_alike(odds: float, first: int) -> None:
    row = [swing(cycle(k, 0.6 * k), 4.0 if k else odds) for k in range(6)]
    assert back_to_like(row, 1) == first
