"""What sensors do wrong: bad rows, gaps, stuck axes, clocks that jump, rates that drop, speed that goes. All of it is
told and the outing goes on."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from cadence_coach.core.engine import Engine
from cadence_coach.core.events import (
    ACCEL,
    FIX,
    GYRO,
    AttemptStarted,
    Cue,
    Event,
    Fault,
    FlightEnded,
    FlightStarted,
    Gap,
    Onset,
    Row,
    SpeedFix,
    Still,
)
from cadence_coach.core.units import G

from .streams import NAN, bounce, crossings, of, outing, rows, run

INF = math.inf


def faults(events: list[Event]) -> dict[str, int]:
    """The last count of each kind that was told."""
    return {e.kind: e.count for e in events if isinstance(e, Fault)}


BAD = {
    "bad_value": [lambda r: (ACCEL, r[1] + 1e-4, NAN, r[3], r[4]), lambda r: (ACCEL, r[1] + 1e-4, r[2], INF, r[4]),
                  lambda r: (ACCEL, NAN, *r[2:]), lambda r: (ACCEL, INF, *r[2:])],
    "repeated_time": [lambda r: r, lambda r: (ACCEL, r[1], 0.0, 0.0, 0.0)],
    "backward_time": [lambda r: (ACCEL, r[1] - 0.005, *r[2:]), lambda r: (ACCEL, r[1] - 59.0, *r[2:]),
                      lambda r: (ACCEL, r[1] - 4000.0, *r[2:]), lambda r: (ACCEL, r[1] + 30.0, *r[2:]),
                      lambda r: (ACCEL, r[1] + 1e12, *r[2:])],
    "out_of_range": [lambda r: (ACCEL, r[1] + 1e-4, 41.0 * G, r[3], r[4]),
                     lambda r: (ACCEL, r[1] + 1e-4, r[2], -1e30, r[4]),
                     lambda r: (GYRO, r[1], 0.0, 950.0, 0.0), lambda r: (GYRO, r[1], -1e200, 0.0, 0.0)],
    "late_rotation": [lambda r: (GYRO, r[1] - 1.0, 9.0, 9.0, 9.0)],
}  # fmt: skip


@pytest.mark.parametrize(("kind", "which"), [(k, i) for k, makers in BAD.items() for i in range(len(makers))])
def test_bad_rows_are_skipped_counted_and_told(kind: str, which: int) -> None:
    """Thirteen of a kind among good rows: everything else is as if they had not been there."""
    good = rows(outing())[:4000]
    places = set(range(300, 3900, 300)) | {3950}
    spoiled: list[Row] = []
    for i, r in enumerate(good):
        spoiled.append(r)
        if i in places and r[0] == ACCEL:
            spoiled.append(BAD[kind][which](r))
    count = len(spoiled) - len(good)
    assert count >= 11
    engine = Engine()
    engine.receive(spoiled)
    engine.end()
    events = engine.events()
    assert engine.skipped == {kind: count}
    told = [e.count for e in of(events, Fault)]
    assert told == [1, 2, 4, 8, count], "at each doubling, and how many in all at the end"
    assert all(good[0][1] <= e.time <= e.known <= good[-1][1] for e in of(events, Fault))
    assert [e for e in events if not isinstance(e, Fault)] == run(good)


def test_bad_rows_before_any_good_one() -> None:
    good = bounce(6.0)
    events = run([(ACCEL, NAN, 0.0, 0.0, 9.8), (ACCEL, 0.0, NAN, 0.0, 9.8), (GYRO, NAN, 0.0, 0.0, 0.0), *good])
    assert faults(events) == {"bad_value": 3}
    assert all(math.isfinite(e.time) and math.isfinite(e.known) for e in events)
    assert crossings(events) == crossings(run(good))


def test_nothing_but_bad_rows() -> None:
    events = run([(ACCEL, NAN, NAN, NAN, NAN)] * 5)
    assert [(e.kind, e.count) for e in of(events, Fault)] == [("bad_value", n) for n in (1, 2, 4, 5)]
    assert all(math.isfinite(e.time) for e in events)


def without(stream: list[Row], start: float, end: float) -> list[Row]:
    return [r for r in stream if not start < r[1] < end]


@pytest.mark.parametrize("seconds", [0.15, 0.35, 0.9, 1.5, 8.0])
def test_gaps_are_told_with_their_ends(seconds: float) -> None:
    stream = without(bounce(30.0), 10.0, 10.0 + seconds - 0.005)
    before, after = (max(r[1] for r in stream if r[1] <= 10.0), min(r[1] for r in stream if r[1] > 10.0))
    events = run(stream)
    gaps = of(events, Gap)
    assert [(g.time, g.end) for g in gaps] == [(before, after)]
    assert faults(events) == ({"silent": 1} if seconds > 2.0 else {})
    again = [e.time for e in of(events, Onset) if e.time > after]
    assert again[0] - after < 2.5 / 1.6, "found again within two and a half bounces"
    assert np.abs(np.diff(again[2:]) - 0.625).max() < 0.01


@pytest.mark.parametrize(("seconds", "told"), [(0.9, True), (1.5, False), (18.0, False)])
def test_stillness_is_what_was_seen(seconds: float, told: bool) -> None:
    """Half a minute at rest with a hole in it: across up to a second it is joined, longer ones begin it anew."""
    at_rest = [(ACCEL, 0.01 * k, 0.001 * (k % 3), 0.001 * (k % 4), G + 0.001 * (k % 5)) for k in range(3000)]
    events = run(without(at_rest, 13.0, 13.0 + seconds))
    assert [(type(e), 20.0 < e.time < 26.0) for e in of(events, Still)] == [(Still, True)] * told


def test_a_blow_before_a_gap_is_not_moved_behind_it() -> None:
    """The last 0.1 s are looked at as one: not across a gap."""
    stream = [(ACCEL, 0.01 * k, 0.0, 0.001 * (k % 7), G * (3.0 if k == 1003 else 1.0)) for k in range(1005)]
    engine = Engine()
    engine.receive([*stream, *[(ACCEL, 20.0 + 0.01 * k, 0.0, 0.001 * (k % 7), G) for k in range(100)]])
    motion = engine._flights.motion
    assert motion.highest(19.0, 21.0)[1] == pytest.approx(1.0, abs=0.01)


def test_a_gap_between_two_glides_is_no_leap() -> None:
    """Three seconds of a flight are lacking, from one weightless glide to another."""
    stream = rows(outing("calm", 8), fixes=False)
    flight = max(of(run(stream), FlightEnded), key=lambda f: f.pumps)
    light = [r[1] for r in stream if math.dist(r[2:], (0, 0, 0)) < 0.35 * G and flight.start + 3 < r[1] < flight.time]
    start, end = next((a, b) for a in light for b in light if abs(b - a - 3.0) < 0.05)
    begun = [e for e in of(run(without(stream, start, end)), AttemptStarted) if end <= e.time < end + 3.0]
    assert [(e.started_by, e.landing_g) for e in begun] == [("unknown", None)]


def test_a_short_hole_is_no_gap_nor_is_a_slow_sensor() -> None:
    assert of(run(without(bounce(20.0), 10.0, 10.075)), Gap) == []
    slow = of(run(bounce(60.0, rate=9.0)), Gap)
    assert len(slow) < 40, "9 rows a second are slow, not a gap after each"


def test_all_axes_stuck() -> None:
    stream = bounce(20.0)
    held = [(*r[:2], *stream[1000][2:]) if 10.0 <= r[1] < 14.0 else r for r in stream]
    told = of(run(held), Fault)
    assert [(e.kind, e.count) for e in told] == [("stuck", 1)]
    assert 11.0 < told[0].time < 11.1, "1 s after the sensor stopped moving"


def test_one_axis_stuck() -> None:
    stream = bounce(30.0)
    held = [(*r[:2], stream[1000][2], *r[3:]) if r[1] >= 10.0 else r for r in stream]
    told = of(run(held), Fault)
    assert [(e.kind, e.count) for e in told] == [("stuck", 1)]
    assert 11.5 < told[0].time < 14.0


def test_an_axis_that_never_moved_is_not_there_and_none_is_stuck() -> None:
    assert faults(run([(*r[:2], 0.0, *r[3:]) for r in bounce(20.0)])) == {}


def shifted(r: Row, by: float) -> Row:
    return (FIX, r[1] + by, r[2] + by, *r[3:]) if r[0] == FIX else (r[0], r[1] + by, *r[2:])


@pytest.mark.parametrize("back", [1.5, 5.0, 15.0, 59.0, 61.0, 3600.0, 1e9])
def test_a_clock_that_is_set_back_is_told_and_nothing_else_is_lost(back: float) -> None:
    """The clock jumps in the middle of a ride with rotation and speed: own time goes on and so do the pumps."""
    stream = next(rows(o, gyro=True) for s in range(5, 30) if (o := outing("calm", s)).gyro is not None)
    at = stream[len(stream) // 2][1]
    jumped = [shifted(r, -back) if r[1] > at else r for r in stream]
    events, plain = run(jumped), run(stream)
    assert run(jumped, [1] * len(jumped)) == events
    told = [e for e in of(events, Fault) if e.kind == "clock_jump"]
    assert [e.count for e in told] == [1] and at < told[0].time < at + 0.05
    assert set(faults(events)) <= {"clock_jump", "late_rotation"} | set(faults(plain))
    a, b = crossings(plain), crossings(events)
    assert [kind for kind, _ in a] == [kind for kind, _ in b]
    assert np.abs(np.array([t for _, t in a]) - np.array([t for _, t in b])).max() < 0.03
    assert len(of(events, SpeedFix)) == len(of(plain, SpeedFix))
    known = [e.known for e in events]
    assert known == sorted(known)


@pytest.mark.parametrize("gyro", [False, True])
def test_rows_that_come_late_by_the_second_are_no_clock_set_back(gyro: bool) -> None:
    """A logger that writes its buffer twice, a second source whose blocks come behind: late rows, however even."""
    stream = next(rows(o, gyro=gyro) for s in range(5, 30) if (o := outing("calm", s)).gyro is not None)
    late: list[Row] = []
    for k in range(0, 4000, 200):
        block = stream[k : k + 200]
        late += block
        late += [r for r in block[-90:] if r[0] != FIX]
    late += stream[4000:]
    twice = late + [r for r in stream[-90:-1] if r[0] != FIX]
    events = run(twice)
    assert set(faults(events)) <= {"backward_time", "repeated_time", "late_rotation"} | set(faults(run(stream)))
    assert faults(events)["backward_time"] > 500
    assert [e for e in events if not isinstance(e, Fault)] == [e for e in run(stream) if not isinstance(e, Fault)]


@pytest.mark.parametrize("long", [1.2, 5.0, 40.0])
@pytest.mark.parametrize("rate", [20.0, 100.0, 200.0])
def test_a_block_that_is_written_twice_is_late_however_long(long: float, rate: float) -> None:
    """The same stamps and the same values: not a clock that was set back, whose rows are new."""
    stream = bounce(60.0, rate=rate)
    k, n = int(50.0 * rate), int(long * rate)
    twice = [*stream[:k], *stream[k - n : k], *stream[k:]]
    events, plain = run(twice), run(stream)
    assert set(faults(events)) == {"backward_time", "repeated_time"}
    assert sum(faults(events).values()) == n
    assert [e for e in events if not isinstance(e, Fault)] == [e for e in plain if not isinstance(e, Fault)]
    assert run(twice, [7] * len(twice)) == events
    anew = [*stream[:k], *(shifted(r, -long) for r in stream[k:])]
    assert faults(run(anew)) == {"clock_jump": 1}


def test_a_clock_that_jumps_ahead_by_hours() -> None:
    stream = bounce(30.0)
    jumped = [shifted(r, 7200.0) if r[1] > 15.0 else r for r in stream]
    events = run(jumped)
    assert faults(events) == {"silent": 1, "clock_jump": 1}
    assert [(g.time, round(g.end - g.time)) for g in of(events, Gap)] == [(15.0, 7200)]
    assert len([e for e in of(events, Onset) if e.time > 7215.0]) >= 20
    assert run(jumped, [1] * len(jumped)) == events


def test_the_rate_drops_to_half() -> None:
    stream = bounce(60.0, rate=100.0)
    thin = [r for i, r in enumerate(stream) if not (20.0 < r[1] < 40.0 and i % 2)]
    told = of(run(thin), Fault)
    assert [(e.kind, e.count) for e in told] == [("rate_halved", 1)]
    assert 22.0 < told[0].time < 24.5


def test_the_rate_drops_twice_and_is_told_twice() -> None:
    stream = bounce(60.0, rate=100.0)
    thin = [r for i, r in enumerate(stream) if not ((r[1] % 20.0) > 10.0 and r[1] < 40.0 and i % 2)]
    assert faults(run(thin)) == {"rate_halved": 2}


@pytest.mark.parametrize("rate", [50.0, 100.0, 200.0, 400.0])
def test_a_steady_rate_with_jitter_is_none(rate: float) -> None:
    rng = np.random.default_rng(4)
    stream = bounce(30.0, rate=rate)
    jitter = np.clip(0.003 * rng.standard_normal(len(stream)), -0.45 / rate, 0.45 / rate).tolist()
    assert faults(run([(r[0], r[1] + 0.01 + j, *r[2:]) for r, j in zip(stream, jitter, strict=True)])) == {}


def flown(fixes_until: float, accuracy: float = 0.3) -> tuple[list[Event], FlightEnded]:
    """A long flight with a fix a second until so long after its first onset [s]."""
    o = outing("long", 2, 50.0)
    stream = rows(o, fixes=False)
    flight = max(of(run(stream), FlightEnded), key=lambda f: f.pumps)
    assert flight.time - flight.start > 60.0
    stream = [r for r in stream if flight.start - 60.0 < r[1] < flight.time + 10.0]
    n = round(min(flight.start + fixes_until, stream[-1][1]) - stream[0][1]) - 1
    fixes = [(FIX, t := stream[0][1] + k + 0.5, t - 0.2, 4.5, NAN, NAN, accuracy, NAN) for k in range(n)]
    events = run(sorted([*stream, *fixes], key=lambda r: (r[1], r[0] != FIX)))
    return events, max(of(events, FlightEnded), key=lambda f: f.pumps)


def test_speed_that_goes_in_a_flight_is_told_once() -> None:
    events, flight = flown(20.0)
    last = of(events, SpeedFix)[-1].known
    told = of(events, Fault)
    assert flight.start + 10.0 < last < flight.time - 20.0
    assert [(e.kind, e.time) for e in told] == [("speed_lost", last + 10.0)]


def test_speed_that_never_came_in_this_flight_is_not_lost() -> None:
    """The first 5-15 s of an attempt rarely have speed (common practice, no source): not worth a word."""
    events, _ = flown(-5.0)
    assert of(events, SpeedFix) and faults(events) == {}


def test_speed_that_stays_is_not_lost_and_poor_fixes_are_none() -> None:
    events, _ = flown(1000.0)
    assert faults(events) == {}
    events, _ = flown(1000.0, accuracy=1.5)
    assert of(events, SpeedFix) == [] and faults(events) == {}


@pytest.mark.parametrize("broken", [False, True])
def test_a_silent_sensor_is_told_at_the_same_moment_live_and_in_replay(broken: bool) -> None:
    """Also where fixes go on while the accelerometer is silent, or gives nothing but broken rows: the order of events
    is the same, and none was known before the one before it."""
    stream = without(bounce(30.0), 10.0, 15.0)
    if broken:
        stream += [(ACCEL, r[1], NAN, *r[3:]) for r in bounce(15.0) if r[1] > 10.0]
    fixes = [(FIX, 9.7 + k, 9.6 + k, 4.5, NAN, NAN, 0.3, NAN) for k in range(12)]
    stream = sorted([*stream, *fixes], key=lambda r: r[1])
    engine, live = Engine(), []
    clock = 0.0
    for r in stream:
        while clock < r[1]:
            engine.advance(clock)
            live += engine.events()
            clock += 0.05
        engine.receive([r])
        live += engine.events()
    engine.end()
    live += engine.events()
    replay = run(stream)
    assert [e.time for e in of(replay, Fault) if e.kind == "silent"] == [12.0]
    assert live == replay and len(of(replay, Fault)) == (1 + 10 * broken)
    assert all(a.known <= b.known for a, b in pairwise(replay))


def test_what_the_end_brings_was_not_known_before_the_last_fix() -> None:
    """The accelerometer gives out in flight, fixes go on for 40 s: the flight ends where it did, told with the end."""
    stream = rows(outing())
    at = next(e.known for e in of(run(stream), FlightStarted)) + 5.0
    flown = [r for r in stream if r[1] < at]
    events, short = run([*flown, *(r for r in stream if r[0] == FIX and at < r[1] < at + 40.0)]), run(flown)
    assert all(a.known <= b.known for a, b in pairwise(events))
    (ended,), (before,) = of(events, FlightEnded), of(short, FlightEnded)
    assert ended.known == of(events, SpeedFix)[-1].known > at + 38.0 and ended.ended_by == "end_of_data"
    assert replace(ended, known=before.known) == before and before.known < at


@pytest.mark.parametrize("hole", [(), (200.0, 270.0)], ids=["fixes go on", "a hole in the fixes too"])
def test_who_drifts_off_is_called_though_the_accelerometer_fell_silent(hole: tuple[float, ...]) -> None:
    """5 s after the flight the accelerometer stops for good; the fixes say 0.5 m/s away from there for ten minutes."""
    stream = rows(outing(), fixes=False)
    flight = of(run(stream), FlightEnded)[0]
    stream = [r for r in stream if r[1] < flight.time + 5.0]
    fixes = [(FIX, float(k), k - 0.2, 0.5, 55.0 + 0.5 * k / 111_195.0, 11.0, 0.3, 0.0) for k in range(600)]
    if hole:
        fixes = without(fixes, *hole)
    events = run(sorted([*stream, *fixes], key=lambda r: r[1]))
    assert len(of(events, SpeedFix)) == len(fixes) - bool(hole), "after the hole a second bears out the first"
    calls = [e.known for e in of(events, Cue) if e.kind == "turn_back"]
    begun = of(events, FlightStarted)[0].known
    assert calls[0] == pytest.approx(begun + 300.0, abs=10.0), "150 m at 0.5 m/s"


def test_what_the_machine_reports() -> None:
    engine = Engine()
    engine.receive(bounce(2.0))
    engine.command("fault", kind="disk_low")
    assert [(e.kind, e.count) for e in of(engine.events(), Fault)] == [("disk_low", 1)]
    with pytest.raises(ValueError, match="no such fault"):
        engine.command("fault", kind="bored")
    engine.end()
    assert of(engine.events(), Fault) == [], "told already"
