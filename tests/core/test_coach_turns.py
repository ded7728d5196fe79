"""The coach as a whole: one message at a time, the word and what follows it, accidents, commands, cuts of a stream."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cadence_coach.core.coach import ALOFT, COMMANDS, HUSHED, READY, TABLE, Coach
from cadence_coach.core.events import Click, Cue, Event, Gap, Held, Impact, Slaps, Summary
from cadence_coach.core.settings import Settings
from tests.core.riders import LO, Flight, Outing, corrections, cues, run, step, table

# ---- one message at a time ----


def test_one_message_at_a_time_and_the_guard_first() -> None:
    chosen = Settings(goal_seconds=22.0, turn_back_m=80.0, time_limit_s=60.0)
    outing = Outing(10, t=60.0 - 22.0)
    outing.fly(
        Flight(60, speed=lambda t: 4.5, place=lambda t: (47.0, 8.0 + t * 4.5 / 75800.0), cadence=lambda k: LO * 0.9)
    )
    out = run(outing.wait(60).events, chosen, table())
    said = [e for e in out if isinstance(e, Cue)]
    assert all(b.time - a.time >= 1.5 for a, b in itertools.pairwise(said))
    kinds = [c.kind for c in said]
    assert kinds.index("turn_back") < kinds.index("time_limit")
    assert "milestone" not in kinds
    assert [e for e in out if isinstance(e, Held) and e.kind == "milestone" and "turning back" in e.reason]


def test_a_milestone_that_waits_is_dropped_by_turn_back() -> None:
    """Both become due while another message sounds: only the one that keeps from harm is said."""
    coach = Coach(Settings(), table())
    for e in [e for e in Outing(3).fly(Flight(40)).events if e.known < 20.0]:
        coach.receive(e)
    coach._turns.say("time_limit", "made up")
    coach._call("milestone", "made up")
    coach._call("turn_back", "made up")
    coach.advance(30.0)
    out = coach.events()
    assert [e.kind for e in out if isinstance(e, Cue)][-2:] == ["time_limit", "turn_back"]
    held = [(e.kind, e.reason) for e in out if isinstance(e, Held)]
    assert ("milestone", "turning back comes first; made up") in held


def test_who_glided_on_is_on_no_rope() -> None:
    """Bursts with glides between look like starts from a rope; what began on one goes on as one. Half a minute later it
    is a start of its own."""
    for first, wait, silent in (("run_up", 5.0, False), ("rope", 5.0, True), ("run_up", 30.0, True)):
        outing = Outing(31).fly(Flight(20, started_by=first, ended_by="coast_out", coast=2.0)).wait(wait, calm=False)
        outing.fly(Flight(40, started_by="rope", cadence=lambda k: LO * 0.9)).wait(60.0)
        second = [e for e in run(outing.events, band=table()) if e.known > outing.starts[1]]
        assert bool(corrections(second)) == (not silent), (first, wait)
    outing = Outing(31).fly(Flight(20, ended_by="coast_out", coast=2.0)).wait(5.0, calm=False)
    outing.fly(Flight(40, cadence=lambda k: LO * 0.9)).wait(60.0)
    assert not corrections(run(outing.events, Settings(start="rope"), table())), "a chosen rope is silent"


def test_no_same_again_right_before_the_legs_are_gone() -> None:
    """Each flight is clean; the same sentence comes at every third: the seventh would be told so again."""
    outing = Outing(4)
    for pumps in (40, 42, 44, 30, 26, 20, 20):
        outing.fly(Flight(pumps, cv=0.02)).wait(60.0)
    out = run(outing.events, band=table())
    words = [e for e in out if isinstance(e, Summary)]
    assert [w.sentence for w in words] == ["clean", None, None, "clean", None, None, None]
    (gone,) = cues(out, ("legs_gone",))
    assert words[6].time < gone.time < words[6].time + 10.0


@pytest.mark.parametrize("kind", ["time_limit", "turn_back", "rest_over", "all_right"])
def test_at_level_quiet_the_guard_is_heard_and_no_milestone(kind: str) -> None:
    coach = Coach(Settings(level="quiet"), table())
    coach._call(kind, "made up")
    coach._call("milestone", "made up")
    coach._settle()
    out = coach.events()
    assert [e.kind for e in out if isinstance(e, Cue)] == [kind]
    assert [(e.kind, e.reason) for e in out if isinstance(e, Held)] == [("milestone", "quiet; made up")]


def test_the_word_is_repeated_on_command_but_not_while_paused() -> None:
    coach = Coach(Settings(), table())
    for e in Outing(3).fly(Flight(20)).wait(40.0).events:
        coach.receive(e)
    coach.advance(60.0)
    for state, words in ((READY, 2), ("paused", 2), (READY, 3)):
        coach.state = state
        coach.advance(coach._turns.now + 30.0)
        coach.command("repeat")
        assert len([e for e in coach._turns.out if isinstance(e, Summary)]) == words, state


def test_started_twice_the_time_limit_stands() -> None:
    coach = Coach(Settings(time_limit_s=600.0), table())
    coach.receive(Gap(1.0, 1.0, 1.1))
    coach.command("start")
    coach.advance(500.0)
    coach.command("start")
    coach.advance(700.0)
    assert [e.time for e in coach.events() if isinstance(e, Cue) and e.kind == "time_limit"] == [601.0]


# ---- the word, and after it ----


def test_the_word_waits_for_six_seconds_and_calm() -> None:
    outing = Outing(11).fly(Flight(20)).wait(2.0, calm=False)
    outing.wait(40.0)
    out = run(outing.events, band=table())
    word = next(e for e in out if isinstance(e, Summary))
    assert word.known == max(outing.ends[0] + 6.0, next(e.known for e in outing.events if type(e).__name__ == "Calm"))
    never = Outing(11).fly(Flight(20)).wait(200.0, calm=False)
    out = run(never.events, band=table())
    word = next(e for e in out if isinstance(e, Summary))
    assert word.spoken == () and word.known > never.ends[0] + 60.0


def test_a_coast_is_flown_out_before_the_word() -> None:
    outing = Outing(12).fly(Flight(20, coast=9.0, ended_by="coast_out")).wait(40.0)
    out = run(outing.events, band=table())
    assert next(e for e in out if isinstance(e, Summary)).known >= outing.ends[0] + 6.0


def test_silent_when_a_new_start_begins() -> None:
    outing = Outing(13).fly(Flight(20)).wait(1.0)
    outing.fly(Flight(20)).wait(30.0)
    out = run(outing.events, band=table())
    words = [e for e in out if isinstance(e, Summary)]
    assert [bool(w.spoken) for w in words] == [False, True]
    assert [e for e in out if isinstance(e, Held) and e.kind == "word"]


def test_slaps_say_it_again() -> None:
    outing = Outing(14).fly(Flight(20)).wait(60.0)
    asked = outing.ends[0] + 30.0
    out = run(sorted([*outing.events, Slaps(asked, asked + 0.9)], key=lambda e: e.known), band=table())
    first, again = [e for e in out if isinstance(e, Summary)]
    assert replace(again, time=first.time, known=first.known) == first
    assert again.known == asked + 0.9
    early = Slaps(1.0, 2.0)
    assert not [e for e in run([early], band=table()) if isinstance(e, Summary)]


def test_the_end_of_the_recording_still_gives_the_word_to_the_screen() -> None:
    outing = Outing(15).fly(Flight(20))
    coach = Coach(Settings(), table())
    for e in outing.events:
        coach.receive(e)
    coach.end()
    words = [e for e in coach.events() if isinstance(e, Summary)]
    assert len(words) == 1 and words[0].spoken == ()


# ---- accidents ----


def blown(seed: int, clipped: bool, at: float = 0.3, more: int = 0) -> tuple[Outing, list[Event]]:
    outing = Outing(seed).fly(Flight(30))
    hit = outing.ends[0] + at
    outing.events.append(Impact(hit, hit + 0.05, 16.0, clipped))
    outing.events.sort(key=lambda e: e.known)
    outing.wait(60.0)
    if more:
        outing.fly(Flight(more)).wait(60.0)
    return outing, run(outing.events, band=table())


def test_all_right_after_a_blow_at_the_range_and_no_coaching_until_pumping() -> None:
    outing, out = blown(16, True, more=30)
    asked = cues(out, ("all_right",))
    assert len(asked) == 1
    assert asked[0].time >= outing.ends[0] + 6.0
    words = [e for e in out if isinstance(e, Summary)]
    assert [bool(w.spoken) for w in words] == [False, True]
    assert not [e for e in out if isinstance(e, Cue | Click) and asked[0].time < e.known < outing.starts[1]]
    assert [e for e in out if isinstance(e, Click) and e.known > outing.starts[1]]


def test_an_ordinary_fall_is_not_asked_about() -> None:
    _, out = blown(17, False)
    assert not cues(out, ("all_right",))
    assert next(e for e in out if isinstance(e, Summary)).spoken


def test_a_blow_that_is_pumped_through_is_not_asked_about() -> None:
    outing = Outing(18).fly(Flight(60, cadence=lambda k: LO * 0.9)).wait(60.0)
    hit = outing.onsets[30] + 0.1
    outing.events.append(Impact(hit, hit + 0.05, 16.0, True))
    outing.events.sort(key=lambda e: e.known)
    out = run(outing.events, band=table())
    assert not cues(out, ("all_right",))
    assert [c for c in corrections(out) if c.time > hit + 3.0]


def test_pushes_as_hard_as_a_blow_do_not_gag_the_coach() -> None:
    """A hard pumper's pushes are blows to the detector, one a pump."""
    outing = Outing(23).fly(Flight(60, cadence=lambda k: LO * 0.9)).wait(60.0)
    outing.events += [Impact(t + 0.15, t + 0.2, 3.1, False) for t in outing.onsets[:-1]]
    outing.events.sort(key=lambda e: e.known)
    assert corrections(run(outing.events, band=table()))


# ---- the machine ----


def test_table_knows_every_state_and_commands_are_checked() -> None:
    assert {state for state, _ in TABLE} <= {"ready", "trying", "aloft", "landed", "hushed", "paused", "*"}
    coach = Coach(Settings(), table())
    with pytest.raises(ValueError, match="no such command"):
        coach.command("louder")
    with pytest.raises(ValueError, match="focus"):
        coach.command("set_focus", focus="style")
    assert coach.state == READY
    for name in ("mark", "route_changed"):
        coach.command(name)
    assert set(COMMANDS) >= {"arm", "start", "pause", "stop", "set_focus", "set_lead", "mute", "mark"}


def paused(pauses: tuple[float, ...], begins: tuple[float, ...], goal: int | None = None) -> list[Event]:
    """What comes of one flight of 60 pumps, 5.6 s to 48 s, paused and begun again at these times."""
    coach = Coach(Settings(goal_pumps=goal), table())
    wishes = sorted([*((t, "pause") for t in pauses), *((t, "start") for t in begins)])
    for e in Outing(19).fly(Flight(60)).wait(200.0).events:
        while wishes and wishes[0][0] <= e.known:
            at, name = wishes.pop(0)
            coach.advance(at)
            coach.command(name)
        coach.receive(e)
    coach.advance(200.0)
    return coach.events()


def test_paused_and_begun_again_in_mid_flight_the_click_goes_on() -> None:
    """And what is said of the flight is of the whole of it: a milestone that comes later, and the word."""
    whole = paused((), ())
    for pauses, begins in (((20.0,), (30.0,)), ((1.0,), (30.0,))):  # the second: the flight began in the pause
        out = paused(pauses, begins, 55)
        clicks = [e.known for e in out if isinstance(e, Click)]
        assert not [t for t in clicks if pauses[0] < t < begins[0]]
        # until the click of the whole flight, in band, has faded away
        in_beat = [e.known for e in whole if isinstance(e, Click) and 30.0 < e.known < 45.0]
        assert in_beat and [t for t in clicks if 30.0 < t < 45.0] == in_beat
        milestone = [c for c in cues(out, ("milestone",)) if c.known > 40.0]
        assert len(milestone) == 1 and milestone[0].reason == "55 pumps in this flight"
        ((word,), (same,)) = ([e for e in events if isinstance(e, Summary)] for events in (out, whole))
        assert (word.figures, word.spoken) == (same.figures, same.spoken)


def test_a_flight_that_ends_in_a_pause_has_its_word_shown_and_not_said() -> None:
    """Begun again before its word is due, it is said; after it, the coach is on shore and no flight goes on."""
    (word,) = (e for e in paused((20.0,), ()) if isinstance(e, Summary))
    (same,) = (e for e in paused((), ()) if isinstance(e, Summary))
    assert word.figures == same.figures and word.spoken == () and same.spoken
    assert [e.reason for e in paused((20.0,), ()) if isinstance(e, Held) and e.kind == "word"] == ["paused"]
    (said,) = (e for e in paused((20.0,), (51.0,)) if isinstance(e, Summary))
    assert said.spoken == same.spoken
    late = paused((20.0,), (100.0,))
    assert not [e for e in late if isinstance(e, Click) and e.known > 20.0]


def test_a_flight_that_is_stopped_has_its_word_shown() -> None:
    coach = Coach(Settings(), table())
    for e in Outing(19).fly(Flight(60)).events:
        coach.receive(e)
        if coach.state == ALOFT and e.known > 40.0:
            coach.command("stop")
    coach.end()
    (word,) = (e for e in coach.events() if isinstance(e, Summary))
    assert dict(word.figures)["pumps"] == 60 and word.spoken == ()


def test_commands_answer_and_hold() -> None:
    outing = Outing(19).fly(Flight(60, cadence=lambda k: LO * 0.9)).wait(30.0)
    coach = Coach(Settings(), table())
    coach.command("arm", start="dock")
    coach.command("start")
    out = []
    for e in outing.events:
        coach.receive(e)
        if coach.state == ALOFT and e.known > outing.onsets[10]:
            coach.command("pause")
    coach.command("start")
    coach.command("stop")
    out = coach.events()
    assert [c.kind for c in cues(out)] == ["armed", "started", "paused", "started", "ended"]
    assert not [e for e in out if isinstance(e, Click) and e.known > outing.onsets[11]]


def test_mute_and_unmute() -> None:
    coach = Coach(Settings(), table())
    coach.command("mute")
    assert coach.settings.muted
    coach.command("mute", on=False)
    assert not coach.settings.muted


def test_on_land_only_answers_are_given() -> None:
    coach = Coach(Settings(start="land"), table())
    coach.command("start")
    coach._call("milestone", "a minute")
    coach._call("rest_over", "two minutes")
    out = coach.events()
    assert [c.kind for c in cues(out)] == ["started"]
    assert [h.kind for h in out if isinstance(h, Held)] == ["milestone", "rest_over"]


def test_after_a_fall_a_pause() -> None:
    """A fall is not spoken into; a ride that ends otherwise is followed by no such pause."""
    for ended_by, after in (("fall", True), ("landed", False)):
        coach = Coach(Settings(), table())
        outing = Outing(22).fly(Flight(20, ended_by=ended_by))
        for e in outing.events:
            coach.receive(e)
        quiet = coach._turns.quiet_until
        assert (quiet >= outing.ends[0]) is after, (ended_by, quiet, outing.ends)


def test_focus_level_and_lead_can_change_in_flight() -> None:
    outing = Outing(20).fly(Flight(120, cadence=lambda k: LO * 0.9)).wait(10.0)
    coach = Coach(Settings(level="quiet"), table())
    done = False
    for e in outing.events:
        if not done and e.known > outing.onsets[60]:
            coach.command("set_level", level="full")
            coach.command("set_lead", lead="target")
            done = True
        coach.receive(e)
    out = coach.events()
    assert min(c.time for c in corrections(out)) > outing.onsets[60]
    assert {c.lead for c in out if isinstance(c, Click)} == {"target"}


def test_hushed_state_is_left_by_pumping_alone() -> None:
    coach = Coach(Settings(), table())
    outing, _ = blown(21, True, more=30)
    seen = set()
    for e in outing.events:
        coach.receive(e)
        coach.advance(e.known)
        seen.add(coach.state)
        if coach.state == HUSHED:
            assert e.known < outing.starts[1] + 0.3
    assert HUSHED in seen and coach.state != HUSHED


@settings(max_examples=12, deadline=None)
@given(seed=st.integers(0, 99), data=st.data())
def test_cut_anywhere_the_same_events(seed: int, data: st.DataObject) -> None:
    """Advancing at any times in between, and taking the events at any time, changes nothing."""
    outing = Outing(seed)
    speed = lambda t: 4.0  # noqa: E731
    outing.fly(Flight(45, cadence=step(LO * 0.9, 20), speed=speed)).wait(12)
    outing.fly(Flight(3)).wait(5).fly(Flight(20, size=lambda k: 0.3)).wait(150)
    chosen = Settings(goal_pumps=15, time_limit_s=70.0)
    whole = run(outing.events, chosen, table())
    coach, pieces, before = Coach(chosen, table()), [], 0.0
    for e in outing.events:
        span = max(0.0, e.known - before)
        for part in sorted(data.draw(st.lists(st.floats(0.0, 1.0), max_size=3))):
            coach.advance(before + part * span)
            if data.draw(st.booleans()):
                pieces += coach.events()
        coach.receive(e)
        before = max(before, e.known)
    coach.advance(before + 120.0)
    coach.end()
    assert pieces + coach.events() == whole


def test_known_never_runs_backwards_and_state_is_bounded() -> None:
    outing = Outing(22)
    for _ in range(30):
        outing.fly(Flight(25)).wait(30)
    coach = Coach(Settings(), table())
    import pickle

    sizes = []
    known = 0.0
    for e in outing.events:
        coach.receive(e)
        for said in coach.events():
            assert said.known >= known
            known = said.known
        sizes.append(len(pickle.dumps(coach)))
    assert max(sizes[len(sizes) // 2 :]) <= 1.1 * max(sizes[: len(sizes) // 2])
