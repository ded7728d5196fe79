"""Two legs told from one beat, and the odd ones at the ends of a flight: on bounces made by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from cadence_coach.core.alike import CLOSING, FIRST, LAST, OPENING, Swing, after_odd, before_odd, likeness, whole
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


def unlike(k: int) -> Swing:
    """A landing: three times the height, a quarter of the width."""
    return swing(cycle(k, peak_g=3.5, width=0.12))


def test_what_is_unlike_at_the_begin_is_cut_and_what_is_alike_stays() -> None:
    run = [swing(cycle(k)) for k in range(8)]
    assert after_odd(run, 2) == run
    assert after_odd([unlike(0), *run[1:]], 2) == run[1:]
    assert after_odd([run[0], unlike(1), *run[2:]], 2) == run[2:], "and what lies before it"
    late = [*run[:OPENING], unlike(OPENING), *run[OPENING + 1 :]]
    assert after_odd(late, 2) == late, "only the first few are looked at"
    few = [unlike(0), *run[1:3]]
    assert after_odd(few, 3) == few, "too few fellows to judge by"
    assert after_odd(few, 2) == run[1:3]


def test_what_is_unlike_at_the_end_is_cut_and_all_that_follows_it() -> None:
    run = [swing(cycle(k)) for k in range(8)]
    assert before_odd(run, 3) == run
    assert before_odd([*run[:7], unlike(7)], 3) == run[:7]
    assert before_odd([*run[:6], unlike(6), run[7]], 3) == run[:6]
    early = [*run[:2], unlike(2), *run[3:]]
    assert before_odd(early, 3) == early and len(early) - CLOSING > 2, "only the last few are looked at"
    open_ = Swing(Onset(4.8, 4.8, 8), 0.0)
    assert before_odd([*run, open_], 3) == run, "a push that never ended is none"


def test_whole_ones() -> None:
    run = [swing(cycle(0)), Swing(Onset(0.6, 0.6, 1), 0.0), swing(replace(cycle(2), whole=False)), swing(cycle(3))]
    assert [c.number for c in whole(run)] == [0, 3]
