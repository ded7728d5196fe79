"""Bytes into rows, rows into time order, three clocks into one: without a phone or a JVM, with known answers."""

from __future__ import annotations

import math
import struct
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from cadence_coach.core.events import ACCEL, FIX, GYRO
from cadence_coach.errors import CouldNot, Refused
from cadence_coach.sources import open_source
from cadence_coach.sources.phone_clocks import SensorClock
from cadence_coach.sources.phone_rows import FIX_RECORD, HOLD_S, SENSOR_RECORD, RowMerger, from_the_first, unpack
from tests.android import toolbox


def test_records_are_what_java_writes():
    """ByteBuffer, little-endian: see SensorBatcher.java and LocationSink.java."""
    assert (SENSOR_RECORD.itemsize, FIX_RECORD.itemsize) == (32, 48)
    blob = struct.pack("<q", 7) + struct.pack("<qqfffi", 5_000_000_000, 5_003_000_000, 0.1, -9.75, 3.5, 1)
    dropped, [record] = unpack(blob, SENSOR_RECORD)
    assert dropped == 7
    assert (record["stamp"], record["arrived"], record["kind"]) == (5_000_000_000, 5_003_000_000, 1)
    assert record["xyz"].tolist() == [float(np.float32(0.1)), -9.75, 3.5]


def records(*given: tuple[int, float]) -> np.ndarray:
    """Of (kind, stamp in s)."""
    return np.array([(round(t * 1e9), round(t * 1e9), (0.0, 0.0, 9.8), kind) for kind, t in given], SENSOR_RECORD)


@pytest.mark.parametrize("stale", [-7200.0, 3.9, 6.1, 7200.0])
def test_a_stale_first_stamp_is_no_begin(stale):
    """Time 0 is the first acceleration that another follows within a second, whatever the blocks."""
    good = records((1, 5.0), (0, 5.0), (1, 5.01), (0, 5.01), (0, 5.02))
    coming = np.concatenate([records((1, stale), (0, stale)), good])
    for block in range(1, len(coming) + 1):
        waiting, first = records(), None
        for k in range(0, len(coming), block):
            waiting = np.concatenate([waiting, coming[k : k + block]])
            if first is None:
                first, waiting = from_the_first(waiting)
        assert first == 5_000_000_000
        assert [(r["kind"], r["stamp"]) for r in waiting if r["kind"] == 0] == [
            (0, 5_000_000_000), (0, 5_010_000_000), (0, 5_020_000_000)
        ]  # fmt: skip
        assert all(5_000_000_000 <= r["stamp"] <= 5_020_000_000 for r in waiting)


def test_what_waits_for_a_begin_is_bounded():
    first, waiting = from_the_first(records((0, 5.0), *((1, 5.0 + 0.01 * k) for k in range(1000))))
    assert first is None and waiting["kind"][0] == 0 and len(waiting) < 100
    assert from_the_first(records((1, 5.0), (1, 6.0)))[0] is None


streams = st.lists(st.integers(0, 5000), max_size=60).map(sorted)


@settings(max_examples=200, deadline=None)
@given(streams, streams, streams, st.lists(st.integers(1, 9), min_size=1, max_size=40), st.booleans())
@example([3421], [3414], [], [1], True)
@example([1421], [1414], [], [1], True)
def test_whatever_the_pieces_rows_leave_in_time_order_each_once(accel, gyro, fixes, pieces, late):
    """Each sensor's events come in their order, one up to 25 ms behind the other, cut into any pieces. A sensor
    that was silent for 2 s is waited for no more: what it says then may be overtaken."""
    rows = [(ACCEL, t / 1000, 0.0, 0.0, 9.8) for t in accel] + [(GYRO, t / 1000, 0.0, 0.0, 0.0) for t in gyro]
    rows += [(FIX, t / 1000, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0) for t in fixes]
    lag = {ACCEL: 0.0, GYRO: 0.025 if late else 0.0, FIX: 0.0}
    coming = sorted(rows, key=lambda r: (r[1] + lag[r[0]], r[0] != FIX, r[0] != GYRO))
    merger, out, k = RowMerger(rotation=bool(gyro)), [], 0
    while coming:
        piece, coming = coming[: pieces[k % len(pieces)]], coming[pieces[k % len(pieces)] :]
        k += 1
        merger.add(piece)
        out += merger.take(piece[-1][1] + lag[piece[-1][0]])
    out += merger.rest()
    assert sorted(out) == sorted(rows)
    for first, then in pairwise([r for r in out if r[0] != FIX]):
        if then[1] < first[1]:
            heard = max((r[1] for r in rows if r[0] == then[0] and r[1] < then[1]), default=-HOLD_S)
            assert first[1] + 0.025 - heard >= 2.0, "overtaken, and was not silent"
    for kind in (ACCEL, GYRO, FIX):
        assert [r for r in out if r[0] == kind] == [r for r in rows if r[0] == kind]


def test_acceleration_is_not_held_back_by_a_dead_gyroscope():
    merger = RowMerger(rotation=True)
    merger.add([(ACCEL, 0.0, 0, 0, 9.8), (GYRO, 0.0, 0, 0, 0)])
    assert len(merger.take(0.0)) == 2
    for k in range(1, 400):
        t = k / 100
        merger.add([(ACCEL, t, 0, 0, 9.8)])
        held = t - max((r[1] for r in merger.take(t)), default=t - HOLD_S)
        assert held <= (HOLD_S + 0.011 if t < 2.02 else 0.0)  # QUIET_S, then it is waited for no more


@pytest.mark.parametrize("burst_s", [0.05, 0.1, 0.2, 1.0])
def test_bursts_wait_for_the_rotation_that_comes_right_after_them(burst_s):
    """Some sensors hand over in bursts, unasked: what is waited for is the time since they came, not their age."""
    merger, out, n = RowMerger(rotation=True), [], round(100 * burst_s)
    for k in range(0, 1000, n):
        times = [t / 100 for t in range(k, k + n)]
        merger.add([(ACCEL, t, 0, 0, 9.8) for t in times])
        out += merger.take(times[-1] + 0.005)
        merger.add([(GYRO, t, 0, 0, 0) for t in times])
        out += merger.take(times[-1] + 0.005 + 0.025)
        assert out[-1][:2] == (ACCEL, times[-1])  # and no longer
    assert len(out) == 2000 and all(a[1] <= b[1] for a, b in pairwise(out))


def test_bursts_are_not_held_for_a_rotation_that_does_not_come():
    merger = RowMerger(rotation=True)
    merger.add([(ACCEL, t / 100, 0, 0, 9.8) for t in range(100)])
    assert merger.take(1.0) == [] and merger.take(1.0 + HOLD_S - 0.01) == []
    merger.add([(ACCEL, 1.0, 0, 0, 9.8)])
    assert len(merger.take(1.0 + HOLD_S + 0.001)) == 100  # what came with them, and not what has come since
    assert len(merger.take(0.5)) == 1  # a clock that was set anew keeps nobody waiting


def test_a_clock_that_goes_back_keeps_its_order():
    """The engine must see the fault: nothing is sorted away within a stream."""
    merger = RowMerger(rotation=False)
    merger.add([(ACCEL, t, 0, 0, 9.8) for t in (1.0, 2.0, 1.5, 1.6)])
    assert [r[1] for r in merger.take(2.5) + merger.rest()] == [1.0, 2.0, 1.5, 1.6]


def clock_of(offset, drift, delays, seconds=120.0, rate=100.0):
    clock = SensorClock()
    for k, delay in zip(range(int(seconds * rate)), delays, strict=False):
        boot = k / rate
        clock.add(boot * (1 + drift) + offset, boot + delay)
    return clock


@pytest.mark.parametrize(("offset", "drift"), [(0.0, 0.0), (3600.0, 100e-6), (-7200.0, -150e-6), (1e6, 50e-6)])
def test_offsets_and_drift_are_found_to_a_millisecond(offset, drift):
    rng = np.random.default_rng(4)
    delays = 0.003 + rng.gamma(1.2, 0.004, 12000)
    clock = clock_of(offset, drift, delays)
    at = 119.0
    assert clock.monotonic(at * (1 + drift) + offset) == pytest.approx(at + 0.003, abs=0.001)
    assert clock.sensor(at + 0.003) == pytest.approx(at * (1 + drift) + offset, abs=0.001)
    assert clock.steps == 0


def test_a_phone_that_sleeps_moves_only_the_monotonic_clock():
    clock = clock_of(0.0, 0.0, [0.003] * 3000, seconds=30)
    assert clock.read(100.0, 130.0, 100.0001) == pytest.approx(0.0001)
    before = clock.monotonic(29.0)
    clock.read(110.0, 240.0, 110.0001)  # 100 s asleep
    assert clock.offset == pytest.approx(130.0, abs=1e-4)
    assert clock.monotonic(29.0) == pytest.approx(before - 100.0, abs=1e-3)
    clock.read(120.0, 250.004, 120.02)  # torn apart by a busy machine: not believed
    assert clock.offset == pytest.approx(130.0, abs=1e-4)
    assert clock.steps == 0


def test_three_late_seconds_are_a_step_two_are_not():
    late = [0.003] * 2000 + [0.4] * 200 + [0.003] * 800
    assert clock_of(0.0, 0.0, late, seconds=30).steps == 0
    moved = [0.003] * 2000 + [0.4] * 1000
    assert clock_of(0.0, 0.0, moved, seconds=30).steps == 1


@pytest.mark.parametrize("spec", ["phone:10", "phone:400", "phone:fast"])
def test_a_rate_that_is_none_is_refused(spec):
    with pytest.raises(Refused, match="50 to 200 Hz"):
        open_source(spec)


def test_on_a_desktop_the_phone_is_said_not_to_be_here():
    with pytest.raises(CouldNot, match="only a phone has these sensors"):
        open_source("phone:")


def test_no_sound_of_a_phone_here_is_silence_with_a_reason():
    from cadence_coach.sound.sinks import open_sink

    sink = open_sink("phone")
    assert sink.name == "silent" and "no phone here" in sink.reason


def test_without_a_java_compiler_the_tests_fail_and_name_the_package(monkeypatch):
    """A skip would hide that nothing of the phone's side was tried."""
    monkeypatch.setenv("PATH", "")
    with pytest.raises((AssertionError, pytest.skip.Exception), match="apt-get install default-jdk-headless") as told:
        toolbox.available()
    assert told.type is AssertionError


def test_before_the_first_event_nothing_is_known():
    clock = SensorClock()
    assert not clock.known
    with pytest.raises(ValueError, match="no reading"):
        clock.monotonic(0.0)
    assert math.isfinite(clock.drift)
