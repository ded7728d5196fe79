"""Leaps, blows, calm and stillness from the magnitude alone, point by point; the last seconds in short."""

from __future__ import annotations

import math

import pytest

from cadence_coach.core.engine import Engine
from cadence_coach.core.events import ACCEL, Calm, Event, Impact, Still, Stirred
from cadence_coach.core.motion import Motion
from cadence_coach.core.units import G

from .plain import Magnitude


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


def test_what_lies_between_samples_is_neither_calm_nor_still() -> None:
    """A gap of the stream: both are counted anew. Told before, they are told; and that it stirs is told once."""
    out: list[Event] = []
    motion = Motion(out)
    for t in (10.0, 11.0):
        motion.settle(t, 0.04, t)
    motion.restart(30.0)
    assert motion.look_at == -math.inf, "the next point is shown"
    for t in (30.01, 33.0, 33.02, 50.0, 50.02):
        motion.settle(t, 0.04, t)
    assert out == [Calm(33.02, 33.02), Still(50.02, 50.02)]
    motion.restart(90.0)
    for t in (90.01, 94.0, 120.0):
        motion.settle(t, 0.04, t)
    assert len(out) == 2
    motion.settle(121.0, 0.3, 121.0)
    assert out[2:] == [Stirred(121.0, 121.0)]


def test_a_gap_ends_a_free_fall_and_a_blow() -> None:
    """Where the fall would have ended nobody knows, so it is no leap. The blow came: it is told."""
    motion, out = shown(even(5.0, 0.3, 0.39))
    motion.restart(9.0)
    assert not motion.leaps and not motion.loose
    motion.extreme(9.01, 0.39, 9.02)
    motion.extreme(9.02, 1.0, 9.03)
    assert not motion.leaps and out == []
    motion.extreme(9.5, 4.0, 9.51)
    motion.extreme(9.51, 5.0, 9.52)
    motion.restart(20.0)
    assert out == [Impact(9.51, 20.0, 5.0, False)] and not motion.loose
    motion.extreme(20.01, 3.0, 20.02)
    motion.extreme(20.02, 1.0, 20.03)
    assert out[1:] == [Impact(20.01, 20.03, 3.0, False)]


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
        motion.block(0.1 * k, 10 * rms * rms, 1.0 + 0.1 * k)
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
    assert motion.first_rough(0.35, 0.4) == pytest.approx(0.5)
    assert motion.first_rough(0.55, 0.4) == math.inf, "that block began before"


def test_ten_seconds_are_kept() -> None:
    motion = Motion([])
    for k in range(1, 301):
        motion.block(0.1 * k, 10 * (0.2 if k <= 200 else 0.1) ** 2, 1.0)
    assert motion.roughness(0.0, 30.0) == pytest.approx(0.1)
    assert math.isnan(motion.roughness(0.0, 20.04))
    assert motion.roughness(20.05, 20.15) == pytest.approx(0.1), "the oldest"


def test_the_next_look_is_just_before_calm_or_stillness_is_due() -> None:
    """At most a grid step too soon, never too late; and where nothing is left to be told, never."""
    motion = Motion([])
    motion.settle(10.0, 0.2, 10.0)
    assert 12.99 <= motion.look_at < 13.0
    assert (motion.calmer, motion.rougher) == (0.04, 0.25)
    motion.settle(13.0, 0.2, 13.0)
    assert motion.look_at == math.inf, "calm is told"
    motion.settle(14.0, 0.03, 14.0)
    assert 33.99 <= motion.look_at < 34.0
    assert (motion.calmer, motion.rougher) == (-math.inf, 0.04)
    motion.settle(34.0, 0.03, 34.0)
    assert motion.look_at == math.inf, "so is stillness"
    motion.settle(35.0, 0.3, 35.0)
    assert (motion.calmer, motion.rougher, motion.look_at) == (0.25, math.inf, math.inf)


def test_a_dozen_leaps_are_remembered() -> None:
    motion = Motion([])
    for k in range(40):
        for t, n in [*even(float(k), 0.2, 0.0), (k + 0.21, 1.0)]:
            motion.extreme(t, n, t)
    assert [round(end, 2) for end, _ in motion.leaps] == [k + 0.2 for k in range(28, 40)]


# ---- the envelope and the blocks, as `front` feeds them ----


def fed(magnitudes: list[float]) -> tuple[Magnitude, list[Event]]:
    """Grid points of these magnitudes [g] from 0 s on."""
    out: list[Event] = []
    made = Magnitude(Motion(out))
    for k, n in enumerate(magnitudes):
        made.push(0.01 * k, n, 0.01 * k)
    return made, out


def test_calm_comes_three_seconds_after_the_envelope_has_died_away() -> None:
    """The envelope starts at 1 g and loses a hundredth a point: 0.99^n is under 0.25 from n = 138 on (ln 4 / -ln
    0.99 = 137.9), that is 1.37 s after the first point; 3 s later it is calm. Under 0.04 from n = 321 on."""
    _, out = fed([1.0] * 2400)
    assert [(type(e), pytest.approx(e.time)) for e in out] == [(Calm, 4.37), (Still, 23.20)]


def test_the_envelope_goes_half_way_up_with_each_point() -> None:
    """From 0 to half of 0.48 g, which is still calm, then to three quarters of it, which is not."""
    quiet = [1.0] * 1500
    rest = fed(quiet)[0].high
    one, out = fed([*quiet, 1.48])
    assert one.high == pytest.approx(0.24, abs=rest) and [type(e) for e in out] == [Calm]
    two, out = fed([*quiet, 1.48, 0.52])
    assert two.high == pytest.approx(0.36, abs=rest) and [type(e) for e in out] == [Calm, Stirred]


def test_a_block_is_ten_points() -> None:
    """A second of 1 g with 2 g from 0.10 to 0.19 s: one block of a second's ten has an RMS of 1 g, the others of 0."""
    made, _ = fed([2.0 if 10 <= k < 20 else 1.0 for k in range(100)])
    motion = made.motion
    assert motion.roughness(0.095, 0.195) == 1.0 and motion.roughness(0.195, 2.0) == 0.0
    assert motion.roughness(-1.0, 0.095) == 0.0 and motion.roughness(-1.0, 2.0) == pytest.approx(math.sqrt(0.1))
    assert motion.highest(-1.0, 2.0) == (pytest.approx(0.19), 2.0)
    assert motion.highest(0.195, 2.0)[1] == 1.0, "each block has a top of its own"


@pytest.mark.parametrize(
    ("top", "rows", "asked"),
    [(8.0, 2, True), (16.0, 3, True), (8.0, 1, False), (4.0, 4, False), (7.4, 3, False), (7.6, 2, True)],
)
def test_a_blow_at_the_end_of_the_sensors_range_is_known_by_an_axis_that_stands(
    top: float, rows: int, asked: bool
) -> None:
    """Still, then a blow upward in which the axis reads its highest value so many rows long, the others on their way:
    what a sensor does that cannot read more."""
    at = 2.0
    engine = Engine()
    for i in range(400):
        t = i * 0.01
        blow = at <= t < at + rows * 0.01 - 1e-9
        engine.receive([(ACCEL, t, 0.01 * (i % 7), 0.01 * (i % 5), G * (top if blow else 1.0 + 0.001 * (i % 3)))])
    (impact,) = [e for e in engine.events() if isinstance(e, Impact)]
    assert impact.clipped == asked and abs(impact.time - at) < 0.05
