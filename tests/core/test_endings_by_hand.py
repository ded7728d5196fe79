"""How a flight ended and which tries failed, each rule just below and just above its bound: motion by hand."""

from __future__ import annotations

import math

import pytest

from cadence_coach.core.events import AttemptEnded, AttemptStarted, FlightEnded

from .by_hand import Bounces
from .test_flights_by_hand import flown

# ---- how it ended ----


def ended(prepare: object, hand: Bounces | None = None) -> FlightEnded:
    """No onset comes any more; prepare(hand, end) gives the motion about the end of the last pump's period."""
    hand = hand or flown()
    end = hand.t
    hand.chop(10.0, end - 0.25, 0.6)
    prepare(hand, end)  # type: ignore[operator]
    hand.wait(2.0)
    (found,) = hand.of(FlightEnded)
    assert found.time == pytest.approx(end)
    return found


@pytest.mark.parametrize(
    ("about", "after", "later", "how"),
    [(0.09, 0.09, 0.19, "coast_out"), (0.30, 0.11, 0.19, "touch_down"), (0.30, 0.09, 0.21, "touch_down"),
     (0.37, 0.5, 0.5, "touch_down"), (0.39, 0.5, 0.5, "unknown"), (0.47, 0.5, 0.5, "unknown"),
     (0.49, 0.5, 0.5, "fall")],
)  # fmt: skip
def test_what_the_motion_about_the_end_says(about: float, after: float, later: float, how: str) -> None:
    """Roughness from 0.2 s before the end of the last period to 0.3 s after it, then to 0.6 s and to 1.2 s [g]. Calm
    for 0.6 s (0.1 g), and then not much more than that (0.2 g): coasting. Else over 0.48 g a fall, under 0.38 g a
    touch-down."""

    def prepare(hand: Bounces, end: float) -> None:
        hand.chop(end - 0.25, end - 0.05, about).chop(end - 0.05, end + 0.25, about if after > 0.2 else after)
        hand.chop(end + 0.25, end + 0.55, after).chop(end + 0.55, end + 1.15, later)

    assert ended(prepare).ended_by == how


def test_how_long_it_coasted() -> None:
    """To the first rough moment (0.25 g) from 0.2 s on, or as long as is known."""

    def touched(hand: Bounces, end: float) -> None:
        hand.chop(end - 0.25, end + 1.05, 0.05).chop(end + 1.05, end + 1.15, 0.26).chop(end + 1.15, end + 1.3, 0.05)

    assert ended(touched).coast_s == pytest.approx(1.05, abs=1e-6)

    def late(hand: Bounces, end: float) -> None:
        hand.chop(end - 0.25, end + 1.25, 0.05).chop(end + 1.25, end + 1.35, 2.0)

    assert ended(late).coast_s == pytest.approx(1.25, abs=1e-6), "what comes later than 1.2 s is not asked"

    def calm(hand: Bounces, end: float) -> None:
        hand.chop(end - 0.25, end + 1.3, 0.05).chop(end + 1.2, end + 1.3, 0.24)

    assert ended(calm).coast_s == pytest.approx(1.01, abs=0.02), "known 1.6 s after the last onset"

    def down(hand: Bounces, end: float) -> None:
        hand.chop(end - 0.25, end + 0.45, 0.2).chop(end + 0.45, end + 1.2, 0.3)

    found = ended(down)
    assert found.ended_by == "touch_down" and found.coast_s == pytest.approx(0.45, abs=1e-6)


@pytest.mark.parametrize(("degrees", "how"), [(34.0, "unknown"), (36.0, "fall")])
def test_a_rider_who_lies_in_the_water_fell(degrees: float, how: str) -> None:
    """Between touch-down and fall (0.38 to 0.48 g) the lean decides: over 35 degrees from what it was in the flight,
    whatever the length of the vectors."""
    hand = Bounces()
    hand.finder.up = (0.0, 0.0, 9.8)
    hand.bounces(*(6.0,) * 8)

    def prepare(hand: Bounces, end: float) -> None:
        hand.finder.up = (0.0, 5.0 * math.sin(math.radians(degrees)), 5.0 * math.cos(math.radians(degrees)))
        hand.chop(end - 0.25, end + 1.2, 0.43)

    assert ended(prepare, hand).ended_by == how


def test_what_is_told_of_a_flight() -> None:
    """Its attempt as well, and numbers that count on."""
    hand = Bounces()
    for flight in range(2):
        hand.chop(hand.t - 3.0, hand.t + 0.6, 0.5, 2.9)
        hand.leap(hand.t - 1.0, 0.2)
        start = hand.t
        hand.bounces(*(6.0,) * 7)
        hand.finder.gap(hand.t + 0.2)
        hand.open = None
        flown_, tried = hand.of(FlightEnded)[-1], hand.of(AttemptEnded)[-1]
        assert (flown_.flight, flown_.start, flown_.pumps, flown_.started_by) == (flight, start, 7, "step")
        assert flown_.time == pytest.approx(start + 4.2) and flown_.cadence == pytest.approx(1 / 0.6)
        assert (flown_.ended_by, flown_.coast_s, flown_.skipped) == ("gap", 0.0, ())
        landed = hand.of(AttemptStarted)[-1]
        assert (tried.attempt, tried.flight, tried.pumps, tried.landing_g) == (flight, flight, 7, 2.9)
        assert tried.start == landed.time and tried.landing_to_push_s == pytest.approx(start - landed.time)
        assert start - 1.2 < landed.time < start - 0.5
        hand.t += 30.0


# ---- tries that fail ----


def failed(leap: float = 0.3, steps: int = 2, top: float = 2.5, pumps: tuple[float, ...] = (), **how: float) -> list:
    """A leap at 19 s, the landing at 19.1 s, then bounces from 20 s on, and nothing more."""
    hand = Bounces().chop(10.0, 19.1, 0.5, 1.3).chop(19.1, 19.2, 0.5, top).chop(19.2, 20.0, 0.5, 1.3)
    hand.steps(*(18.7 - 0.35 * k for k in reversed(range(steps)))).leap(19.0, leap)
    for t in how.get("late", ()):  # type: ignore[attr-defined]
        hand.steps(t)
    if how.get("wait"):
        hand.t += how["wait"]
    hand.bounces(*pumps or (-1.0,))
    hand.chop(20.0, hand.t + 2.0, how.get("rough", 0.3), 1.3)
    hand.wait(2.0)
    return [e for e in hand.finder.out if isinstance(e, AttemptStarted | AttemptEnded)]


@pytest.mark.parametrize(
    ("how", "told"),
    [({}, True), ({"leap": 0.18}, False), ({"leap": 0.19}, True), ({"leap": 0.6}, True), ({"leap": 0.61}, False),
     ({"steps": 1}, False), ({"top": 2.19}, False), ({"top": 2.2}, True), ({"wait": 4.9}, True), ({"wait": 5.1}, False),
     ({"late": (19.4,)}, True), ({"late": (19.6,)}, False)],
    ids=str,
)  # fmt: skip
def test_a_leap_onto_the_board_that_became_no_flight(how: dict, told: bool) -> None:
    """Two steps, a free fall of 0.19 to 0.6 s at most 6 s before the last bounce, a landing of 2.2 g, no steps after
    it."""
    found = failed(**how)
    assert bool(found) == told
    if told:
        begun, over = found
        assert (begun.started_by, begun.landing_g) == ("run_up", how.get("top", 2.5))
        assert (over.pumps, over.flight, over.landing_to_push_s, over.attempt) == (0, None, None, 0)
        assert begun.time == over.start == pytest.approx(19.0), "the first touch"
        assert over.time == pytest.approx(19.2), "where it hit hardest"


@pytest.mark.parametrize(("first", "last", "told"), [(-0.05, 0.05, True), (-0.25, -0.15, False), (0.25, 0.35, True),
                                                     (0.45, 0.55, False)])  # fmt: skip
def test_the_landing_is_looked_for_about_the_end_of_the_leap(first: float, last: float, told: bool) -> None:
    """From 0.1 s before it to 0.4 s after."""
    hand = Bounces().chop(10.0, 19.0 + first, 0.5, 1.3).chop(19.0 + first, 19.0 + last, 0.5, 2.5)
    hand.chop(19.0 + last, 22.0, 0.3, 1.3).steps(18.35, 18.7).leap(19.0, 0.3).bounce(-1.0).wait(2.0)
    assert bool(hand.finder.out) == told


@pytest.mark.parametrize(("steps", "told"), [((17.05, 17.4), True), ((16.95, 17.3), False), ((18.7, 19.05), True),
                                             ((18.8, 19.15), False)])  # fmt: skip
def test_a_run_up_is_two_steps_within_two_seconds_before_the_leap(steps: tuple[float, float], told: bool) -> None:
    hand = Bounces().chop(10.0, 19.1, 0.5, 1.3).chop(19.1, 19.2, 0.5, 2.5).chop(19.2, 22.0, 0.3, 1.3)
    hand.steps(*steps).leap(19.0, 0.3).bounce(-1.0).wait(2.0)
    assert bool(hand.finder.out) == told


def test_pumps_of_a_failed_try_and_its_fall() -> None:
    """Those that look like pumps; it ends a period after the last. Rough then (0.48 g): a fall."""
    for odds, pumps in (((1.0, -1.0), 1), ((1.0, 1.0), 2), ((-1.0, 1.0), 1), ((-1.0, -1.0), 0)):
        over = failed(pumps=(*odds, 0.0))[1]
        assert over.pumps == pumps
        if pumps == 2:
            assert over.time == pytest.approx(21.2) and over.landing_to_push_s == pytest.approx(1.0)
    assert failed(pumps=(1.0, 1.0, 0.0), rough=0.47)[1].ended_by == "unknown"
    assert failed(pumps=(1.0, 1.0, 0.0), rough=0.49)[1].ended_by == "fall"
