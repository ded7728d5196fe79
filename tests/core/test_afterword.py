"""When the word that is owed may be said, and which one: on made flights, by the rules as they are written."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cadence_coach.core.afterword import Afterword
from cadence_coach.core.events import AttemptEnded, FlightEnded, Held, Summary
from cadence_coach.core.settings import Settings
from cadence_coach.core.tally import Tally
from cadence_coach.core.turns import Turns
from cadence_coach.core.units import INFINITY
from cadence_coach.core.word import speech_seconds

FLIGHT = FlightEnded(100.0, 102.5, 0, 80.0, 27, 28, 1.4, 0.45, 0.6, 0.04, "run_up", "fall", 0.0)
"""20 s long, known to be over 2.5 s after its end."""
ATTEMPT = AttemptEnded(104.0, 104.5, 0, 79.0, 28, "run_up", 2.0, 0.5, "fall", 0)


def owed(open_: bool = False, calm: bool = True, flight: FlightEnded = FLIGHT) -> tuple[Afterword, Turns]:
    turns = Turns()
    turns.now = flight.known
    after = Afterword(turns)
    after.calm = calm
    after.flight_over(flight, Tally(), 0.6, open_)
    return after, turns


def test_six_seconds_after_the_flight_or_after_the_attempt_that_coasted_on() -> None:
    after, turns = owed()
    assert turns.word_owed
    assert after.deadline == 106.0
    after.attempt_over(ATTEMPT)
    assert after.deadline == 110.0, "6 s after the attempt's end"
    after.attempt_over(replace(ATTEMPT, time=90.0))
    assert after.deadline == 106.0, "never before the flight's own end"


def test_an_attempt_that_is_still_open_is_waited_for_twenty_seconds() -> None:
    after, _ = owed(open_=True)
    assert after.deadline == 122.5
    after.attempt_over(ATTEMPT)
    assert after.deadline == 110.0


def test_what_sounds_and_what_is_silent_is_waited_for() -> None:
    after, turns = owed()
    turns.busy_until = 111.0
    assert after.deadline == 111.0
    turns.quiet_until = 112.0
    assert after.deadline == 112.0
    turns.now = 130.0
    assert after.deadline == 130.0


def test_never_calm_for_two_minutes_it_is_over() -> None:
    after, _ = owed(calm=False)
    assert after.deadline == 222.5
    assert Afterword(Turns()).deadline == INFINITY


def test_said_once_and_its_length_is_kept_free() -> None:
    after, turns = owed()
    turns.now = 106.0
    after.speak(Settings())
    (said,) = turns.out
    assert isinstance(said, Summary) and (said.time, said.known, said.flight) == (106.0, 106.0, 0)
    assert said.spoken[:4] == ("n_20", "seconds", "n_28", "pumps")
    assert turns.busy_until == pytest.approx(106.0 + speech_seconds(said.spoken)) and turns.busy_until > 107.0
    assert not turns.word_owed and after.deadline == INFINITY
    after.speak(Settings())
    assert len(turns.out) == 1, "nothing is owed any more"


def test_shown_only_it_leaves_the_air_free_and_is_not_remembered_as_said() -> None:
    after, turns = owed(flight=replace(FLIGHT, steadiness=0.02))
    after.speak(Settings(), "muted")
    shown, held = turns.out
    assert isinstance(shown, Summary) and shown.spoken == () and shown.figures and shown.sentence == "clean"
    assert isinstance(held, Held) and (held.kind, held.reason) == ("word", "muted")
    assert turns.busy_until == -INFINITY
    after.flight_over(replace(FLIGHT, steadiness=0.02), Tally(), 0.6, False)
    after.speak(Settings())
    assert turns.out[-1].sentence == "clean", "shown is not said"  # type: ignore[attr-defined]
    after.flight_over(replace(FLIGHT, steadiness=0.02), Tally(), 0.6, False)
    after.speak(Settings())
    assert turns.out[-1].sentence is None, "said a flight ago"  # type: ignore[attr-defined]


def test_again_only_when_nothing_sounds_and_nothing_newer_is_owed() -> None:
    after, turns = owed()
    after.again()
    assert turns.out == [], "nothing was said yet"
    after.speak(Settings())
    (first,) = turns.out
    assert isinstance(first, Summary)
    after.again()
    assert len(turns.out) == 1, "it is sounding"
    turns.now = turns.busy_until
    after.again()
    assert turns.out[1:] == [replace(first, time=turns.now, known=turns.now)]
    assert turns.busy_until == pytest.approx(turns.now + speech_seconds(first.spoken))
    turns.now += 60.0
    after.flight_over(FLIGHT, Tally(), 0.6, False)
    after.again()
    assert len(turns.out) == 2


def test_the_attempt_gives_its_landing_to_push_and_counts_as_a_start() -> None:
    after, turns = owed(flight=replace(FLIGHT, pumps=5))
    after.attempt_over(ATTEMPT)
    after.speak(Settings(focus="start"))
    (said,) = turns.out
    assert isinstance(said, Summary)
    assert dict(said.figures)["landing_to_push_s"] == 0.5 and dict(said.figures)["starts_held"] == 1
    after.flight_over(replace(FLIGHT, pumps=5), Tally(), 0.6, False)
    after.speak(Settings())
    assert dict(turns.out[-1].figures)["landing_to_push_s"] is None, "that was the attempt before"  # type: ignore[attr-defined]


def test_the_longest_flight_of_the_outing_is_told_but_not_the_first() -> None:
    """20 s, then 20 s again, 21 s, 15 s: by its own length, not by the clock of the outing."""
    after, told = Afterword(Turns()), []
    for start, seconds in ((80.0, 20.0), (200.0, 20.0), (300.0, 21.0), (400.0, 15.0)):
        end = start + seconds
        after.flight_over(replace(FLIGHT, start=start, time=end, known=end + 2.5), Tally(), 0.6, False)
        after.speak(Settings())
        told.append(dict(after._turns.out[-1].figures)["best_today"])  # type: ignore[attr-defined]
    assert told == [0.0, 0.0, 1.0, 0.0]


def test_the_word_can_be_heard_again_later() -> None:
    after, turns = owed()
    after.speak(Settings())
    for later in (5.0, 60.0):
        turns.now = turns.busy_until + later
        after.again()
    assert len(turns.out) == 3


def glide(coast: float, known: float = 102.5) -> FlightEnded:
    return replace(FLIGHT, ended_by="coast_out", coast_s=coast, known=known)


def test_nothing_is_said_to_who_glides_on() -> None:
    """Still aloft when the flight's end is known: until a stir, or for 20 s."""
    after, _ = owed(flight=glide(2.5))
    after.attempt_over(replace(ATTEMPT, time=100.0, ended_by="coast_out"))
    assert after.deadline == 122.5
    after.moved(109.0, calm=False)
    after.moved(112.0, calm=True)
    assert after.deadline == 115.0, "6 s after the touch-down"
    after.moved(113.0, calm=False)
    after.moved(116.0, calm=True)
    assert after.deadline == 115.0, "the rest is swimming"


@pytest.mark.parametrize(("calm_at", "deadline"), [(106.4, 122.5), (106.6, 109.6), (110.0, 113.0)])
def test_a_touch_down_before_it_was_ever_calm_shows_in_a_late_calm(calm_at: float, deadline: float) -> None:
    """Calm is told 3 s after it began; a glide is calm within 1 s of 102.5 s, when the flight's end was known."""
    after, _ = owed(flight=glide(2.5), calm=False)
    after.moved(calm_at, calm=True)
    assert after.deadline == pytest.approx(deadline)


def test_a_glide_that_is_over_is_counted_from_its_end() -> None:
    after, _ = owed(flight=glide(2.0))
    assert after.deadline == 108.0
    after.attempt_over(replace(ATTEMPT, time=100.0, ended_by="coast_out"))
    assert after.deadline == 108.0
    fell, _ = owed(flight=replace(FLIGHT, coast_s=2.5))
    assert fell.deadline == 108.5


def figures_of(settings: Settings, *seconds: float) -> list[float]:
    after = Afterword(Turns())
    for s in seconds:
        after.flight_over(replace(FLIGHT, time=80.0 + s), Tally(), 0.6, False)
        after.speak(settings)
    return [dict(e.figures)["best_today"] for e in after._turns.out if isinstance(e, Summary)]  # type: ignore[misc]


def test_a_rope_drill_is_no_best_of_the_day_and_beats_none() -> None:
    assert figures_of(Settings(start="rope_drill"), 20.0, 60.0) == [0.0, 0.0]
    after = Afterword(Turns())
    for start, seconds in (("dock", 20.0), ("rope_drill", 60.0), ("dock", 30.0)):
        after.flight_over(replace(FLIGHT, time=80.0 + seconds), Tally(), 0.6, False)
        after.speak(Settings(start=start))
    assert dict(after._turns.out[-1].figures)["best_today"] == 1.0  # type: ignore[attr-defined]


def test_clean_same_again_is_not_said_to_tired_legs() -> None:
    for tired, sentence in ((False, "clean"), (True, None)):
        after, turns = owed(flight=replace(FLIGHT, steadiness=0.02))
        after.speak(Settings(), tired=tired)
        assert turns.out[-1].sentence == sentence  # type: ignore[attr-defined]


def test_a_flight_that_a_gap_cut_has_no_vote_about_size() -> None:
    """Too small three times; two of three, of which one was cut, say nothing."""
    small = replace(FLIGHT, size_g=0.3)
    for ends, sentence in ((("fall", "fall"), "push_deeper"), (("gap", "fall"), None)):
        after, turns = Afterword(Turns()), []
        for ended in ends:
            after.flight_over(replace(small, ended_by=ended), Tally(), 0.6, False)
            after.speak(Settings())
            turns.append(after._turns.out[-1].sentence)  # type: ignore[attr-defined]
        assert turns[-1] == sentence
