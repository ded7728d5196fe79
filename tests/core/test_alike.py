"""Two legs told from one beat, and the odd ones at the ends of a flight: on bounces made by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from cadence_coach.core.alike import FIRST, LAST, Swing, after_odd, before_odd, likeness, whole
from cadence_coach.core.cycles import STEP
from cadence_coach.core.events import CycleDone, Onset
from cadence_coach.core.gait import CARRIED, Gait, carried

PERIOD = 0.6


def cycle(
    k: int, *, period: float = PERIOD, peak_g: float = 1.8, width: float = 0.5, at: float | None = None
) -> CycleDone:
    onset = PERIOD * k if at is None else at
    push_end = onset + width * period
    return CycleDone(
        onset + period,
        onset + period,
        k,
        onset,
        onset + 0.25 * period,
        push_end,
        onset + 0.75 * period,
        peak_g,
        0.4,
        0.6,
        0.2,
    )


# ---- two legs ----


def bounced(shapes: list[np.ndarray], period: float = PERIOD) -> list[float | None]:
    """What is said after each bounce; a shape is [points, 3], all three axes over one bounce."""
    gait, told = Gait(), []
    for k, shape in enumerate(shapes):
        for x, y, z in shape:
            i = gait.n % len(gait.x)
            gait.x[i], gait.y[i], gait.z[i] = x, y, z
            gait.n += 1
        done = cycle(k, period=period, at=period * k)
        told.append(gait.two_legged(done, (gait.n - 1) * STEP))
    return told


def some(seed: int, points: int = round(PERIOD / STEP)) -> np.ndarray:
    return np.random.default_rng(seed).standard_normal((points, 3)).cumsum(axis=0)


def test_left_and_right_in_turn_are_two_legs() -> None:
    """Each bounce equals the one before the last: the ratio of differences has no bound (here 1e9 of them)."""
    told = bounced([some(k % 2) for k in range(7)])
    assert told[:3] == [None, None, None], "four bounces are needed"
    assert all(x is not None and x > 10 for x in told[3:])


def test_all_of_a_bounce_is_compared() -> None:
    """Legs that differ in the last quarter of the bounce alone, and bounces of 0.8 s; those that are all the same show
    no leg."""
    base = some(5, 80)
    other = base.copy()
    other[60:] += 1.0
    assert all(x is not None and x > 10 for x in bounced([(base, other)[k % 2] for k in range(7)], 0.8)[3:])
    assert bounced([base] * 7, 0.8)[3:] == [0.0] * 4


def test_one_beat_is_no_two_legs() -> None:
    """Every bounce the same but for noise of its own: as unlike the last as the one before it, so log 1 = 0 about."""
    base, rng = some(1), np.random.default_rng(2)
    told = bounced([base + 0.3 * rng.standard_normal(base.shape) for _ in range(60)])
    numbers = [x for x in told if x is not None]
    assert len(numbers) == 57 and abs(float(np.mean(numbers))) < 0.1 and float(np.std(numbers)) < 0.6


def test_a_slow_change_is_less_than_one_leg() -> None:
    """Each bounce a step further from the first: two steps apart is twice as far, so log (1/4)."""
    a, b = some(3), some(4)
    told = bounced([a + k * b for k in range(6)])
    assert told[3:] == [pytest.approx(math.log(1 / 4))] * 3


def test_bounces_of_unlike_length_or_with_a_hole_between_are_not_compared() -> None:
    gait = Gait()
    gait.n = 10_000
    now = (gait.n - 1) * STEP
    lengths = [0.6, 0.6, 0.6, 0.6 * 1.36]
    onset = now - sum(lengths)
    told = []
    for k, length in enumerate(lengths):
        told.append(gait.two_legged(cycle(k, period=length, at=onset), now))
        onset += length
    assert told == [None] * 4, "one a third longer"
    gait.restart()
    gait.n = 10_000
    ats = [now - 3.0, now - 2.4, now - 1.7, now - 1.1]
    assert [gait.two_legged(cycle(k, at=at), now) for k, at in enumerate(ats)] == [None] * 4
    assert gait.two_legged(replace(cycle(4, at=now - 0.5), whole=False), now) is None


def test_a_beat_that_was_none_before_is_none_now() -> None:
    run = [10.0, 10.6, 11.2, 11.8]
    assert carried([], run) == 0.0
    assert carried([8.8, 9.4], run) == 2 * CARRIED
    assert carried([6.4, 7.0, 7.6, 8.2, 8.8, 9.4], run) == 4 * CARRIED, "four at most"
    assert carried([8.0, 9.4], run) == CARRIED, "a pause breaks it"
    assert carried([-0.6, 0.0], [0.6, 1.2, 1.8, 2.4]) == 2 * CARRIED, "also right at the start"
    assert carried([10.0 - 0.6 * 1.24], run) == CARRIED and carried([10.0 - 0.6 * 1.26], run) == 0.0
    assert carried([10.0 - 0.6 * 0.76], run) == CARRIED and carried([10.0 - 0.6 * 0.74], run) == 0.0


# ---- the odd ones ----


def swing(done: CycleDone) -> Swing:
    made = Swing(Onset(done.onset, done.onset, done.number), 0.0)
    made.push_end, made.done = done.push_end, done
    return made


def test_likeness_by_hand() -> None:
    """Constant, and a weight for each absolute log ratio; the same bounce: the constant. Twice the push height (over
    0.95 g) and half of it weigh the same."""
    fellows = [cycle(k) for k in range(3)]
    assert likeness(cycle(3), PERIOD, fellows, FIRST) == pytest.approx(FIRST[0])
    for factor in (2.0, 0.5):
        other = replace(cycle(3), peak_g=0.95 + factor * 0.85)
        assert likeness(other, PERIOD, fellows, LAST) == pytest.approx(LAST[0] + LAST[2] * math.log(2))
        assert likeness(cycle(3), factor * PERIOD, fellows, LAST) == pytest.approx(LAST[0] + LAST[1] * math.log(2))
    wide = replace(cycle(3), push_end=cycle(3).onset + PERIOD, peak=cycle(3).onset + 0.5 * PERIOD, odds=2.0)
    expected = FIRST[0] + (FIRST[3] + FIRST[4]) * math.log(2) + 2.0 * FIRST[5]
    assert likeness(wide, PERIOD, fellows, FIRST) == pytest.approx(expected)


# The first bounce beside three that are all alike: how far one measure may be off before it is none. The factors are
# regression values: what the fit of the odds comes to (log-odds 0, or -1 for one that is not the very first or last).
# What must hold whatever the fit: the first interval may be far longer than the last, a glide before the fall is cut
# short; pushes may be half as high and more.
BREAK_EVEN = {
    "first": {"period": 2.548, "height": 1.717, "width": 1.910},
    "second": {"period": 3.065, "height": 1.911, "width": 2.170},
    "last": {"period": 1.846, "height": 2.129, "width": 2.841},
    "last but one": {"period": 2.056, "height": 2.431, "width": 3.413},
}
PLACE = {"first": 0, "second": 1, "last": 7, "last but one": 6}


def off_by(k: int, measure: str, factor: float, odds: float = 0.0) -> CycleDone:
    """A bounce that differs in one measure from one of 0.6 s, 0.85 g over 0.95 g, 0.1 s above 1 g."""
    c = replace(cycle(k, width=1 / 6), odds=odds)
    if measure == "height":
        return replace(c, peak_g=0.95 + factor * 0.85)
    if measure == "width":
        return replace(c, push_end=c.onset + factor * 0.1)
    return replace(c, time=c.onset + factor * PERIOD)


def stays(place: str, measure: str, factor: float) -> bool:
    """Is all of a run kept with one such bounce in it? For the last two the interval is the one before it."""
    at = PLACE[place]
    run = [off_by(k, "height", 1.0) for k in range(8)]
    run[at] = off_by(at, measure, factor)
    if measure == "period" and at > 3:
        shift = (factor - 1.0) * PERIOD
        run = [replace(c, onset=c.onset + shift, peak=c.peak + shift, push_end=c.push_end + shift, time=c.time + shift)
               if c.number >= at else c for c in run]  # fmt: skip
    swings = [swing(c) for c in run]
    cut = before_odd(swings, 3) if at > 3 else after_odd(swings, 2)
    return len(cut) == 8


@pytest.mark.parametrize("place", BREAK_EVEN)
@pytest.mark.parametrize("measure", ["period", "height", "width"])
@pytest.mark.parametrize("sense", [1, -1], ids=["more", "less"])
def test_so_far_may_a_bounce_be_off_and_no_farther(place: str, measure: str, sense: int) -> None:
    """Twice as much and half as much are equally far."""
    bound = BREAK_EVEN[place][measure]
    assert stays(place, measure, (bound * 0.995) ** sense)
    assert not stays(place, measure, (bound * 1.005) ** sense)


@pytest.mark.parametrize(("weights", "slow_rise", "odds"), [(FIRST, 1.123, 0.53), (LAST, 1.525, 0.33)])
def test_a_slow_rise_and_a_strange_shape_speak_against_it(
    weights: tuple[float, ...], slow_rise: float, odds: float
) -> None:
    """What a rise of twice the time and one of log-odds by shape take or give (regression values)."""
    same, fellows = cycle(3), [cycle(k) for k in range(3)]
    late = replace(same, peak=same.onset + 0.5 * PERIOD)
    base = likeness(same, PERIOD, fellows, weights)
    assert base - likeness(late, PERIOD, fellows, weights) == pytest.approx(slow_rise, abs=1e-3)
    assert likeness(replace(same, odds=2.0), PERIOD, fellows, weights) - base == pytest.approx(2.0 * odds)


def test_what_is_too_small_to_be_measured_is_as_small_as_can_be() -> None:
    """Below 50 ms of period, 20 mg of height, 20 ms of width and rise there is no ratio to speak of: a tenth of it
    weighs the same, also where the neighbours have none."""
    fellows = [cycle(k) for k in range(3)]

    def of(period: float, height: float, width: float, rise: float, beside: list[CycleDone]) -> float:
        c = cycle(3)
        c = replace(c, peak_g=0.95 + height, push_end=c.onset + width, peak=c.onset + rise)
        return likeness(c, period, beside, FIRST)

    least = (0.05, 0.02, 0.02, 0.02)
    usual = (PERIOD, 0.85, 0.3, 0.15)
    for k in range(4):
        value = [*usual]
        value[k] = least[k]
        at = of(*value, fellows)  # type: ignore[arg-type]
        value[k] = 0.1 * least[k]
        assert of(*value, fellows) == pytest.approx(at, abs=1e-9)  # type: ignore[arg-type]
        value[k] = 1.1 * least[k]
        assert of(*value, fellows) > at + 0.1  # type: ignore[arg-type]
    none = [replace(c, peak_g=0.5, push_end=c.onset, peak=c.onset, time=c.onset) for c in fellows]
    assert of(*least, none) == pytest.approx(FIRST[0]), "as small as its neighbours"


def unlike(k: int) -> Swing:
    """A landing: three times the height, a quarter of the width."""
    return swing(cycle(k, peak_g=3.5, width=0.12))


def test_what_is_unlike_at_the_begin_is_cut_and_what_is_alike_stays() -> None:
    run = [swing(cycle(k)) for k in range(8)]
    assert after_odd(run, 2) == run
    assert after_odd([unlike(0), *run[1:]], 2) == run[1:]
    assert after_odd([run[0], unlike(1), *run[2:]], 2) == run[2:], "and what lies before it"
    assert after_odd([*run[:3], unlike(3), *run[4:]], 2) == run[4:], "the fourth is the last that is looked at"
    late = [*run[:4], unlike(4), *run[5:]]
    assert after_odd(late, 2) == late
    few = [unlike(0), *run[1:3]]
    assert after_odd(few, 3) == few, "too few fellows to judge by"
    assert after_odd(few, 2) == run[1:3]


def test_what_is_unlike_at_the_end_is_cut_and_all_that_follows_it() -> None:
    run = [swing(cycle(k)) for k in range(8)]
    assert before_odd(run, 3) == run
    assert before_odd([*run[:7], unlike(7)], 3) == run[:7]
    assert before_odd([*run[:6], unlike(6), run[7]], 3) == run[:6]
    assert before_odd([*run[:5], unlike(5), *run[6:]], 3) == run[:5], "the third from behind is the first looked at"
    early = [*run[:4], unlike(4), *run[5:]]
    assert before_odd(early, 3) == early
    assert before_odd([run[0], run[1], unlike(2)], 0) == run[:2], "two before it are enough to judge by"
    assert len(before_odd([run[0], unlike(1)], 0)) == 2, "one is not"
    open_ = Swing(Onset(4.8, 4.8, 8), 0.0)
    assert before_odd([*run, open_], 3) == run, "a push that never ended is none"


def test_a_bounce_that_is_not_whole_is_not_judged_at_the_begin() -> None:
    """Nor is any after it; one that never was closed likewise."""
    run = [swing(cycle(k)) for k in range(8)]
    open_ = Swing(Onset(0.6, 0.6, 1), 0.0)
    broken = unlike(1)
    broken.done = replace(cycle(1, peak_g=3.5, width=0.12), whole=False)
    for first in (open_, broken):
        stopped = [run[0], first, unlike(2), *run[3:]]
        assert after_odd(stopped, 2) == stopped


def test_whole_ones() -> None:
    run = [swing(cycle(0)), Swing(Onset(0.6, 0.6, 1), 0.0), swing(replace(cycle(2), whole=False)), swing(cycle(3))]
    assert [c.number for c in whole(run)] == [0, 3]
