"""What the engine makes of single rows: each bound of its checks, from just below and just above."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from cadence_coach.core.engine import Engine
from cadence_coach.core.events import (
    ACCEL,
    FIX,
    GYRO,
    Calm,
    Click,
    Cue,
    Event,
    Fault,
    Gap,
    Held,
    Onset,
    Place,
    Row,
    Slaps,
    SpeedFix,
)
from cadence_coach.core.late import Late
from cadence_coach.core.units import G

from .streams import bounce, of, run

INF, NAN = math.inf, math.nan
LAST = 0.5
"""Time of the last row of `begun` [s]."""
LIMIT = 3600.0
"""The coach's time limit [s], its only deadline here."""


def row(t: float) -> Row:
    """A body at rest; each axis moves a little, so that none is stuck."""
    k = round(1000 * t) % 7
    return (ACCEL, t, 0.01 * k, 0.01 * (k + 1), G + 0.01 * k)


def begun() -> Engine:
    engine = Engine()
    engine.receive([row(0.01 * k) for k in range(51)])
    assert engine.events() == [] and engine.time == LAST
    return engine


def found(engine: Engine) -> list[Event]:
    """What has come, without what the coach says to it."""
    return [e for e in engine.events() if not isinstance(e, Click | Cue | Held)]


def after(*rows: Row, engine: Engine | None = None) -> list[Event]:
    engine = engine or begun()
    engine.receive(rows)
    return found(engine)


def counted(engine: Engine) -> dict[str, int]:
    return engine.skipped


# ---- time ----


def test_before_the_first_row_there_is_no_time() -> None:
    engine = Engine()
    assert engine.time is None and engine.deadline == LIMIT
    engine.advance(100.0)
    engine.command("fault", kind="disk_low")
    assert found(engine) == [Fault(0.0, 0.0, "disk_low", 1)]
    engine.end()
    assert found(engine) == []


def test_two_seconds_without_a_row_are_silence_told_once() -> None:
    engine = begun()
    assert engine.deadline == LAST + 2.0
    engine.advance(LAST + 1.99)
    assert found(engine) == []
    engine.advance(LAST + 2.0)
    assert found(engine) == [Fault(LAST + 2.0, LAST + 2.0, "silent", 1)]
    assert engine.deadline == LIMIT
    engine.advance(1e6)
    engine.end()
    assert found(engine) == []
    engine.end()
    assert found(engine) == [], "the end comes once"


def test_what_the_machine_reports_bears_the_time_of_the_last_row() -> None:
    engine = begun()
    engine.command("fault", kind="battery_low")
    engine.command("fault", kind="battery_low")
    assert found(engine) == [Fault(LAST, LAST, "battery_low", n) for n in (1, 2)]


def test_what_is_told_after_a_deadline_or_a_fix_was_not_known_before_it() -> None:
    """Silence is told by the clock, a fix comes without a row: what the machine or a row reports next is no older, nor
    is the end."""
    engine = begun()
    engine.advance(LAST + 2.0)
    engine.command("fault", kind="battery_low")
    told = after(row(LAST - 1.0), row(LAST - 1.5), engine=engine)
    assert [(e.kind, e.known) for e in told] == [(k, LAST + 2.0) for k in ("silent", "battery_low", "backward_time")]
    after(fix(LAST + 3.0), row(LAST - 2.0), row(LAST - 2.5), engine=engine)
    (late,) = after(row(LAST - 3.0), engine=engine)
    engine.command("pause")
    engine.command("fault", kind="disk_low")
    (full,) = found(engine)
    assert (late.known, full.known) == (LAST + 3.0,) * 2
    engine.end()
    assert [(e.kind, e.count, e.known) for e in found(engine)] == [("backward_time", 5, LAST + 3.0)]


@pytest.mark.parametrize(("every", "silent"), [(0.5, True), (1.0, True), (1.02, False)])
def test_broken_rows_carry_the_time_while_they_follow_each_other(every: float, silent: bool) -> None:
    """Within a second, as good ones do: silence is told when it is due. One wild stamp moves nothing."""
    told = after(*[(ACCEL, LAST + every * k, NAN, 0.0, G) for k in range(1, 7)])
    assert [(e.kind, e.time, e.known) for e in told if e.kind != "bad_value"] == [
        ("silent", *[LAST + 2.0] * 2)
    ] * silent
    assert all(a.known <= b.known for a, b in pairwise(told))


# ---- fixes ----


def fix(arrived: float = 0.5, age: float = 0.3, speed: float = 4.5, accuracy: float = 0.3, **more: float) -> Row:
    place = (more.get("lat", NAN), more.get("lon", NAN))
    return (FIX, arrived, arrived - age, speed, *place, accuracy, more.get("heading", NAN))


@pytest.mark.parametrize(
    ("given", "believed"),
    [({}, True), ({"speed": 0.0}, True), ({"speed": -0.01}, False), ({"speed": NAN}, False),
     ({"age": 2.0}, True), ({"age": 2.01}, False), ({"accuracy": 1.0}, True), ({"accuracy": 1.01}, False),
     ({"accuracy": NAN}, True), ({"arrived": 60.5}, True), ({"arrived": 60.51}, False), ({"age": NAN}, False),
     ({"age": -INF}, False), ({"arrived": NAN}, False), ({"arrived": INF}, False)],
    ids=str,
)  # fmt: skip
def test_which_fixes_are_believed(given: dict[str, float], believed: bool) -> None:
    """At most 2 s old, to 1 m/s, not more than a minute ahead of the samples; an accuracy that is not told is none."""
    assert [type(e) for e in after(fix(**given)) if not isinstance(e, Fault)] == [SpeedFix] * believed


def test_what_a_fix_tells() -> None:
    given = fix(0.5, 0.25, 4.5, 0.3, lat=54.0, lon=10.0, heading=90.0)
    assert after(given) == [SpeedFix(0.25, 0.5, 4.5, 54.0, 10.0, 0.3, 90.0)]
    assert after(fix(0.25, 0.25)) == [SpeedFix(0.0, 0.5, 4.5, None, None, 0.3, None)], "known with the last row"
    assert after(fix(), engine=Engine())[0].known == 0.5


@pytest.mark.parametrize(
    ("between", "arrived", "believed"),
    [([], [61.0, 121.0], [121.0]), ([], [61.0, 121.1], []), ([], [61.0, 61.0, 60.9], []),
     ([], [61.0, 62.0, 122.0], [62.0, 122.0]), ([], [60.0, 120.0, 180.0], [60.0, 120.0, 180.0]),
     ([], [7200.0, 7201.0], [7201.0]), ([LAST + 0.01], [7200.0, 7201.0], [])],
)  # fmt: skip
def test_a_fix_far_ahead_is_believed_when_another_bears_it_out(
    between: list[float], arrived: list[float], believed: list[float]
) -> None:
    """Over a minute after the last row or fix: the next follows within a minute, and no sample between says that it is
    the fixes' clock that is off."""
    given = [fix(LAST + t) for t in arrived]
    told = after(given[0], *map(row, between), *given[1:])
    assert [e.known for e in of(told, SpeedFix)] == [LAST + t for t in believed]


def test_a_fix_whose_clock_was_set_back_has_come_now() -> None:
    """It is as old as it says; up to a second it may be in its place."""
    engine = Engine()
    engine.receive([row(0.01 * k) for k in range(301)])
    told = after(fix(2.1, 0.25), fix(1.9, 0.25), fix(-3500.0, 0.25), engine=engine)
    assert [(e.time, e.known) for e in of(told, SpeedFix)] == [
        (pytest.approx(at), 3.0) for at in (1.85, 2.75, 2.75)
    ]  # fmt: skip
    (rounded,) = of(after(fix(-3500.0, -1e-9), engine=engine), SpeedFix)
    assert rounded.time <= rounded.known, "not of later than it came, to the last bit"


@pytest.mark.parametrize(
    ("given", "told"),
    [({"accuracy": 1.01}, True), ({"speed": NAN}, True), ({"speed": -0.01}, True),
     ({"accuracy": 1.01, "age": 2.01}, False),
     ({"accuracy": 1.01, "lon": NAN}, False), ({"accuracy": 1.01, "lat": INF}, False)],
    ids=str,
)  # fmt: skip
def test_a_place_whose_speed_is_not_believed_is_still_a_place(given: dict[str, float], told: bool) -> None:
    got = [e for e in after(fix(**{"lat": 54.0, "lon": 10.0, **given})) if not isinstance(e, Fault)]
    assert got == ([Place(0.2, 0.5, 54.0, 10.0)] if told else [])


# ---- rows that do not follow ----


def test_a_second_later_it_follows_and_two_hundredths_more_it_does_not_yet() -> None:
    assert after(row(LAST + 1.0)) == [Gap(LAST, LAST + 1.0, LAST + 1.0)]
    engine = begun()
    assert after(row(LAST + 1.02), engine=engine) == [] and engine.time == LAST
    assert after(row(LAST + 1.03), engine=engine) == [Gap(LAST, LAST + 1.03, LAST + 1.02)]
    assert engine.time == LAST + 1.03


@pytest.mark.parametrize(("every", "hole", "told"), [(0.01, 0.099, False), (0.01, 0.101, True), (0.04, 0.15, False),
                                                     (0.04, 0.17, True)])  # fmt: skip
def test_a_tenth_of_a_second_and_four_intervals_are_a_gap(every: float, hole: float, told: bool) -> None:
    engine = Engine()
    engine.receive([row(every * k) for k in range(401)])
    last = 400 * every
    assert [type(e) for e in of(after(row(last + hole), engine=engine), Gap)] == [Gap] * told


def test_all_axes_the_same_for_over_a_second_are_stuck() -> None:
    """Told once; and again when they have moved between."""
    same, engine = row(LAST)[2:], begun()
    assert after(*[(ACCEL, LAST + 0.01 * k, *same) for k in range(1, 101)], engine=engine) == []
    told = after(*[(ACCEL, LAST + 0.01 * k, *same) for k in range(101, 400)], engine=engine)
    assert [(e.kind, e.time) for e in of(told, Fault)] == [("stuck", pytest.approx(LAST + 1.01))]
    moved = (ACCEL, LAST + 4.0, same[0] + 0.1, *same[1:])
    told = after(moved, *[(ACCEL, LAST + 4.0 + 0.01 * k, *moved[2:]) for k in range(1, 110)], engine=engine)
    assert [(e.count, e.time) for e in of(told, Fault)] == [(2, pytest.approx(LAST + 5.01))]


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_one_axis_that_moves_is_enough(axis: int) -> None:
    engine, told = begun(), []
    for k in range(1, 250):
        values = [0.0, 0.0, 0.0]
        values[axis] = G + 0.01 * (k % 2)
        told += of(after((ACCEL, LAST + 0.01 * k, *values), engine=engine), Fault)
    assert told == []


def slowed(ratio: float) -> list[float]:
    """Rows every 10 ms for 4 s, then so many times as seldom for 6 s: when it is told that the rate has halved [s]."""
    times = [0.01 * k for k in range(400)] + [4.0 + 0.01 * ratio * k for k in range(round(600 / ratio))]
    engine = Engine()
    engine.receive([row(t) for t in times])
    return [e.time for e in of(engine.events(), Fault)]


def test_half_of_the_rows_missing_for_two_seconds_are_told() -> None:
    """The running mean of 50 passes 1.7 times the usual interval after n rows of twice that: 1 - 0.98^n = 0.7, n = 60,
    1.2 s (some more, as the usual one grows meanwhile); 2 s later it is told."""
    assert slowed(1.6) == []
    (at,) = slowed(2.0)
    assert 7.2 < at < 7.3


@pytest.mark.parametrize(
    ("first", "second", "joins"),
    [(5.0, 5.01, True), (5.0, 6.0, True), (5.0, 59.9, True), (5.0, 61.0, False), (100.0, 101.0, True),
     (100.0, 101.1, False), (5.0, 4.0, False), (-61.0, -60.5, True), (-100.0, -99.0, True), (-100.0, -98.9, False),
     (-100.0, -100.5, False)],
)  # fmt: skip
def test_a_row_gone_astray_is_believed_when_another_bears_it_out(first: float, second: float, joins: bool) -> None:
    """The next lies within a second after it, or both within a minute of the last."""
    engine = begun()
    assert after(row(LAST + first), engine=engine) == []
    told = after(row(LAST + second), engine=engine)
    assert counted(engine).get("backward_time", 0) == (not joins)
    if first > 0.0:
        assert [(e.time, e.end) for e in of(told, Gap)][:1] == [(LAST, LAST + first)] * joins
        assert engine.time == (LAST + second if joins else LAST)
    else:
        assert [e.kind for e in of(told, Fault)] == ["clock_jump" if joins else "backward_time"]
        assert engine.time == pytest.approx(LAST + 0.02 * joins)


@pytest.mark.parametrize("stale", [-7200.0, -0.995, 1.01, 7200.0])
def test_the_first_row_too_is_believed_when_another_bears_it_out(stale: float) -> None:
    """A sensor's first stamp may be an old one, from before it was asked: nothing begins there."""
    engine = Engine()
    assert after(row(stale), engine=engine) == [] and engine.time is None
    told = after(row(0.01), engine=engine)
    assert [(e.kind, e.time) for e in told] == [("backward_time", 0.0)] and engine.time is None
    assert after(row(0.02), row(0.03), engine=engine) == [] and engine.time == 0.03
    engine = Engine()
    assert after(row(0.0), row(0.0), row(1.0), engine=engine)[1:] == [Gap(0.0, 1.0, 1.0)] and engine.time == 1.0


@pytest.mark.parametrize("behind", [0.5, 2.0, 90.0])
@pytest.mark.parametrize("ahead", [0.0, 100.0])
def test_of_two_writers_in_turn_each_bears_out_its_own_rows(behind: float, ahead: float) -> None:
    """Each row is followed by one of a while ago: the outing begins all the same, and goes on after a long gap."""
    engine = begun() if ahead else Engine()
    steps = [ahead + 0.01 * k for k in range(60)]
    engine.receive([row(t) for at in steps for t in (at, at - behind)])
    assert engine.time == steps[-1]
    assert [gap.end for gap in of(found(engine), Gap)] == [ahead] * bool(ahead)


def test_one_row_alone_is_no_outing() -> None:
    engine = Engine()
    engine.receive([row(7.0)])
    engine.end()
    assert found(engine) == [Fault(0.0, 0.0, "backward_time", 1)] and engine.time is None


@pytest.mark.parametrize("stale", [-7200.0, 7200.0, 1.7e9])
@pytest.mark.parametrize("odd", ["broken", "broken rotation", "second"])
def test_a_row_that_is_skipped_before_the_first_carries_no_time(stale: float, odd: str) -> None:
    """It would use up the time limit's call: "60 min on the water" before the first pump, and none after an hour."""
    engine = Engine()
    first = {"broken": (ACCEL, stale, NAN, 0.0, G), "broken rotation": (GYRO, stale, NAN, 0.0, 0.0)}.get(odd)
    engine.receive([*([first] if first else [row(0.0), row(stale)]), row(0.01), row(0.02), row(0.03)])
    assert engine.time == 0.03 and engine.deadline == 0.03 + 2.0
    assert {(type(e), e.known) for e in engine.events()} == {(Fault, 0.0)}
    engine.advance(LIMIT)
    assert [(e.kind, e.known) for e in of(engine.events(), Cue)][-1:] == [("time_limit", LIMIT)]


def test_what_nothing_bears_out_is_late() -> None:
    """The rows go on where they were, or end: one row is skipped, nothing else happens."""
    for then in ([row(LAST + 0.01)], []):
        engine = begun()
        engine.receive([row(LAST + 7.0), *then])
        engine.end()
        assert counted(engine) == {"backward_time": 1}
        assert [type(e) for e in found(engine)] == [Fault]


@pytest.mark.parametrize(
    ("t", "kind"),
    [(LAST, "repeated_time"), (LAST - 0.01, "backward_time"), (LAST - 60.0, "backward_time"), (LAST - 60.5, None)],
)
def test_late_rows(t: float, kind: str | None) -> None:
    """Up to a minute back is a late row once the next is none; more, and the clock may have been set back."""
    engine = begun()
    told = after(row(t), engine=engine)
    assert engine.time == LAST
    told += after(row(LAST + 0.01), engine=engine)
    assert [(e.kind, e.count) for e in of(told, Fault)] == [(kind or "backward_time", 1)]
    assert engine.time == LAST + 0.01


@pytest.mark.parametrize(
    ("times", "last", "skipped"),
    [([-5.0, -4.5, -4.0], 0.02 + 1.0, {"clock_jump": 1}), ([-5.0, -4.5, -4.01], 0.0, {"backward_time": 3}),
     ([-5.0, -4.5, 0.01], 0.01, {"backward_time": 2}), ([-5.0, -4.5, -4.6, -4.0, -3.7], 0.0, {"backward_time": 5}),
     ([-5.0, -4.5, -4.6, -4.0, -3.59], 0.02 + 1.01, {"backward_time": 2, "clock_jump": 1}),
     ([-5.0, -4.5, -4.5, -4.0], 0.02 + 1.0, {"repeated_time": 1, "clock_jump": 1}),
     ([-5.0, -4.5, -70.0, -4.0], 0.02 + 1.0, {"backward_time": 1, "clock_jump": 1}),
     ([-5.0, -3.9, -3.4], 0.0, {"backward_time": 3}),
     ([-60.0, -59.5, -59.0, -58.99], 0.02 + 1.01, {"clock_jump": 1})],
)  # fmt: skip
def test_late_rows_that_go_on_for_a_second_are_a_clock_set_back(
    times: list[float], last: float, skipped: dict[str, int]
) -> None:
    """Each within a second after the one before; then none of them is lost. What ends sooner is late."""
    engine = begun()
    engine.receive([row(LAST + t) for t in times])
    engine.end()
    assert counted(engine) == skipped
    assert engine.time == pytest.approx(LAST + last)


def test_rotation_waits_with_the_late_rows_that_it_comes_with() -> None:
    turned = (GYRO, LAST - 4.7, 0.0, 0.0, 0.1)
    engine = begun()
    engine.receive([row(LAST - 5.0), turned, row(LAST - 4.5), row(LAST - 4.0)])
    assert counted(engine) == {"clock_jump": 1}
    engine = begun()
    engine.receive([row(LAST - 5.0), turned, row(LAST + 0.01)])
    assert counted(engine) == {"backward_time": 1, "late_rotation": 1}


def test_what_waits_to_be_borne_out_is_bounded() -> None:
    late = Late()
    late.add(row(LAST))
    waits = [late.turned((GYRO, LAST, 0.0, 0.0, 0.1)) for _ in range(10_000)]
    assert waits == [True] * 4095 + [False] * 5905
    assert len(late.borne_out()) == 4096 and not late


def test_a_repeated_row_gone_astray_is_repeated() -> None:
    engine = begun()
    told = after(row(LAST + 9.0), row(LAST + 9.0), engine=engine)
    assert [e.kind for e in of(told, Fault)] == ["repeated_time"]
    assert [type(e) for e in after(row(LAST + 9.01), engine=engine)] == [Fault, Gap]


@pytest.mark.parametrize(("ahead", "jump"), [(3599.0, False), (3600.5, True)])
def test_an_hour_ahead_is_a_jump_of_the_clock(ahead: float, jump: bool) -> None:
    told = after(row(LAST + ahead), row(LAST + ahead + 0.01))
    assert [e.kind for e in of(told, Fault)] == ["silent", *["clock_jump"] * jump]
    assert of(told, Fault)[0].time == LAST + 2.0


def test_after_the_clock_was_set_back_time_goes_on() -> None:
    """Two intervals after the last row; rows, fixes and rotation rates of the new clock are moved with it."""
    engine = begun()
    told = after(row(LAST - 100.0), row(LAST - 99.99), engine=engine)
    assert [(e.kind, e.time) for e in of(told, Fault)] == [("clock_jump", pytest.approx(LAST + 0.02))]
    (speed,) = of(after(fix(LAST - 99.99, 0.25), engine=engine), SpeedFix)
    assert speed.time == pytest.approx(LAST + 0.02 - 0.25)
    assert after(row(LAST - 99.98), (GYRO, LAST - 99.98, 0.0, 0.0, 0.1), engine=engine) == []
    assert engine.time == pytest.approx(LAST + 0.03)
    told = after((GYRO, LAST - 101.0, 0.0, 0.0, 0.1), engine=engine)
    assert [(e.kind, e.time) for e in of(told, Fault)] == [("late_rotation", pytest.approx(LAST + 0.03))]


@pytest.mark.parametrize(
    ("bad", "kind", "at"),
    [((ACCEL, LAST - 0.9, NAN, 0.0, G), "bad_value", LAST - 0.9), ((ACCEL, LAST - 1.1, NAN, 0.0, G), "bad_value", LAST),
     ((ACCEL, LAST + 0.1, NAN, 0.0, G), "bad_value", LAST), ((ACCEL, NAN, 0.0, 0.0, G), "bad_value", LAST),
     ((ACCEL, LAST + 0.01, 0.0, 40.1 * G, 0.0), "out_of_range", LAST),
     ((ACCEL, LAST + 0.01, -40.1 * G, 0.0, 0.0), "out_of_range", LAST),
     ((ACCEL, LAST + 0.01, 0.0, 0.0, 1e30), "out_of_range", LAST),
     ((GYRO, LAST - 0.4, 0.0, 0.0, 0.1), "late_rotation", LAST - 0.4),
     ((GYRO, LAST - 0.4, 0.0, 0.0, 40.1), "out_of_range", LAST - 0.4),
     ((GYRO, LAST + 0.01, 24.0, -24.0, 24.0), "out_of_range", LAST),
     ((GYRO, LAST + 0.01, INF, 0.0, 0.1), "bad_value", LAST),
     ((GYRO, LAST + 0.01, 0.0, INF, 0.1), "bad_value", LAST), ((GYRO, LAST + 0.01, 0.0, 0.0, NAN), "bad_value", LAST)],
)  # fmt: skip
def test_broken_rows_bear_their_own_time_if_it_is_within_the_last_second(bad: Row, kind: str, at: float) -> None:
    assert after(bad) == [Fault(at, LAST, kind, 1)]


def test_forty_g_are_within_the_range() -> None:
    assert of(after((ACCEL, LAST + 0.01, 40.0 * G, -40.0 * G, 40.0 * G)), Fault) == []


def test_forty_radians_a_second_are_within_the_range() -> None:
    assert of(after((GYRO, LAST + 0.01, 24.0, -32.0, 0.0)), Fault) == []


# ---- what goes on inside ----


def test_a_stuck_axis_is_told_at_the_fourth_onset_after_it_stood_still() -> None:
    stream = bounce(20.0)
    held = [(*r[:2], stream[1000][2], *r[3:]) if r[1] >= 10.0 else r for r in stream]
    events = run(held)
    onsets = [e.known for e in of(events, Onset) if e.known > 10.0]
    assert [(e.kind, e.time) for e in of(events, Fault)] == [("stuck", onsets[3])]


def test_events_are_handed_over_once() -> None:
    engine = Engine()
    engine.receive(bounce(5.0))
    got = engine.events()
    assert len(of(got, Onset)) > 4 and engine.events() == []


def test_three_slaps_are_told() -> None:
    """4 g for a row each, 0.4 s apart; told after 0.8 s of quiet (test_slaps.py)."""
    engine = Engine()
    engine.receive([(ACCEL, t, 0.0, 0.1, 4.0 * G) if k in (100, 140, 180) else row(t)
                    for k in range(300) for t in (round(0.01 * k, 2),)])  # fmt: skip
    assert of(engine.events(), Slaps) == [Slaps(1.0, pytest.approx(2.61, abs=0.011))]


def test_calm_is_told() -> None:
    """Four seconds of rest and a little more (test_motion.py): the magnitude reaches those who ask for it."""
    engine = Engine()
    engine.receive([row(0.01 * k) for k in range(460)])
    (calm,) = of(engine.events(), Calm)
    assert calm.time == pytest.approx(4.375, abs=0.03)  # the rows are not quite at rest
