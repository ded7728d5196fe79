"""Turn back, time limit, rest, legs, "all right?", faults: what is said of them and when."""

from __future__ import annotations

import json
import math

import pytest

from cadence_coach.core.coach import Coach
from cadence_coach.core.cuebook import CUE_KINDS, FAULT_CUES
from cadence_coach.core.events import (
    FAULTS,
    AttemptEnded,
    AttemptStarted,
    Cue,
    Event,
    Fault,
    Held,
    Impact,
    Place,
    SpeedFix,
    Still,
)
from cadence_coach.core.guard import Guard, Legs, distance, rest
from cadence_coach.core.settings import Settings
from tests.core.riders import Flight, Outing, run, table


def said(out: list[Event], kind: str) -> list[Cue]:
    return [e for e in out if isinstance(e, Cue) and e.kind == kind]


@pytest.mark.parametrize(
    ("a", "b", "metres"),
    [
        # one minute of latitude is one nautical mile, 1852 m by definition; the sphere of mean radius gives 1853.25 m
        ((47.0, 8.0), (47.0 + 1 / 60, 8.0), 1852.0),
        # a degree of longitude at 60 deg is half of one at the equator (111.19 km on the same sphere)
        ((60.0, 10.0), (60.0, 10.01), 556.0),
        ((0.0, 179.999), (0.0, -179.999), 222.4),
    ],
)
def test_distance(a: tuple[float, float], b: tuple[float, float], metres: float) -> None:
    assert distance(*a, *b) == pytest.approx(metres, rel=0.002)


def fixes(metres: list[float], t0: float = 30.0) -> list[Event]:
    return [SpeedFix(t0 + k, t0 + k + 0.5, 4.0, 47.0 + m / 111195.0, 8.0, 0.4, None) for k, m in enumerate(metres)]


def out_and_back(chosen: Settings, metres: list[float]) -> list[Cue]:
    before = [*fixes([-400.0, 0.0], 1.0)]  # carried along the shore, then at the dock
    start = AttemptStarted(29.0, 29.2, 0, "run_up", 3.0)
    return said(run([*before, start, *fixes(metres)], chosen, table()), "turn_back")


def test_turn_back_at_the_chosen_distance_from_where_the_attempt_began() -> None:
    metres = [10.0 * k for k in range(40)]
    for chosen, limit in (
        (Settings(), 150.0),
        (Settings(water_temperature_c=12.0), 100.0),
        (Settings(water_temperature_c=15.0), 150.0),
        (Settings(turn_back_m=200.0), 200.0),
    ):
        calls = out_and_back(chosen, metres)
        assert calls[0].time == pytest.approx(30.5 + limit / 10.0, abs=0.51)
        again = [c.time for c in calls[1:]]
        assert again == [pytest.approx(30.5 + limit / 10.0 * f, abs=1.6) for f in (1.5, 2.25, 3.375)][: len(again)]
        assert len(again) == sum(limit * f + 15.0 < 390.0 for f in (1.5, 2.25, 3.375))
    assert out_and_back(Settings(), [140.0] * 50) == []
    twice = out_and_back(Settings(), [*metres[:18], *reversed(metres[:17]), *metres[:18]])
    assert len(twice) == 2, "back inside and out again"


def test_on_the_rope_the_boat_is_there() -> None:
    assert out_and_back(Settings(start="rope"), [10.0 * k for k in range(40)]) == []


@pytest.mark.parametrize(
    ("chosen", "limit"),
    [(Settings(), 3600.0), (Settings(water_temperature_c=9.0), 1500.0), (Settings(time_limit_s=600.0), 600.0)],
)
def test_time_limit(chosen: Settings, limit: float) -> None:
    coach = Coach(chosen, None)
    for minute in range(round(limit / 60.0) + 25):
        coach.advance(60.0 * minute)
    calls = said(coach.events(), "time_limit")
    assert calls[0].time == limit and calls[0].reason == f"{limit / 60:.0f} min on the water"
    assert [c.time for c in calls] == [limit, limit + 600.0, limit + 1200.0]


@pytest.mark.parametrize(("now", "again"), [(4199.0, 4200.0), (4200.0, 4800.0), (1.8e9, 1.8e9 + 600.0)])
def test_through_a_jump_of_the_clock_the_time_limit_is_said_once(now: float, again: float) -> None:
    """A logger's clock that is set from 1970 to today: else 3 million cues."""
    coach = Coach(Settings(), None)
    coach.advance(3599.0)
    coach.advance(now)
    assert [c.time for c in said(coach.events(), "time_limit")] == [3600.0]
    assert coach.deadline == again


def test_time_limit_counts_from_the_start_command() -> None:
    coach = Coach(Settings(time_limit_s=600.0), None)
    coach.advance(100.0)
    coach.command("start")
    coach.advance(1000.0)
    assert [c.time for c in said(coach.events(), "time_limit")] == [700.0]


def test_a_coach_made_anew_in_the_middle_of_a_ride_goes_on_with_its_guard() -> None:
    """Time, place and legs are those of the ride, through JSON as on a phone; a time limit that has passed is called
    at once."""
    coach = Coach(Settings(time_limit_s=600.0), table())
    (home,) = fixes([0.0], 1.0)
    coach.receive(home)
    assert coach.guard.ride["home"] is None, "not left yet: the next fix may be nearer to the start"
    for k, n in enumerate((22, 20, 24)):
        coach.receive(AttemptStarted(3.0 + 100.0 * k, 3.0 + 100.0 * k, k, "run_up", 3.0))
        coach.receive(
            AttemptEnded(23.0 + 100.0 * k, 24.0 + 100.0 * k, k, 3.0 + 100.0 * k, n, "run_up", 3.0, 0.5, "fall", None)
        )
    ride = json.loads(json.dumps(coach.guard.ride))
    for ridden, due in ((400.0, 200.0), (900.0, 0.0)):
        anew = Coach(Settings(time_limit_s=600.0), table())
        anew.command("arm", start="dock")
        anew.command("go_on", ridden_s=ridden, **ride)
        anew.advance(5.0)
        anew.command("start")  # counted in
        assert anew.guard.ride == ride
        anew.receive(*fixes([160.0], 10.0))
        anew.advance(250.0)
        calls = [c for c in anew.events() if isinstance(c, Cue) and c.kind in ("turn_back", "time_limit")]
        assert sorted(c.reason for c in calls) == [
            f"{(ridden + due) / 60:.0f} min on the water",
            "160 m from the start, limit 150 m",
        ]
        assert said(calls, "time_limit")[0].time == pytest.approx(due, abs=4.0)
        for k in range(2):
            t = 300.0 + 100.0 * k
            anew.receive(AttemptStarted(t, t, k, "run_up", 3.0))
            anew.receive(AttemptEnded(t + 20.0, t + 21.0, k, t, 2, "run_up", 3.0, 0.5, "fall", None))
        anew.advance(490.0)
        assert len(said(anew.events(), "legs_gone")) == 1
    with pytest.raises(ValueError, match="values to unpack"):
        anew.command("go_on", ridden_s=590.0, home=[47.0])
    anew.advance(510.0)  # what is refused has changed nothing, and is not kept for a replay
    assert said(anew.events(), "time_limit") == []


@pytest.mark.parametrize(
    ("seconds", "expected"),
    [(5.0, 120.0), (59.0, 120.0), (59.99, 120.0), (60.0, 300.0), (140.0, 300.0), (200.0, 400.0)],
)
def test_rest(seconds: float, expected: float) -> None:
    assert rest(seconds) == pytest.approx(expected, abs=0.02)


def test_rest_is_called_once_and_a_new_start_cancels_it() -> None:
    outing = Outing(1).fly(Flight(20)).wait(60).fly(Flight(120)).wait(400).wait(10)  # due in the middle of the second
    calls = said(run(outing.events, band=table()), "rest_over")
    assert len(calls) == 1
    assert calls[0].time == pytest.approx(outing.ends[1] + 300.0, abs=0.05)


def tries(pumps: list[int], chosen: Settings | None = None) -> list[Event]:
    events: list[Event] = []
    for k, n in enumerate(pumps):
        t = 100.0 * k
        events.append(AttemptStarted(t, t, k, "run_up", 3.0))
        events.append(AttemptEnded(t + 20.0, t + 21.0, k, t, n, "run_up", 3.0, 0.5, "fall", None))
    return run(events, chosen, table())


def place(metres: float) -> Place:
    return Place(1.0, 1.0, 47.0 + metres / 111195.0, 8.0)


def test_a_place_without_a_good_speed_counts_when_three_agree() -> None:
    """Drifting off with a poor fix; one place that is far off says nothing, nor does it move the start."""
    guard = Guard(Settings())
    (home,) = fixes([0.0])
    assert isinstance(home, SpeedFix)
    guard.fix(home)
    guard.fix(place(400.0))
    guard.attempt_began(3.0)
    assert [guard.fix(place(m)) for m in (500.0, 20.0, 160.0, 165.0)] == [None] * 4
    assert guard.fix(place(170.0)) == ("turn_back", "170 m from the start, limit 150 m")
    assert guard.fix(place(175.0)) is None and guard.turned_back
    alone = Guard(Settings())
    alone.fix(place(0.0))
    alone.attempt_began(3.0)
    assert [alone.fix(place(m)) is not None for m in (160.0, 160.0, 160.0)] == [False, False, True], "a start too"


def test_armed_again_the_start_is_where_the_next_fix_is() -> None:
    """Called back once, then armed anew farther out: nothing of before holds, and 150 m count from there."""
    guard = Guard(Settings())
    first, far, farther = fixes([0.0, 160.0, 320.0])
    assert isinstance(first, SpeedFix) and isinstance(far, SpeedFix) and isinstance(farther, SpeedFix)
    guard.fix(first)
    guard.attempt_began(3.0)
    called = guard.fix(far)
    assert called is not None and called[0] == "turn_back" and guard.turned_back
    guard.rearm()
    assert not guard.turned_back
    guard.fix(far)
    guard.attempt_began(3.0)
    assert guard.fix(far) is None and not guard.turned_back
    again = guard.fix(farther)
    assert again == ("turn_back", "160 m from the start, limit 150 m")


@pytest.mark.parametrize(
    ("pumps", "after"),
    [
        ([20, 22, 24, 18, 13, 12, 11], 7),  # 12.0 < 0.6 x 22 = 13.2
        ([20, 22, 24, 18, 13, 14, 13], None),  # 13.33 is not
        ([4, 3, 5, 1, 0, 2], None),  # under six pumps counts are chance
        ([20, 22, 24, 5, 5, 5, 5, 5, 5], 5),
        ([20, 5, 5], None),  # three attempts have no best three to compare with
        ([1, 1, 30, 1, 1, 32], None),  # 11.3 of 21, but this one held
        ([40, 3, 40, 2, 2, 60], 4),  # 15.0 of 27.7, and this one fell as well
    ],
)
def test_legs_gone(pumps: list[int], after: int | None) -> None:
    calls = said(tries(pumps), "legs_gone")
    if after is None:
        assert calls == []
    else:
        assert 100.0 * (after - 1) + 26.0 <= calls[0].time < 100.0 * after


def test_tries_that_were_cut_say_nothing_of_the_legs() -> None:
    legs = Legs()
    said = [legs.gone(n, by) for n, by in [(20, "fall"), (22, "gap"), (22, "fall"), (24, "fall"), (1, "end_of_data")]]
    assert said == [None] * 5
    assert legs.gone(3, "gap") is None and legs.gone(5, "coast_out") is None  # 17 is not under 0.6 x 22
    assert legs.gone(4, "fall") == (11.0, 22.0)


def test_legs_gone_is_not_said_at_every_attempt() -> None:
    """At the second short one, and again after three more each time."""
    for short, times in ((1, 0), (2, 1), (4, 1), (5, 2), (7, 2), (8, 3)):
        assert len(said(tries([20, 22, 24, *[5] * short]), "legs_gone")) == times, short


def test_stillness_is_asked_about_only_after_an_attempt() -> None:
    assert said(run([Still(50.0, 70.0)], band=table()), "all_right") == []
    outing = Outing(2).fly(Flight(10)).wait(30)
    t = outing.ends[0] + 25.0
    events = sorted([*outing.events, Still(t - 20.0, t), Still(t + 5.0, t + 25.0)], key=lambda e: e.known)
    assert [c.time for c in said(run(events, band=table()), "all_right")] == [t]
    late = sorted([*outing.events, Still(600.0, 620.0)], key=lambda e: e.known)
    assert said(run(late, band=table()), "all_right") == []


def test_faults_the_rider_hears() -> None:
    assert set(FAULT_CUES) <= set(FAULTS)
    assert set(FAULT_CUES.values()) <= set(CUE_KINDS)
    for kind in FAULTS:
        out = run([Fault(10.0, 10.0, kind, 1), Fault(12.0, 12.0, kind, 2), Fault(80.0, 80.0, kind, 3)], band=table())
        heard = [c.time for c in out if isinstance(c, Cue) and c.kind != "time_limit"]
        assert heard == ([10.0, 80.0] if kind in FAULT_CUES else []), kind


def test_a_fault_waits_for_nothing_and_a_call_waits_for_it() -> None:
    coach = Coach(Settings(time_limit_s=60.0), table())
    coach.receive(Fault(59.5, 59.5, "silent", 1))
    coach.advance(70.0)
    assert [(c.kind, c.time) for c in coach.events() if isinstance(c, Cue)] == [
        ("silent_sensor", 59.5),
        ("time_limit", 63.2),
    ]


def test_no_place_no_turn_back() -> None:
    guard = Guard(Settings())
    for k in range(5):
        assert guard.fix(SpeedFix(k, k, 4.0, None, None, 0.4, None)) is None
    assert not guard.turned_back
    assert math.isinf(Guard(Settings()).deadline) is False


def test_arming_again_starts_from_here() -> None:
    coach = Coach(Settings(), table())
    for e in [*fixes([0.0], 1.0), AttemptStarted(3.0, 3.0, 0, "run_up", 3.0), *fixes([10.0], 4.0)]:
        coach.receive(e)
    coach.command("arm", start="dock")
    for e in fixes([500.0, 510.0, 520.0]):
        coach.receive(e)
    assert said(coach.events(), "turn_back") == []


def test_on_land_only_the_machine_speaks() -> None:
    out = run([Fault(10.0, 10.0, "silent", 1)], Settings(start="land", time_limit_s=60.0), table())
    assert [c.kind for c in out if isinstance(c, Cue)] == ["silent_sensor"]
    assert [h.kind for h in out if isinstance(h, Held)][:1] == ["time_limit"]


def test_a_start_that_failed_hard_is_asked_about_and_a_landing_that_flies_is_not() -> None:
    start = AttemptStarted(10.0, 10.2, 0, "run_up", 8.0)
    hit = Impact(10.4, 10.5, 16.0, True)
    over = AttemptEnded(11.0, 12.5, 0, 10.0, 1, "run_up", 8.0, 0.6, "fall", None)
    assert [c.time for c in said(run([start, hit, over], band=table()), "all_right")] == [11.0 + 6.0]
    outing = Outing(3).fly(Flight(30)).wait(30)
    events = sorted([*outing.events, Impact(5.3, 5.4, 16.0, True)], key=lambda e: e.known)
    assert said(run(events, band=table()), "all_right") == []
