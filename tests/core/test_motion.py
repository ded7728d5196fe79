"""Leaps, blows, calm and stillness from the magnitude alone, point by point; the last seconds in short."""

from __future__ import annotations

import math

import pytest

from cadence_coach.core.events import Calm, Event, Impact, Still, Stirred
from cadence_coach.core.motion import BLOCK, Motion


def shown(points: list[tuple[float, float]]) -> tuple[Motion, list[Event]]:
    """A motion that was shown these (time [s], magnitude [g]), each known 20 ms later."""
    out: list[Event] = []
    motion = Motion(out)
    for t, n in points:
        motion.extreme(t, n, t + 0.02)
    return motion, out


def even(since: float, seconds: float, n: float) -> list[tuple[float, float]]:
    return [(round(since + 0.01 * k, 4), n) for k in range(round(seconds / 0.01) + 1)]


def test_a_leap_is_a_tenth_of_a_second_without_weight() -> None:
    """Under 0.4 g: 0.10 s are a leap, 0.09 s a running step's float. It ends with its last weightless point."""
    motion, _ = shown([*even(5.0, 0.09, 0.39), (5.10, 1.0)])
    assert motion.leap_end == -math.inf and not motion.leaps and not motion.loose
    motion, _ = shown([*even(5.0, 0.11, 0.39)])
    assert motion.leap_end == pytest.approx(5.11) and not motion.leaps and motion.loose, "still in the air"
    motion, _ = shown([*even(5.0, 0.25, 0.39), (5.26, 0.4)])
    assert motion.leap_end == pytest.approx(5.25) and not motion.loose
    assert list(motion.leaps) == [(pytest.approx(5.25), pytest.approx(0.25))]
    assert motion.light == 26
    motion, _ = shown([*even(5.0, 0.05, 0.1), (5.06, 0.4), *even(5.07, 0.06, 0.1), (5.14, 1.0)])
    assert motion.leap_end == -math.inf, "two short floats are no long one"


def test_a_blow_is_told_once_with_its_highest_point_when_it_is_over() -> None:
    motion, out = shown([(1.0, 2.8), (1.01, 3.0), (1.02, 4.5), (1.03, 3.5)])
    assert out == [] and motion.loose and motion.blow == (1.02, 4.5)
    motion.extreme(1.04, 2.7, 1.06)
    assert out == [Impact(1.02, 1.06, 4.5, False)] and not motion.loose
    motion.extreme(1.20, 3.1, 1.22)
    motion.extreme(1.21, 1.0, 1.23)
    assert out[1:] == [Impact(1.20, 1.23, 3.1, False)], "a lower one later is one of its own"


def settled(envelopes: list[tuple[float, float]]) -> list[Event]:
    out: list[Event] = []
    motion = Motion(out)
    for t, envelope in envelopes:
        motion.settle(t, envelope, t + 0.02)
    return out


def test_three_seconds_of_calm_then_stirred_twenty_of_stillness() -> None:
    """Calm is up to 0.25 g about 1 g, still up to 0.04 g; each is told once."""
    calm = [(10.0, 0.25), (12.99, 0.25), (13.0, 0.25), (14.0, 0.2)]
    assert settled(calm) == [Calm(13.0, 13.02)]
    assert settled([*calm, (15.0, 0.26), (15.1, 0.3)]) == [Calm(13.0, 13.02), Stirred(15.0, 15.02)]
    assert settled([(10.0, 0.25), (12.0, 0.26), (12.1, 0.2), (15.0, 0.2)]) == [], "a start anew"
    assert settled([(0.0, 0.26), (0.1, 0.3)]) == [], "never calm, so nothing to stir"
    still = [(10.0, 0.04), (13.0, 0.04), (29.99, 0.04), (30.0, 0.04), (31.0, 0.01)]
    assert settled(still) == [Calm(13.0, 13.02), Still(30.0, 30.02)]
    assert settled([(10.0, 0.04), (13.0, 0.04), (20.0, 0.041), (20.1, 0.04), (40.0, 0.04)]) == [Calm(13.0, 13.02)]


def test_only_points_that_matter_need_be_shown() -> None:
    """`calmer`, `rougher` and `look_at` say which; between them nothing would have come of a point."""
    everything, few = [], []
    whole, sparing = Motion(everything), Motion(few)
    asked = 0
    for k in range(6000):
        t = round(0.01 * k, 4)
        envelope = 0.3 if t < 5 else 0.2 if t < 11 else 0.5 if t < 12 else 0.03 if t < 40 else 0.1 if t < 50 else 0.4
        whole.settle(t, envelope, t)
        if envelope <= sparing.calmer or envelope > sparing.rougher or t >= sparing.look_at:
            sparing.settle(t, envelope, t)
            asked += 1
    assert [type(e) for e in everything] == [Calm, Stirred, Calm, Still, Stirred] and few == everything
    assert asked < 1200


def blocks() -> Motion:
    """A second in blocks of 0.1 s that end at 0.1 to 1.0: RMS 0.1 g, but 0.5 g in the block to 0.6; tops 1.1 to 2.0."""
    motion = Motion([])
    for k in range(1, 11):
        rms = 0.5 if k == 6 else 0.1
        motion.block(0.1 * k, BLOCK * rms * rms, 1.0 + 0.1 * k)
    return motion


def test_the_last_seconds_in_short() -> None:
    motion = blocks()
    assert motion.roughness(0.0, 0.55) == pytest.approx(0.1)
    assert motion.roughness(0.05, 1.05) == pytest.approx(math.sqrt((9 * 0.01 + 0.25) / 10))
    assert math.isnan(motion.roughness(1.05, 2.0))
    assert motion.highest(0.0, 0.45) == (pytest.approx(0.4), pytest.approx(1.4))
    assert motion.highest(0.45, 9.0) == (pytest.approx(1.0), pytest.approx(2.0))
    assert math.isnan(motion.highest(2.0, 3.0)[0]) and motion.highest(2.0, 3.0)[1] == 0.0
    assert motion.first_rough(0.0, 0.4) == pytest.approx(0.5), "the begin of the block"
    assert motion.first_rough(0.0, 0.51) == math.inf
    assert motion.first_rough(0.55, 0.4) == math.inf, "that block began before"


def test_ten_seconds_are_kept() -> None:
    motion = Motion([])
    for k in range(1, 301):
        motion.block(0.1 * k, BLOCK * (0.2 if k <= 200 else 0.1) ** 2, 1.0)
    assert motion.roughness(0.0, 30.0) == pytest.approx(0.1)
    assert math.isnan(motion.roughness(0.0, 20.04))
