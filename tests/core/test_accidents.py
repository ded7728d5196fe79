"""Blows: which are asked about, what takes the question back, what is silent meanwhile. Bounds are design rules and our
own values."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cadence_coach.core.coach import HUSHED, PAUSED, READY, Coach
from cadence_coach.core.events import (
    AttemptEnded,
    AttemptStarted,
    Click,
    Cue,
    CycleDone,
    Event,
    FlightEnded,
    Gap,
    Impact,
    Slaps,
    Still,
)
from cadence_coach.core.rules import NO_PUMP
from cadence_coach.core.settings import Settings
from tests.core.riders import Flight, Outing, cues, run, table

FLIGHT = Outing(7).fly(Flight(35)).wait(60.0)
ONSETS, END = FLIGHT.onsets, FLIGHT.ends[0]


def asked(events: list[Event], settings: Settings | None = None) -> list[float]:
    made = run(sorted(events, key=lambda e: e.known), settings, table())
    return [round(e.time, 6) for e in cues(made, ("all_right",))]


def blow(at: float, peak: float = 16.0, clipped: bool = True) -> Impact:
    return Impact(at, at + 0.05, peak, clipped)


def failed(start: float, end: float, known: float) -> list[Event]:
    """A start that was no flight, told when it is over."""
    return [
        AttemptStarted(start, known, 0, "run_up", 3.0),
        AttemptEnded(end, known, 0, start, 1, "run_up", 3.0, 0.6, "fall", None),
    ]


@pytest.mark.parametrize("known", [11.5, 14.0, 25.0])
def test_a_start_that_failed_hard_is_asked_about_however_late_it_is_told(known: float) -> None:
    assert asked([blow(11.0), *failed(10.0, 11.0, known)]) == [17.0]
    assert asked([blow(11.0)]) == [17.0], "and if it is never told"
    assert asked([blow(9.0), *failed(10.0, 11.0, known)]) == ([] if known < 15.0 else [15.0]), "a blow before the start"
    assert asked([blow(11.0, clipped=False), *failed(10.0, 11.0, known)]) == []


def test_blow_after_blow_is_asked_about_once_and_puts_nothing_off() -> None:
    assert asked([blow(11.0), blow(13.0), blow(16.0), blow(30.0)]) == [17.0]


@pytest.mark.parametrize("late", [0.1, 1.5, 4.0])
def test_a_blow_after_the_flight_was_told_over_is_asked_about(late: float) -> None:
    over = next(e.known for e in FLIGHT.events if isinstance(e, FlightEnded))
    (at,) = asked([*FLIGHT.events, blow(over + late)])
    assert over + late + 6.0 - 1e-6 <= at <= over + late + 9.0, "6 s later, and after the word that sounds"


def test_a_bounce_of_the_fall_takes_no_question_back() -> None:
    """Shaped like none (its log-odds), or like one, and then the flight is told to have ended by a fall."""
    hit = END - 0.2
    for odds in (NO_PUMP - 0.1, 2.0):
        last = max((e for e in FLIGHT.events if isinstance(e, CycleDone)), key=lambda e: e.number)
        bounce = replace(last, number=last.number + 1, onset=hit + 0.1, time=hit + 0.7, known=hit + 0.75, odds=odds,
                         whole=True)  # fmt: skip
        assert asked([*FLIGHT.events, blow(hit), bounce]) == [pytest.approx(END + 6.0)], odds


def test_a_flight_that_goes_on_takes_it_back_after_a_whole_pump() -> None:
    assert asked([*FLIGHT.events, blow(ONSETS[20] + 0.1)]) == []
    assert asked([*FLIGHT.events, blow(ONSETS[0] - 0.3)]) == [], "a hard landing that flies"


def test_slaps_at_the_range_are_no_accident() -> None:
    slaps = Slaps(11.0, 13.5)
    assert asked([blow(11.0), blow(11.6), blow(12.2), slaps]) == []
    assert asked([blow(11.0), blow(11.6), blow(12.2), slaps, blow(20.0)]) == [26.0]


def test_stillness_after_a_blow_is_asked_about_once() -> None:
    events = [*FLIGHT.events, blow(ONSETS[20] + 0.1)]
    assert asked([*events, Still(END + 10.0, END + 30.0)]) == [pytest.approx(END + 30.0)]
    assert asked([blow(10.0), Still(12.0, 32.0)]) == [16.0]


def test_a_flight_that_is_known_only_after_its_fall_takes_nothing_back() -> None:
    """Its pumps were before the blow; a landing is before them."""
    short = Outing(7).fly(Flight(3, ended_by="touch_down")).wait(60.0)
    late = [replace(e, known=short.ends[0] + 2.0) for e in short.events if e.known < short.ends[0] + 5.0]
    assert asked([*late, blow(short.ends[0])]) == [pytest.approx(short.ends[0] + 6.0, abs=1.5)]
    assert asked([*late, blow(short.onsets[0] - 0.2)]) == []


def test_paused_it_is_asked_and_stays_paused() -> None:
    coach = Coach(Settings(), table())
    coach.receive(Gap(1.0, 1.0, 1.1))
    coach.command("pause")
    coach.receive(blow(20.0))
    coach.advance(40.0)
    assert [e.time for e in coach.events() if isinstance(e, Cue) and e.kind == "all_right"] == [26.0]
    assert coach.state == PAUSED


def test_on_land_nobody_is_asked() -> None:
    assert asked([blow(20.0)], Settings(start="land")) == []


def test_hushed_until_a_start_that_began_since() -> None:
    coach = Coach(Settings(), table())
    coach.receive(blow(11.0))
    coach.advance(18.0)
    assert coach.state == HUSHED
    for e in failed(10.0, 11.0, 19.0):
        coach.receive(e)
    assert coach.state == HUSHED, "the one that was asked about"
    for e in failed(30.0, 31.0, 36.0):
        coach.receive(e)
    assert coach.state == READY


# ---- said and clicked meanwhile ----


def train(hit: Impact | None) -> list[Click]:
    events = [*FLIGHT.events, *([hit] if hit else [])]
    return [e for e in run(sorted(events, key=lambda e: e.known), band=table()) if isinstance(e, Click)]


def test_no_click_is_decided_after_a_hard_blow_until_a_pump_follows() -> None:
    plain = train(None)
    fall = train(blow(ONSETS[-1] + 0.1, 5.0, clipped=False))
    assert [c for c in plain if c.known > ONSETS[-1] + 0.15], "else this says nothing"
    assert not [c for c in fall if c.known > ONSETS[-1] + 0.15]
    mid = train(blow(ONSETS[20] + 0.1, 5.0, clipped=False))
    assert not [c for c in mid if ONSETS[20] + 0.15 < c.known < ONSETS[21]]
    assert len(plain) - 3 <= len(mid) < len(plain), "it goes on with the rider"
    assert len(train(blow(ONSETS[20] + 0.1, 2.6, clipped=False))) == len(plain), "no harder than a push may be"


@pytest.mark.parametrize("number", [0, 40])
@pytest.mark.parametrize(("odds", "heard"), [(NO_PUMP - 0.1, False), (NO_PUMP, True)])
def test_what_is_no_pump_reaches_no_goal(number: int, odds: float, heard: bool) -> None:
    """One of sixty whole ones, among those that the flight claims or later, for a goal of sixty."""
    events = [
        replace(e, odds=odds) if isinstance(e, CycleDone) and e.number == number else e
        for e in Outing(7).fly(Flight(61)).wait(60.0).events
    ]
    assert bool(cues(run(events, Settings(goal_pumps=60), table()), ("milestone",))) == heard


def test_gap_after_gap_does_not_put_off_what_keeps_from_harm() -> None:
    """Silence of 2 s after each: a time limit at 60 s waits 8 s at most; a milestone may wait for good."""
    gaps = [Gap(30.0 + 1.9 * k, 30.1 + 1.9 * k, 30.1 + 1.9 * k) for k in range(60)]
    out = run(gaps, Settings(time_limit_s=60.0), table())
    assert next(e.time for e in cues(out, ("time_limit",))) == pytest.approx(68.0)
