"""Which bounces make an attempt or a flight, each rule just below and just above its bound: bounces by hand."""

from __future__ import annotations

import dataclasses

import pytest

from cadence_coach.core.events import AttemptStarted, FlightEnded, FlightStarted

from .by_hand import PERIOD, Bounces

# ---- evidence ----


@pytest.mark.parametrize(
    ("odds", "flies"),
    [((3.1,) * 3, True), ((2.9,) * 3, False), ((2.9,) * 4, True), ((9.0, 2.4, 2.4), False), ((9.0, 2.6, 2.6), True),
     ((9.0, 9.0), False), ((9.0, 9.0, -1.0, 1.1, 1.1), True), ((9.0, -9.0, 9.0, 9.0), False),
     ((9.0, -3.1, 9.0, 9.0), False), ((9.0, -2.9, 9.0, 9.0), True)],
)  # fmt: skip
def test_evidence_makes_a_flight(odds: tuple[float, ...], flies: bool) -> None:
    """Over 9 log-odds of three cycles or more, none of them for more than 4, nor against by more than 5."""
    hand = Bounces().bounces(*odds, 0.0)
    assert hand.flies == flies
    if flies:
        (began,), (tried,) = hand.of(FlightStarted), hand.of(AttemptStarted)
        assert (began.time, began.first_cycle, began.flight, began.attempt) == (20.0, 0, 0, 0)
        assert (tried.time, tried.attempt, tried.started_by, tried.landing_g) == (20.0, 0, "unknown", None)


@pytest.mark.parametrize(("long", "kept"), [(0.179, False), (0.181, True)])
def test_a_bounce_shorter_than_any_was_a_splash(long: float, kept: bool) -> None:
    """Its push is the next one: it counts neither for a flight nor among its pumps. None is told that it is over."""
    hand = Bounces().bounces(*(4.0,) * 2)

    def splash() -> None:
        hand.onset()
        hand.t, hand.number = hand.t + long, hand.number + 1

    splash()
    assert not hand.bounces(4.0).flies
    hand.bounces(4.0)
    assert hand.flies and hand.of(FlightStarted)[0].first_cycle == 0
    splash()
    hand.bounces(*(4.0,) * 3, -9.0).wait(1.95)
    (ended,) = hand.of(FlightEnded)
    assert ended.skipped == (() if kept else (2, 5)) and ended.pumps == 7 + 2 * kept


@pytest.mark.parametrize(("before", "first"), [((-1.1,), 1), ((-0.9,), 0), ((2.0, -3.9), 0), ((2.0, -4.1), 2)])
def test_a_flight_begins_where_its_sum_is_highest(before: tuple[float, ...], first: int) -> None:
    """Each of them counts 1 more, once there is a flight; those before are no bounces like its pumps."""
    (began,) = Bounces().bounces(*before, size=0.5).bounces(*(6.0,) * 5).of(FlightStarted)
    assert began.first_cycle == first and began.time == pytest.approx(20.0 + 0.6 * first)


@pytest.mark.parametrize(
    ("odds", "flies"),
    [((2.1,) * 3, True), ((1.9,) * 3, False), ((4.0, 4.0), False), ((-2.0, 2.1, 2.1, 2.1), True),
     ((2.1, 2.1, 2.1, -5.0), True)],
)  # fmt: skip
def test_of_a_run_that_is_over_less_is_enough(odds: tuple[float, ...], flies: bool) -> None:
    """Over 6 log-odds of three."""
    hand = Bounces().bounces(*odds, -9.0)
    assert not hand.flies
    hand.wait(1.95)
    assert bool(hand.of(FlightEnded)) == flies


@pytest.mark.parametrize(
    ("odds", "first", "last"), [((-1.1, 2.1, 2.1, 2.1, -1.1), 1, 3), ((-0.9, *(2.1,) * 3, -0.9), 0, 4)]
)
def test_one_that_is_told_late_begins_and_ends_there_too(odds: tuple[float, ...], first: int, last: int) -> None:
    hand = Bounces().bounces(odds[0], size=0.5).bounces(*odds[1:], -9.0).wait(1.95)
    (began,), (ended,) = hand.of(FlightStarted), hand.of(FlightEnded)
    assert (began.first_cycle, ended.last_cycle) == (first, last)


@pytest.mark.parametrize("late", [False, True])
@pytest.mark.parametrize(("odds", "first"), [((-4.4,), 0), ((-4.6,), 1), ((-4.4, -4.4), 0), ((-4.4, -4.6), 2)])
def test_bounces_before_it_that_are_like_its_pumps_are_pumps(odds: tuple[float, ...], first: int, late: bool) -> None:
    hand = Bounces().bounces(*odds, *((2.1, 2.1, 2.1, -9.0) if late else (6.0,) * 5)).wait(1.95)
    (began,) = hand.of(FlightStarted)
    assert began.first_cycle == first


def test_two_onsets_are_no_flight() -> None:
    hand = Bounces().bounces(9.0, 9.0).wait(1.95)
    assert hand.finder.out == [] and not hand.finder._run


def test_cycles_are_judged_again_by_what_followed() -> None:
    """What seemed none was the first pump; what seemed a pump was the landing. Once it is sure, nothing is asked."""
    asked: list[int] = []

    def again(number: int) -> float | None:
        asked.append(number)
        return {0: -6.0, 1: 6.0}.get(number)

    hand = Bounces()
    hand.finder._again = again
    (began,) = hand.bounces(3.0, -3.0, 9.0, 4.0, 4.0, 0.0).of(FlightStarted)
    assert began.first_cycle == 1 and 2 not in asked and {0, 1, 3} <= set(asked)


@pytest.mark.parametrize(("later", "first"), [(0.5, 0), (-4.0, 1)])
@pytest.mark.parametrize("ends", [False, True])
def test_beside_a_flight_a_bounce_that_was_surely_none_is_judged_again(later: float, first: int, ends: bool) -> None:
    """Not unless there is a flight: it costs."""
    asked: list[int] = []

    def again(number: int) -> float | None:
        asked.append(number)
        return later if number == 0 else None

    hand = Bounces()
    hand.finder._again = again
    hand.bounce(-8.0, size=0.5).bounces(*(2.1,) * (3 if ends else 4))
    assert 0 not in asked
    hand.bounces(*((-9.0,) if ends else (6.0, 0.0))).wait(1.95)
    (began,) = hand.of(FlightStarted)
    assert began.first_cycle == first and 0 in asked


# ---- ends ----


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
     (1.0, 0.5, 1.49, (), "unknown"), (1.0, 0.19, 1.49, RUN, "unknown"), (1.0, 0.5, 0.9, (), "unknown"),
     (1.0, 0.12, 2.5, (), "unknown"), (1.0, 0.13, 2.5, (), "step"), (2.15, 0.19, 1.5, (), "step"),
     (2.25, 0.19, 1.5, (), "unknown"), (0.06, 0.19, 1.5, (), "step"), (0.04, 0.19, 1.5, (), "unknown"),
     (1.0, 0.19, 1.5, (14.9, *RUN[:1]), "step"), (1.0, 0.19, 1.5, (15.1, *RUN[:1]), "run_up")],
)  # fmt: skip
def test_leaps(before: float, long: float, top: float, steps: tuple[float, ...], by: str) -> None:
    """A free fall of 0.19 s at most 2.2 s before the first pump, with a landing of 1.5 g; a shorter one, of 0.13 s,
    with a hard landing (2.4 g; from 2.2 g on nobody knows); with two running steps in the last 5 s it is a run-up. The
    attempt begins with the first touch."""

    def prepare(hand: Bounces) -> None:
        off = 20.0 - before
        hand.steps(*steps).chop(10.0, off + 0.1, 0.5, 1.3 if before > 0.2 else top)
        hand.chop(off + 0.1, off + 0.2, 0.5, top)
        hand.chop(off + 0.2, 20.6, 0.5, 1.3)
        hand.leap(off, long)

    found = begun(prepare)
    assert found.started_by == by
    if by in ("run_up", "step"):
        assert found.landing_g == top
        assert found.time == pytest.approx(20.0 - before), "the first touch, not the hardest moment"
    else:
        assert found.time == (20.0 if found.landing_g is None else pytest.approx(20.0 - before))


def test_a_light_glide_before_the_first_pump_hides_no_leap() -> None:
    """A rider who is light for long and pushes next has not landed: the leap was before."""
    found = begun(lambda hand: hand.chop(10.0, 19.0, 0.5, 0.9).chop(19.0, 19.2, 0.5, 3.0).chop(19.2, 20.0, 0.5, 0.9)
                  .leap(19.0, 0.3).leap(19.85, 0.25))  # fmt: skip
    assert (found.started_by, found.landing_g, found.time) == ("step", 3.0, 19.0)


def test_of_a_leap_whose_landing_is_forgotten_none_is_claimed() -> None:
    """A flight that is told late: the last 10 s alone are kept."""
    found = begun(lambda hand: hand.leap(19.0, 0.3))
    assert (found.started_by, found.landing_g, found.time) == ("unknown", None, 20.0)


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


# ---- how long it waits ----


@pytest.mark.parametrize(("period", "wait"), [(0.6, 1.6), (0.8, 2.0)])
def test_a_flight_waits_for_an_onset(period: float, wait: float) -> None:
    """1.6 s, or 2.5 periods; without one, and without a word from the detector, 1.5 s more."""
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
    hand.open = None
    assert hand.wait(wait + 1.49).flies and not hand.wait(wait + 1.52).flies


def flown(pumps: int = 8) -> Bounces:
    """In flight; the last bounce is open."""
    hand = Bounces().bounces(*(6.0,) * pumps)
    assert hand.flies
    return hand


@pytest.mark.parametrize(
    ("odds", "peak", "count", "ends"),
    [(-1.1, 1.49, 3, True), (-0.9, 1.49, 3, False), (-9.0, 1.51, 3, False), (-1.1, 1.49, 1, False)],
)
def test_bounces_of_a_glide_are_no_pumping(odds: float, peak: float, count: int, ends: bool) -> None:
    """Below -1 with a push under half of the usual 1 g: the wait began before them. Three are 1.8 s."""
    hand = flown(12)
    for _ in range(count):
        hand.bounce(odds, peak=peak)
    hand.onset()
    assert hand.flies != ends


@pytest.mark.parametrize(
    ("tail", "cut"), [((-1.1,), 1), ((-0.9,), 0), ((-3.0, 0.9), 2), ((-3.0, 1.1), 0), ((2.0, -9.0), 1)]
)
def test_what_makes_the_sum_smaller_at_the_end_is_no_pump(tail: tuple[float, ...], cut: int) -> None:
    hand = flown(8).bounces(*tail)
    hand.onset()
    hand.finder._run.pop()
    hand.finder._flown.recent.pop()
    hand.finder.end(hand.t)
    (found,) = hand.of(FlightEnded)
    assert found.last_cycle == 7 + len(tail) - cut and found.ended_by == "end_of_data"
    assert found.skipped == ((8,) if tail == (-3.0, 1.1) else ())


@pytest.mark.parametrize(
    ("tail", "peak", "ends"),
    [((-9.0,) * 4, 1.8, True), ((-9.0,) * 3, 1.8, False), ((-4.6,) * 4, 1.8, False), ((-4.8,) * 4, 1.8, True),
     ((-9.0, -9.0, 2.0, -9.0, -9.0), 1.8, False), ((-9.0, -9.0, -2.0, -9.0, -9.0), 1.8, True)],
)  # fmt: skip
def test_who_walks_on_does_not_fly(tail: tuple[float, ...], peak: float, ends: bool) -> None:
    """Bounces too high for chop since the last pump: 15 log-odds against it, each at most by 5, and 1 less beside a
    flight. Told at once, and the run begins anew."""
    hand = flown(12).bounces(*tail, peak=peak)
    hand.onset()
    assert hand.flies != ends
    if ends:
        (found,) = hand.of(FlightEnded)
        assert (found.last_cycle, found.pumps) == (11, 12) and found.known == pytest.approx(hand.t + 0.06)
        hand.finder._run.pop()
        assert not hand.bounces(*(6.0,) * 2).flies and hand.bounces(*(6.0,) * 2).flies, "three whole ones are a flight"


@pytest.mark.parametrize(("count", "ends"), [(4, False), (5, True)])
def test_quick_steps_end_it_no_sooner_than_silence_would(count: int, ends: bool) -> None:
    """1.6 s after the last pump's onset, here 1.56 and 1.8 s, however much spoke against it before."""
    hand = flown(12).bounces(*(-9.0,) * count, peak=1.8, period=0.24)
    hand.onset()
    assert hand.flies != ends


@pytest.mark.parametrize(
    ("peak", "after", "pumps"),
    [(1.49, (1.0,) * 3, 11), (1.51, (1.0,) * 3, 8), (1.49, (2.1,), 9), (1.49, (1.9,), 8)],
)
def test_chop_in_a_glide_speaks_little_against_more_pumps(peak: float, after: tuple[float, ...], pumps: int) -> None:
    """Two bounces under half of the usual push: each by 1.5 at most, higher ones by what they are. Pumps after them
    count 1 more beside a flight."""
    hand = flown(8).bounces(-5.0, -5.0, peak=peak, period=0.3).bounces(*after)
    hand.onset()
    hand.finder._run.pop()
    hand.finder._flown.recent.pop()
    hand.finder.end(hand.t)
    assert hand.of(FlightEnded)[0].pumps == pumps
