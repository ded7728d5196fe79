"""Which bounces make an attempt or a flight, each rule just below and just above its bound: bounces by hand."""

from __future__ import annotations

import dataclasses

import pytest

from cadence_coach.core.events import AttemptStarted, FlightEnded, FlightStarted

from .by_hand import PERIOD, Bounces

# ---- evidence ----


@pytest.mark.parametrize(
    ("odds", "flies"),
    [((2.0,) * 4, True), ((1.98,) * 4, False), ((1.98,) * 5, True), ((9.0, 0.5, 0.5, 0.5), False),
     ((9.0, 1.4, 1.4, 1.4), True), ((9.0, 9.0, 9.0), False)],
)  # fmt: skip
def test_evidence_makes_a_flight(odds: tuple[float, ...], flies: bool) -> None:
    """8 log-odds of four cycles or more, none of them for more than 4."""
    hand = Bounces().bounces(*odds, 0.0)
    assert hand.flies == flies
    if flies:
        (began,), (tried,) = hand.of(FlightStarted), hand.of(AttemptStarted)
        assert (began.time, began.first_cycle, began.flight, began.attempt) == (20.0, 0, 0, 0)
        assert (tried.time, tried.attempt, tried.started_by, tried.landing_g) == (20.0, 0, "unknown", None)


@pytest.mark.parametrize(("last", "flies"), [(4.0, True), (3.9, False)])
def test_against_it_no_cycle_counts_more_than_four(last: float, flies: bool) -> None:
    """4 + 4 - 4 + 4, though the third is at -4.9; on an even beat that does not break the run."""
    hand = Bounces()
    for one in (6.0, 6.0, -4.9, last, 0.0):
        hand.bounce(one, legs=1.0)
    assert hand.flies == flies


@pytest.mark.parametrize(("legs", "flies"), [(1.2, True), (1.35, True), (1.5, False)])
def test_two_legs_speak_against_it(legs: float, flies: bool) -> None:
    """Four cycles of 2.2: 8.8; two-legged by 1.35 takes 0.6 off, by 1.5 takes 1.5 off."""
    hand = Bounces()
    for one in (2.2,) * 4:
        hand.bounce(one, legs=legs)
    hand.onset()
    assert hand.flies == flies


def test_a_beat_that_was_none_before_speaks_against_it() -> None:
    """Bounces that broke the run, on the same beat: 1.5 off for each."""
    assert Bounces().bounces(*(2.0,) * 4, 0.0).flies
    assert not Bounces().bounces(-9.0, *(2.0,) * 4, 0.0).flies
    assert Bounces().bounces(-9.0, *(2.4,) * 4, 0.0).flies
    assert not Bounces().bounces(-9.0, -9.0, *(2.7,) * 4, 0.0).flies


@pytest.mark.parametrize(
    ("odds", "flies"),
    [((2.0,) * 3, True), ((1.0, 1.0), False), ((4.0, 4.0), True), ((3.9, 4.0), False), ((0.7,) * 3, True),
     ((0.6,) * 3, False)],
)  # fmt: skip
def test_of_a_run_that_is_over_less_is_enough(odds: tuple[float, ...], flies: bool) -> None:
    """2 log-odds of three whole cycles; 8 of two."""
    hand = Bounces().bounces(*odds, 0.0)
    assert not hand.flies
    hand.wait(1.95)
    assert bool(hand.of(FlightEnded)) == flies


@pytest.mark.parametrize("push", [True, False])
def test_the_third_push_must_have_ended(push: bool) -> None:
    hand = Bounces().bounces(4.0, 4.0).bounce(0.0, push=push).wait(1.95)
    assert bool(hand.of(FlightStarted)) == push


def test_two_onsets_are_no_flight() -> None:
    hand = Bounces().bounces(9.0, 9.0).wait(1.95)
    assert hand.finder.out == [] and not hand.finder._run


# ---- what breaks a run ----


@pytest.mark.parametrize(
    ("odds", "legs", "leap", "broken"),
    [(-1.99, None, None, False), (-2.01, None, None, True), (-4.99, 1.19, None, False), (-5.01, 1.19, None, True),
     (-2.01, 1.21, None, True), (-4.99, None, 7.9, False), (-2.01, None, 8.1, True), (-5.01, None, 7.9, True)],
)  # fmt: skip
def test_a_cycle_that_is_none_for_sure_begins_the_run_anew(
    odds: float, legs: float | None, leap: float | None, broken: bool
) -> None:
    """Below -2; on an even beat, or within 8 s of a leap, below -5. leap: so long before the cycle [s]."""
    hand = Bounces()
    hand.bounce(6.0)
    if leap is not None:
        hand.leap(hand.t - leap, 0.0)
    hand.bounce(odds, legs=legs).onset()
    assert (hand.finder._run[0].onset.number > 0) == broken


@pytest.mark.parametrize(
    ("before", "period", "broken"),
    [((0.1, 0.1), 0.6, False), ((6.0,), 0.6, True), ((-0.1, 0.1), 0.6, True), ((0.1, -0.1), 0.6, True),
     ((-0.1, 0.1, 0.1), 0.6, False), ((0.1, 0.1), 0.83, False), ((0.1, 0.1), 0.85, True)],
)  # fmt: skip
def test_one_splash_among_pumps_does_not(before: tuple[float, ...], period: float, broken: bool) -> None:
    """After two that look like pumps, unless it is longer by 1.4."""
    hand = Bounces().bounces(*before).bounce(-9.0, period=period)
    hand.onset()
    assert (hand.finder._run[0].onset.number > 0) == broken


@pytest.mark.parametrize(
    ("odds", "light", "count", "period", "broken"),
    [(0.9, 0.11, 1, 0.35, True), (1.1, 0.11, 1, 0.35, False), (0.9, 0.09, 1, 0.35, False), (9.0, 0.11, 2, 0.35, True),
     (9.0, 0.11, 2, 0.42, False), (9.0, 0.11, 1, 0.35, False)],
)  # fmt: skip
def test_the_take_off_of_a_leap_is_none(odds: float, light: float, count: int, period: float, broken: bool) -> None:
    """A cycle right after a running step with a free fall of over 0.1 s in it: below 1, or after two quick steps
    whatever it looks like."""
    hand = Bounces().steps(*(20.0 - period * k for k in reversed(range(count))), period=period)
    hand.bounce(odds, light=light)
    hand.onset()
    assert (not hand.finder._run or hand.finder._run[0].onset.number > 0) == broken


@pytest.mark.parametrize(("periods", "broken"), [((0.42, 0.35), True), ((0.35, 0.42), False)])
def test_of_running_steps_the_last_must_be_quick(periods: tuple[float, float], broken: bool) -> None:
    hand = Bounces().steps(20.0 - periods[1], period=periods[0]).steps(20.0, period=periods[1])
    hand.bounce(9.0, light=0.11)
    hand.onset()
    assert (not hand.finder._run or hand.finder._run[0].onset.number > 0) == broken


@pytest.mark.parametrize(("odds", "flies"), [(2.7, True), (2.6, False)])
def test_what_lies_before_a_cycle_that_is_none_may_be_a_flight(odds: float, flies: bool) -> None:
    """Three of them, 8 in all; else the run begins anew after it."""
    hand = Bounces().bounces(*(odds,) * 3).bounce(-9.0, period=0.9)
    hand.onset()
    assert hand.flies == flies
    assert flies or [b.onset.number for b in hand.finder._run] == [4]


def test_the_first_that_is_unlike_the_others_is_no_pump_of_it() -> None:
    """The landing: a push of twice the height. It is there before the first pump, on the beat."""
    hand = Bounces().bounce(6.0, peak=3.6).bounces(*(6.0,) * 6)
    (began,) = hand.of(FlightStarted)
    assert (began.first_cycle, began.time) == (1, 20.6)
    hand.finder.end(hand.t)
    (ended,) = hand.of(FlightEnded)
    assert (ended.pumps, ended.start) == (6, 20.6)


def test_a_last_cycle_that_no_onset_followed_ends_it() -> None:
    hand = Bounces().bounces(*(6.0,) * 6)
    assert hand.open is not None
    hand.finder.receive(dataclasses.replace(hand.open, whole=False, known=hand.t + 1.0))
    (ended,) = hand.of(FlightEnded)
    assert not hand.flies and ended.known == hand.t + 1.0 and ended.time == pytest.approx(hand.t)
    hand = Bounces().bounces(*(6.0,) * 6)
    hand.finder.receive(dataclasses.replace(hand.open, number=77))  # type: ignore[type-var]
    assert hand.flies, "of a cycle that it does not know nothing follows"


def test_a_flight_does_not_end_after_all_is_known() -> None:
    hand = Bounces().bounces(*(6.0,) * 6)
    hand.finder.end(hand.t - 0.5)
    assert hand.of(FlightEnded)[0].time == hand.t - 0.5


# ---- how it began ----


def begun(prepare: object) -> AttemptStarted:
    """Four sure pumps from 20 s on, after what `prepare` does."""
    hand = Bounces()
    prepare(hand)  # type: ignore[operator]
    hand.bounces(*(6.0,) * 4, 0.0)
    (found,) = hand.of(AttemptStarted)
    return found


RUN = (17.4, 17.75)
"""Two running steps."""


@pytest.mark.parametrize(
    ("before", "long", "top", "steps", "by"),
    [(1.0, 0.19, 1.5, RUN, "run_up"), (1.0, 0.19, 1.5, RUN[:1], "step"), (1.0, 0.19, 1.5, (), "step"),
     (1.0, 0.18, 2.5, RUN, "run_up"), (1.0, 0.18, 2.3, RUN, "unknown"), (1.0, 0.18, 2.1, (), "unknown"),
     (1.0, 0.12, 2.5, (), "unknown"), (1.0, 0.13, 2.5, (), "step"), (2.15, 0.19, 1.5, (), "step"),
     (2.25, 0.19, 1.5, (), "unknown"), (0.06, 0.19, 1.5, (), "step"), (0.04, 0.19, 1.5, (), "unknown"),
     (1.0, 0.19, 1.5, (14.9, *RUN[:1]), "step"), (1.0, 0.19, 1.5, (15.1, *RUN[:1]), "run_up")],
)  # fmt: skip
def test_leaps(before: float, long: float, top: float, steps: tuple[float, ...], by: str) -> None:
    """A free fall of 0.19 s at most 2.2 s before the first pump; a shorter one, of 0.13 s, with a hard landing (2.4 g;
    from 2.2 g on nobody knows); with two running steps in the last 5 s it is a run-up. The attempt begins with the
    landing."""

    def prepare(hand: Bounces) -> None:
        off = 20.0 - before
        hand.steps(*steps).chop(10.0, off + 0.1, 0.5, 1.3).chop(off + 0.1, off + 0.2, 0.5, top)
        hand.chop(off + 0.2, 20.6, 0.5, 1.3)
        hand.leap(off, long)

    found = begun(prepare)
    assert found.started_by == by
    if by in ("run_up", "step"):
        assert found.landing_g == (top if before > 0.2 else 1.3)
        assert before < 0.2 or found.time == pytest.approx(20.0 - before + 0.2, abs=0.06)


@pytest.mark.parametrize(
    ("period", "size", "by"),
    [(0.255, 0.5, "step"), (0.265, 0.5, "run_up"), (0.445, 0.5, "run_up"), (0.455, 0.5, "step"), (0.35, 0.31, "run_up"),
     (0.35, 0.29, "step")],
)  # fmt: skip
def test_which_bounces_are_running_steps(period: float, size: float, by: str) -> None:
    """Of 0.26 to 0.45 s, over 0.3 g in size."""

    def prepare(hand: Bounces) -> None:
        hand.steps(*RUN, period=period, size=size).chop(10.0, 20.6, 0.5, 1.5).leap(19.0, 0.2)

    assert begun(prepare).started_by == by


@pytest.mark.parametrize(
    ("calm", "before", "step", "by"),
    [(0.079, 0.159, None, "rope"), (0.081, 0.159, None, "unknown"), (0.079, 0.161, None, "unknown"),
     (0.121, 0.039, None, "step"), (0.119, 0.039, None, "unknown"), (0.121, 0.041, None, "unknown"),
     (0.399, 0.039, None, "step"), (0.401, 0.039, None, "unknown"), (0.3, 0.3, 18.1, "step"),
     (0.3, 0.3, 17.9, "unknown")],
)  # fmt: skip
def test_begun_without_a_leap(calm: float, before: float, step: float | None, by: str) -> None:
    """Roughness 2.2 to 1.2 s and 1.2 to 0.4 s before the first pump: a glide on a rope (0.16, 0.08 g), one shift of
    weight (0.04, then 0.12 to 0.4 g); or a step less than 2 s before it."""

    def prepare(hand: Bounces) -> None:
        hand.chop(16.95, 17.75, 3.0).chop(17.75, 18.75, before).chop(18.75, 19.55, calm).chop(19.55, 19.95, 3.0)
        if step is not None:
            hand.steps(step)

    found = begun(prepare)
    assert (found.started_by, found.landing_g, found.time) == (by, None, 20.0)


def test_after_a_run_up_five_are_there_already_and_weak_ones_count_little_against_it() -> None:
    """5 + 4 x 0.8; and 5 + 3 x 1.7 - 1.5."""

    def run_up(hand: Bounces) -> None:
        hand.steps(*RUN).chop(10.0, 20.6, 0.5, 1.5).leap(19.0, 0.2)

    for odds, flies in (
        ((0.8,) * 4, True),
        ((0.7,) * 4, False),
        ((1.7, -3.0, 1.7, 1.7), True),
        ((1.4, -3.0, 1.4, 1.4), False),
    ):
        hand = Bounces()
        run_up(hand)
        assert hand.bounces(*odds, 0.0).flies == flies


# ---- how long it waits ----


@pytest.mark.parametrize(("period", "wait"), [(0.6, 1.6), (0.8, 2.0)])
def test_a_flight_waits_for_an_onset(period: float, wait: float) -> None:
    """1.6 s, or 2.5 periods; without one, 0.3 s more."""
    for late, flies in ((0.99, True), (1.01, False)):
        hand = Bounces()
        for _ in range(6):
            hand.bounce(6.0, period=period)
        hand.t += wait * late - period
        hand.onset()
        assert hand.flies == flies
    hand = Bounces()
    for _ in range(6):
        hand.bounce(6.0, period=period)
    hand.t += PERIOD - period
    assert hand.wait(wait + 0.29).flies and not hand.wait(wait + 0.32).flies


def flown(pumps: int = 8) -> Bounces:
    """In flight; the last bounce is open."""
    hand = Bounces().bounces(*(6.0,) * pumps)
    assert hand.flies
    return hand


@pytest.mark.parametrize(
    ("peak", "size", "odds", "count", "ends"),
    [(2.6, 0.8, -2.1, 3, True), (2.6, 0.8, -2.1, 2, False), (2.6, 0.8, -1.9, 3, False), (2.40, 0.8, -2.1, 3, False),
     (2.45, 0.8, -2.1, 3, True), (1.70, 0.8, -2.1, 3, False), (1.68, 0.8, -2.1, 3, True), (2.0, 1.77, -2.1, 3, False),
     (2.0, 1.79, -2.1, 3, True), (2.0, 0.361, -2.1, 3, False), (2.0, 0.357, -2.1, 3, True)],
)  # fmt: skip
def test_three_strange_cycles_end_it(peak: float, size: float, odds: float, count: int, ends: bool) -> None:
    """Odds below -2 and a push height (over 0.95 g) off by e^0.35 or a size off by e^0.8: the rider walks or swims."""
    hand = flown(12)
    for _ in range(count):
        hand.bounce(odds, peak=peak, size=size)
    hand.onset()
    assert hand.flies != ends


@pytest.mark.parametrize(
    ("high", "at", "waited", "falls"),
    [
        (3.3, 0.4, 1.0, True),
        (3.1, 0.4, 1.0, False),
        (3.3, 0.2, 1.0, False),
        (3.3, 0.4, 0.88, False),
        (3.3, -0.1, 1.0, False),
    ],
)
def test_a_blow_after_the_last_push_with_the_rhythm_gone_is_a_fall(
    high: float, at: float, waited: float, falls: bool
) -> None:
    """Over 3.2 g, after the push end (0.24 s), with 1.5 periods (0.9 s) gone since the onset."""
    hand = flown()
    hand.motion.blow = (hand.t - PERIOD + at, high)
    hand.wait(waited)
    assert hand.flies != falls
    if falls:
        (end,) = hand.of(FlightEnded)
        assert end.ended_by == "fall" and end.known == pytest.approx(hand.t - PERIOD + 0.91, abs=0.011)
