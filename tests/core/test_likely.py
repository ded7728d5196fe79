"""The judge of bounces: its figures by hand, its sum by numpy, its memory."""

from __future__ import annotations

import math
import statistics
from dataclasses import replace

import numpy as np
import pytest

from cadence_coach.core.gait import Gait, Look
from cadence_coach.core.likely import (
    BESIDE,
    HEIGHT,
    LARGE,
    LEGS_UNKNOWN,
    LONG,
    SHARE,
    SIZE,
    SMALL,
    UNKNOWN,
    WIDTH,
    Judged,
    Likely,
    Ready,
    figures,
    median,
)
from cadence_coach.core.likely_fit import AT_ONCE, IN_HINDSIGHT, Net
from cadence_coach.core.shape import Shape, shape_of
from cadence_coach.core.units import STEP

SHAPE = Shape(mean=1.0, size=0.6, second=0.2, third=0.1, grain=0.05, flat=0.4, edge=0.3, light=0.0)
LOOK = Look(sway=0.1, apart=-1.0, tilt=0.0, legs=None)


def judged(
    k: int, shape: Shape = SHAPE, look: Look = LOOK, period: float = 0.63, whole: bool = True, peak_g: float = 1.95
) -> Judged:
    return Judged(k, 0.63 * k, 0.63 * k + period, whole, peak_g, 0.4, shape, look)


def test_figures_of_a_bounce_by_hand() -> None:
    """Logs of period by 0.63 s, size 0.6 g, push height over 0.95 g, push 0.4 x 0.63 s, sway by size."""
    own = judged(0).own
    assert own[LONG] == pytest.approx(0.0) and own[SIZE] == pytest.approx(math.log(0.6))
    assert own[HEIGHT] == pytest.approx(0.0) and own[SHARE] == 0.4
    assert own[WIDTH] == pytest.approx(math.log(0.252))
    assert own[9] == pytest.approx(math.log(0.1 / 0.6))


BOUNDS = {
    1: ("size", 1e-3, -1, math.log(1e-3)),
    2: ("grain", 1e-2, -1, math.log(1e-2)),
    4: ("second", 2.0, 1, 2.0),
    5: ("third", 2.0, 1, 2.0),
    8: ("edge", 0.05, -1, math.log(0.05)),
    10: ("light", 0.4, 1, 0.4),
}
"""Place among the figures -> of which figure of the shape, its bound, which side is beyond, what then stands there."""


@pytest.mark.parametrize("place", BOUNDS)
def test_figures_end_at_their_bounds(place: int) -> None:
    """Beyond it nothing changes, on this side of it something does."""
    name, bound, sense, value = BOUNDS[place]
    beyond, short = (judged(0, replace(SHAPE, **{name: bound * (1 + s * sense)})).own[place] for s in (0.5, -0.1))
    assert beyond == pytest.approx(value) and short != pytest.approx(value)


def test_mean_sway_height_and_width_end_at_theirs() -> None:
    assert (
        judged(0, replace(SHAPE, mean=0.8)).own[3] == pytest.approx(0.2) == judged(0, replace(SHAPE, mean=1.2)).own[3]
    )
    quiet = replace(LOOK, sway=0.001)
    assert judged(0, look=quiet).own[9] == pytest.approx(math.log(0.01 / 0.6))
    assert judged(0, replace(SHAPE, size=0.01)).own[9] == pytest.approx(math.log(0.1 / 0.05))
    assert judged(0, peak_g=0.9).own[HEIGHT] == pytest.approx(math.log(0.03))
    assert judged(0, period=0.04).own[WIDTH] == pytest.approx(math.log(0.02))
    assert [judged(0, look=replace(LOOK, tilt=t)).tilt for t in (1.4, 1.6)] == [1.4, 1.5]


def test_a_lone_bounce_is_its_own_neighbour() -> None:
    x = figures([judged(0)], 0)
    own = list(judged(0).own)
    assert x[: len(own)] == own and x[len(own) : len(own) + 4] == [LEGS_UNKNOWN, 0.0, 0.0, -1.0]
    side = x[len(own) + 4 :]
    assert side == [*own, *[0.0] * 8, *own, 0.0, *own, *[0.0] * 8, *own, -1.0]
    assert len(x) == len(IN_HINDSIGHT[1][0])


def test_without_hindsight_what_tells_of_those_after_is_left_away() -> None:
    row = [judged(k, replace(SHAPE, size=0.5 + 0.1 * k)) for k in range(3)]
    short = figures(row, 2, hindsight=False)
    assert short == figures(row, 2)[: len(short)] and len(short) == len(AT_ONCE[1][0])


def test_those_next_to_it_stand_for_themselves() -> None:
    """The bounce before with its tilt, the one after with how far apart; one that is not whole is none."""
    row = [judged(k, replace(SHAPE, size=0.5 + 0.1 * k), replace(LOOK, tilt=0.1 * k, apart=-k)) for k in range(5)]
    own = len(row[0].own)
    x = figures(row, 2)
    before, after = 2 * own + 12, 4 * own + 21
    assert x[before : before + own + 1] == [*row[1].own, 0.1] and x[after:] == [*row[3].own, -3]
    row[3].whole = False
    assert figures(row, 2)[after:] == [*row[2].own, -2]
    row[2].apart = None
    assert figures(row, 2)[-1] == 0.0


def test_medians_of_those_beside_it() -> None:
    """Three neighbours of 0.5, 0.6 and 0.9 g: the middle one counts, and one splash of 9 g instead changes nothing."""
    for biggest in (0.9, 9.0):
        row = [judged(k, replace(SHAPE, size=s)) for k, s in enumerate((0.5, biggest, 0.6))] + [judged(3)]
        x = figures(row, 3)
        before = x[len(row[3].own) + 4 :]
        assert before[SIZE] == pytest.approx(math.log(0.6))
        assert before[len(row[3].own) + 4] == 3 / BESIDE
    x = figures([judged(0), judged(1, period=0.9), judged(2)], 1)
    assert x[len(judged(0).own) + 4 + len(judged(0).own)] == pytest.approx(math.log(0.9 / 0.63)), "off in period"


def test_four_bounces_either_side_are_asked() -> None:
    """The fourth matters, the fifth does not."""
    plain = [judged(k, replace(SHAPE, size=0.5 + 0.01 * k)) for k in range(11)]

    def odd(k: int) -> bool:
        row = list(plain)
        row[k] = judged(k, replace(SHAPE, size=9.0 if k < 5 else 0.1))
        return figures(row, 5) != figures(plain, 5)

    assert [odd(k) for k in (0, 1, 9, 10)] == [False, True, True, False]


@pytest.mark.parametrize("count", [1, 2, 3, 4, 7, 8])
def test_the_median_is_statistics(count: int) -> None:
    values = np.random.default_rng(count).standard_normal(count).tolist()
    assert median(values) == statistics.median(values)


def test_of_two_neighbours_the_mean_counts() -> None:
    row = [judged(0, replace(SHAPE, flat=0.2)), judged(1, replace(SHAPE, flat=0.5)), judged(2)]
    own = len(row[0].own)
    assert figures(row, 2)[own + 4 + 7] == pytest.approx(0.35)


def test_what_is_not_whole_is_no_neighbour_after() -> None:
    row = [judged(0), judged(1, whole=False)]
    own = len(row[0].own)
    after = own + 4 + own + 8 + own + 1
    assert figures(row, 0)[after : after + own + 8] == [*row[0].own, *[0.0] * 8]
    assert figures(row, 1)[own + 2] == 1.0


def test_legs_are_the_mean_of_those_known() -> None:
    row = [judged(k, look=replace(LOOK, legs=leg)) for k, leg in enumerate((None, 1.0, 9.0))]
    own = len(row[0].own)
    assert figures(row, 2)[own : own + 2] == [4.0, 1.0], "(1 + 9) / 2, and no more than 4"
    assert figures(row[:2], 1)[own : own + 2] == [1.0, 1.0]
    slow = [judged(k, look=replace(LOOK, legs=leg)) for k, leg in enumerate((3.0, None, 1.0))]
    for at in range(3):
        assert figures(slow, at)[own : own + 2] == [2.0, 1.0], "of those before it, itself and those after it"


def test_apart_is_the_median_of_all_near() -> None:
    row = [judged(k, look=replace(LOOK, apart=a)) for k, a in enumerate((-1.0, -3.0, None, -2.5))]
    own = len(row[0].own)
    for at in range(4):
        assert figures(row, at)[own + 3] == -2.5


@pytest.mark.parametrize(("net", "told"), [(AT_ONCE, SMALL), (IN_HINDSIGHT, LARGE)])
def test_the_sum_is_numpys(net: Net, told: Ready) -> None:
    rng = np.random.default_rng(4)
    bias, weights, out = net
    for _ in range(20):
        x = rng.standard_normal(len(weights[0]))
        mine = out[0] + np.array(out[1:]) @ np.tanh(np.array(bias) + np.array(weights) @ x)
        assert told.odds(list(x)) == pytest.approx(float(mine), rel=1e-9)


# ---- what it remembers ----


def pumped(
    judge: Likely, count: int, period: float = 0.6, gap_before: int | None = None, splash: bool = False
) -> list[float]:
    """Even pumps of 1.6 Hz: a half-sine of 1 g for 0.4 of the period and a glide that gives it back; splash: the 0.5 s
    were told to be no bounce, and a number is left out for it."""
    points = round(period / STEP)
    push = round(0.4 * points)
    wave = np.concatenate([np.sin(np.pi * np.arange(push) / push), np.zeros(points - push)])
    glide = np.concatenate([np.zeros(push), np.sin(np.pi * np.arange(points - push) / (points - push))])
    values = list(map(float, 1.0 + wave - glide * wave.sum() / glide.sum()))
    told, t = [], 5.0
    for k in range(count):
        if k == gap_before:
            if splash:
                judge.passed(t, t + 0.5)
                judge.passed(t + 0.2, t + 0.3)  # not where the last one ended
            t += 0.5
        number = k + (splash and gap_before is not None and k >= gap_before)
        told.append(judge.add(number, t, t + period, True, 2.0, 0.4, shape_of(values), k * points, values))
        t += period
    return told


def test_even_pumps_are_pumps_and_are_judged_again_by_what_followed() -> None:
    judge = Likely(Gait())
    told = pumped(judge, 12)
    assert min(told[3:]) > 4.0
    again = judge.again(11 - BESIDE)
    assert again is not None and again > 4.0 and again != told[11 - BESIDE]
    assert told[11] == SMALL.odds(figures(list(judge._last), 2 * BESIDE, hindsight=False)), "the small one, at once"
    assert judge.again(11) == LARGE.odds(figures(list(judge._last), 2 * BESIDE)), "the large one, in hindsight"
    assert judge.again(11 - 2 * BESIDE - 1) is None and judge.again(12) is None, "no longer held, not yet there"


def test_across_a_hole_nothing_is_beside_anything() -> None:
    judge, other = Likely(Gait()), Likely(Gait())
    told, alone = pumped(judge, 8, gap_before=5), pumped(other, 1)
    assert told[5] == alone[0]
    assert judge.again(4) is None and judge.again(5) is not None


def test_a_splash_between_two_parts_nothing() -> None:
    """The one before goes on over it, also for the legs; the numbers have a hole there."""
    judge, whole = Likely(Gait()), Likely(Gait())
    assert pumped(judge, 8, gap_before=5, splash=True) == pumped(whole, 8)
    assert judge.again(5) is None
    assert [judge.again(k) for k in (4, 6, 8)] == [whole.again(k) for k in (4, 5, 7)]


def test_too_long_to_be_looked_at() -> None:
    judge = Likely(Gait())
    values = [1.0, 0.5] * 300
    assert judge.add(0, 0.0, 6.0, True, 2.0, 0.4, shape_of(values), 0, values) == UNKNOWN
    assert judge.again(0) is None
