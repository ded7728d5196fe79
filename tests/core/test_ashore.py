"""Fixes that say that nobody flies: each rule just below and just above its bound, alone and in a flight finder."""

from __future__ import annotations

from itertools import pairwise

import pytest

from cadence_coach.core.ashore import AFTER, FRESH, FROZEN, HOLE, LAG, PATIENCE, SLOW, STUBBORN, Ashore
from cadence_coach.core.events import FlightEnded, FlightStarted, SpeedFix

from .by_hand import PERIOD, Bounces

BEGAN = 20.0


def told(*fixes: tuple[float, float]) -> Ashore:
    ashore = Ashore()
    for time, speed in fixes:
        ashore.fix(BEGAN + time, speed)
    return ashore


def test_without_fixes_nothing_is_said() -> None:
    assert not told().unclear(BEGAN, BEGAN + 1.0) and not told().stands(BEGAN, BEGAN + 9.0)


@pytest.mark.parametrize(
    ("fixes", "stands"),
    [
        (((LAG + 0.1, 0.2), (LAG + 1.1, 0.3)), True),
        (((LAG - 0.1, 0.2), (LAG + 1.1, 0.3)), False),
        (((LAG + 0.1, 0.2), (LAG + 1.1, SLOW - 0.01)), True),
        (((LAG + 0.1, 0.2), (LAG + 1.1, SLOW + 0.01)), False),
        (((LAG + 0.1, SLOW + 0.01), (LAG + 1.1, 0.0)), False),
        (((LAG + 0.1, 0.2), (9.1, 0.2)), False),
        (((1.0, 5.0), (LAG + 0.1, 0.2), (LAG + 1.1, 0.3)), True),
        (((LAG + 0.1, 0.2), (9.0, 0.2)), True),
        (((LAG + 0.1, 1.45), (LAG + 1.1, 1.45)), True),
        (((LAG + 0.1, 1.55), (LAG + 1.1, 1.55)), False),
    ],
)
def test_two_slow_fixes_that_belong_to_the_run_say_so(fixes: tuple[tuple[float, float], ...], stands: bool) -> None:
    assert told(*fixes).stands(BEGAN, BEGAN + 9.0) == stands


WALKED = [(float(t), 0.6 + 0.1 * (t % 2)) for t in range(65)]
"""Somebody climbs stairs for a minute: slow, and never quite the same."""
STOPPED = [(float(t), 0.6) for t in range(65)]
"""A receiver that has stopped."""


@pytest.mark.parametrize(
    ("fixes", "long", "stands"),
    [
        (WALKED, STUBBORN - 0.1, True), (WALKED, STUBBORN, False), (WALKED, FROZEN + 1.0, True),
        (STOPPED, FROZEN - 0.1, True), (STOPPED, FROZEN, False),
    ],
)  # fmt: skip
def test_who_goes_on_is_believed(fixes: list[tuple[float, float]], long: float, stands: bool) -> None:
    assert told(*fixes).stands(BEGAN, BEGAN + long) == stands


@pytest.mark.parametrize(
    ("fix", "now", "unclear"),
    [
        ((-1.0, 0.0), 1.5, True),
        ((-1.0, SLOW), 1.5, False),
        ((1.5 - FRESH, 0.0), 1.5, True),
        ((1.4 - FRESH, 0.0), 1.5, False),
        ((2.0, 0.0), PATIENCE - 0.1, True),
        ((2.0, 0.0), PATIENCE, False),
        ((5.0, 0.0), 6.0, False),
    ],
)
def test_a_slow_fix_at_the_start_is_worth_waiting_for(fix: tuple[float, float], now: float, unclear: bool) -> None:
    assert told(fix).unclear(BEGAN, BEGAN + now) == unclear


@pytest.mark.parametrize(
    ("fixes", "stood"),
    [
        ({t + 0.5: 0.2 for t in range(5)}, True),
        ({t + 0.5: 0.2 if t else SLOW + 0.01 for t in range(5)}, False),
        ({t + 0.5: 0.2 if t < 3 else SLOW + 0.01 for t in range(5)}, False),
        ({-0.1: 9.0, **{t + 0.5: 0.2 for t in range(4)}, 3.1 + AFTER: 9.0}, True),
        ({HOLE - 0.01: 0.2, 2.5: 0.2, 3.9: 0.2}, True),
        ({HOLE + 0.01: 0.2, 2.5: 0.2, 3.9: 0.2}, False),
        ({0.5: 0.2, 1.5: 0.2, 3.5: 0.2}, False),
        ({1.0: 0.2, 3.0 + AFTER - HOLE + 0.01: 0.2}, True),
        ({1.0: 0.2, 3.0 + AFTER - HOLE - 0.01: 0.2}, False),
        ({}, False),
    ],
)
def test_of_a_run_that_is_over_all_fixes_must_be_there_and_slow(fixes: dict[float, float], stood: bool) -> None:
    """A run of 3 s: fixes from its beginning to AFTER its end, none further apart than HOLE."""
    assert told(*fixes.items()).stood(BEGAN, BEGAN + 3.0) == stood


@pytest.mark.parametrize(
    ("fixes", "long", "stood"),
    [
        (WALKED, LAG - 0.01, False), (WALKED, LAG + 0.01, True), (WALKED, STUBBORN - 0.1, True),
        (WALKED, STUBBORN, False), (STOPPED, FROZEN - 0.1, True), (STOPPED, FROZEN, False),
    ],
)  # fmt: skip
def test_what_is_too_short_is_not_judged_and_who_went_on_is_believed(
    fixes: list[tuple[float, float]], long: float, stood: bool
) -> None:
    assert told(*fixes).stood(BEGAN, BEGAN + long) == stood


def flown(speeds: dict[float, float], bounces: int) -> Bounces:
    """Sure pumps from 20 s on, one each PERIOD, with fixes of these speeds [m/s] so long after the first."""
    hand = Bounces()
    due = sorted(speeds.items())
    for _ in range(bounces):
        while due and BEGAN + due[0][0] <= hand.t:
            time, speed = due.pop(0)
            hand.finder.receive(SpeedFix(BEGAN + time, BEGAN + time, speed, None, None, None, None))
        hand.bounce(9.0)
    return hand


def test_hopping_on_the_spot_is_no_flight() -> None:
    hand = flown({float(t): 0.2 for t in range(-2, 12)}, 16)
    assert not hand.flies
    hand.wait(3.2)
    assert hand.finder.out == []


def test_a_start_from_rest_is_told_once_the_speed_has_come_and_claimed_back() -> None:
    """Fixes of a phone that is 2.2 s late: at rest for as long, then 4 m/s."""
    speeds = {float(t): 0.0 if t < 2.2 else 4.0 for t in range(-2, 12)}
    told_after = [n for n, (a, b) in enumerate(pairwise(flown(speeds, n).flies for n in range(1, 12)), 2) if b > a]
    assert told_after == [round(3.0 / PERIOD) + 1]
    (began,) = flown(speeds, 11).of(FlightStarted)
    assert began.time == BEGAN and began.first_cycle == 0


def over(speeds: dict[float, float], bounces: int) -> list[FlightEnded]:
    """The same, and then nothing more but the fixes that come before the run is over."""
    hand = flown(speeds, bounces)
    last = hand.t - PERIOD
    for time, speed in sorted(speeds.items()):
        if last < BEGAN + time < last + 1.6:
            hand.finder.receive(SpeedFix(BEGAN + time, BEGAN + time, speed, None, None, None, None))
    return hand.wait(3.2).of(FlightEnded)


@pytest.mark.parametrize("bounces", [3, 4, 5, 6, 9])
@pytest.mark.parametrize("late", [0.4, 1.3, 2.2])
@pytest.mark.parametrize("first", [0.0, 0.3, 0.7])
def test_a_short_flight_shows_in_one_of_the_fixes(bounces: int, late: float, first: float) -> None:
    """At 4 m/s, then swimming, as a receiver has it that is so late [s]; its fixes come at any part of a second."""
    speeds = {t + first: 4.0 if 0.0 <= t + first - late < bounces * PERIOD else 0.3 for t in map(float, range(-2, 12))}
    (ended,) = over(speeds, bounces)
    assert ended.pumps == bounces


@pytest.mark.parametrize(("bounces", "flight"), [(5, True), (6, False), (9, False)])
def test_a_few_hops_on_the_spot_are_none(bounces: int, flight: bool) -> None:
    """Every 0.6 s; five are over too soon for the fixes to tell."""
    assert bool(over({float(t): 0.2 for t in range(-2, 12)}, bounces)) == flight


def test_slow_fixes_after_a_flight_has_begun_do_not_end_it() -> None:
    assert flown({t: 4.0 if t < 5.0 else 0.0 for t in map(float, range(30))}, 40).flies
