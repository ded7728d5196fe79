"""One message at a time: who waits for what, what is noted once, what is dropped."""

from __future__ import annotations

import pytest

from cadence_coach.core.cuebook import CORRECTIONS
from cadence_coach.core.events import Cue, Held
from cadence_coach.core.turns import Turns
from cadence_coach.core.units import INFINITY


def told(turns: Turns) -> list[tuple[float, str, str]]:
    """(time, kind, reason) of everything that came out since the last call."""
    out = [(e.time, e.kind, e.reason) for e in turns.out if isinstance(e, Cue | Held)]
    assert all(e.known == e.time for e in turns.out)
    turns.out.clear()
    return out


def test_a_call_waits_for_what_sounds_and_for_the_silence_but_a_fault_does_not() -> None:
    """A cue takes 1.5 s, a warning with its words 3.7; the silence goes on to 12 s. Turn back waits for all, a machine
    fault for none."""
    turns = Turns()
    turns.now = 10.0
    turns.say("bigger", "small")
    assert turns.busy_until == 11.5
    turns.call("turn_back", "far")
    assert turns.waiting and turns.deadline == 11.5 and turns.flush() == []
    turns.quiet_until = 12.0
    assert turns.deadline == 12.0
    turns.call("battery_stop", "8 %")
    assert turns.deadline == 10.0 and turns.flush() == ["battery_stop"]
    assert told(turns) == [(10.0, "bigger", "small"), (10.0, "battery_stop", "8 %")]
    turns.now = 13.7 - 1e-9
    assert turns.flush() == []
    turns.now = 13.7
    assert turns.flush() == ["turn_back"] and told(turns) == [(13.7, "turn_back", "far")]
    assert turns.busy_until == pytest.approx(17.4)
    assert not turns.waiting and turns.deadline == INFINITY


def test_a_milestone_waits_for_the_word_too_and_what_guards_does_not() -> None:
    turns = Turns()
    turns.word_owed = True
    turns.call("milestone", "best today")
    assert turns.deadline == INFINITY and turns.flush() == []
    turns.call("all_right", "a blow")
    assert turns.deadline == 0.0 and turns.flush() == ["all_right"]
    turns.now, turns.word_owed = 60.0, False
    assert turns.flush() == ["milestone"]


def test_who_goes_first_and_of_equals_who_came_first() -> None:
    """One after the other, each when the one before has sounded."""
    turns, order = Turns(), []
    for kind in ("milestone", "time_limit", "legs_gone", "turn_back", "disk_low", "milestone"):
        turns.call(kind, kind)
    for _ in range(10):
        order += turns.flush()
        turns.now += 3.7
    assert order == ["disk_low", "time_limit", "turn_back", "milestone", "legs_gone"], "the same kind waits once"


def test_a_correction_is_noted_once_for_each_why_until_it_is_over() -> None:
    assert {"quicker", "bigger"} <= set(CORRECTIONS)
    turns = Turns()
    for why in ("pace", "pace", "ceiling", "ceiling", "pace"):
        turns.hold("quicker", why)
    turns.hold("bigger", "pace", "size 0.4")
    assert [r for _, _, r in told(turns)] == ["pace", "ceiling", "pace", "pace; size 0.4"]
    turns.over({"bigger"})
    turns.hold("bigger", "pace", "size 0.3")
    assert told(turns) == []
    turns.hold("quicker", "pace")
    assert [r for _, _, r in told(turns)] == ["pace"]
    turns.say("quicker", "at last")
    turns.hold("quicker", "pace")
    assert [r for _, _, r in told(turns)] == ["at last", "pace"], "said, it may be noted anew"


def test_what_is_no_correction_is_noted_each_time() -> None:
    turns = Turns()
    for _ in range(2):
        turns.hold("milestone", "rope", "12 pumps")
    assert told(turns) == [(0.0, "milestone", "rope; 12 pumps")] * 2


def test_dropped_calls_are_told_and_the_others_stay() -> None:
    turns = Turns()
    for kind in ("milestone", "turn_back", "rest_over"):
        turns.call(kind, f"why {kind}")
    turns.drop("hushed", ("milestone", "rest_over"))
    assert told(turns) == [(0.0, "milestone", "hushed; why milestone"), (0.0, "rest_over", "hushed; why rest_over")]
    assert turns.waiting
    turns.drop("over")
    assert told(turns) == [(0.0, "turn_back", "over; why turn_back")] and not turns.waiting


def test_what_keeps_from_harm_waits_for_a_silence_of_eight_seconds_at_most() -> None:
    """Own value: gap after gap may not put it off for good. A milestone may wait so."""
    for kind, due in (("turn_back", 18.0), ("milestone", 100.0)):
        turns = Turns()
        turns.now, turns.quiet_until = 10.0, 100.0
        turns.call(kind, "due")
        assert turns.deadline == due, kind
