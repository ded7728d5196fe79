"""Joining clocks with made-up offsets, drift and late readings."""

from __future__ import annotations

import json

import numpy as np
import pytest

from cadence_coach.errors import Refused
from cadence_coach.sound.clocks import Clocks, EarliestArrivals, SlowFit, bracketed
from cadence_coach.sound.latency import Latencies, latency_against, tap_lag, taps_in

MS = 1e-3


@pytest.mark.parametrize("drift", [-100e-6, 0.0, 20e-6, 100e-6])
@pytest.mark.parametrize("offset", [-1e9, 0.0, 123456.789])
def test_offset_and_drift_are_found(offset, drift):
    """Made-up clocks, readings each second with 2 ms of scatter; after five minutes within 1 ms, drift within 15
    ppm."""
    rng = np.random.default_rng(5)
    fit = SlowFit()
    for x in np.arange(0, 300, 1.0):
        fit.add(x, offset + (1 + drift) * x + rng.normal(0, 2 * MS), 2 * MS)
    truth = offset + (1 + drift) * 300
    assert fit.at(300) == pytest.approx(truth, abs=1 * MS)
    assert fit.drift == pytest.approx(drift, abs=15e-6)
    assert fit.back(fit.at(287.5)) == pytest.approx(287.5, abs=1e-6)


def test_ten_hours_of_frames_keep_their_digits():
    fit = SlowFit(slope=48000)
    for x in np.arange(0, 36000, 5.0):
        fit.add(1e6 + x, 48000 * (1 + 40e-6) * x, 1 * MS)
    assert fit.at(1e6 + 36000) / 48000 == pytest.approx(36000 * (1 + 40e-6), abs=0.2 * MS)


def test_one_late_reading_moves_little_and_a_wild_slope_is_held():
    fit = SlowFit()
    for x in range(120):
        fit.add(x, x + 7.0, 1 * MS)
    fit.add(120, 120 + 7.0 + 0.2, 0.1)  # a reading that says itself that it is bad
    assert fit.at(120) == pytest.approx(127, abs=0.1 * MS)
    wild = SlowFit()
    for x in range(100):
        wild.add(x, 1.1 * x, 0)
    assert wild.drift == 500e-6
    wild.add(50, 0.0)  # back in time: not taken
    assert wild.readings == 100


def test_the_prior_keeps_the_first_readings_from_extrapolating():
    fit = SlowFit()
    fit.add(0.00, 10.000)
    fit.add(0.02, 10.024)  # 4 ms of scatter in 20 ms would be a slope of 1.2
    assert fit.at(5.0) == pytest.approx(15.0, abs=5 * MS)
    with pytest.raises(ValueError, match="no reading"):
        SlowFit().at(1)
    with pytest.raises(ValueError, match="no reading"):
        SlowFit().back(1)


def test_the_tightest_bracket_counts():
    times = iter([0.0, 0.010, 1.0, 1.001, 2.0, 2.050])
    others = iter([5.0, 6.0, 7.0])
    reading = bracketed(lambda: next(others), lambda: next(times), tries=3)
    assert (reading.x, reading.y) == (6.0, pytest.approx(1.0005))
    assert reading.width == pytest.approx(0.001)


def test_arrivals_in_batches_still_give_the_sensor_clock():
    """100 Hz samples handed over in batches of up to 0.2 s, 3 ms at the earliest, one hold-up of 2 s; sensor 50 ppm
    fast."""
    rng = np.random.default_rng(2)
    arrivals = EarliestArrivals()
    handed = 0.0
    for k in range(30000):
        stamp = k * 0.01
        true = 500 + stamp / (1 + 50e-6)
        if true >= handed:
            handed = true + 0.003 + (rng.exponential(0.03) if rng.random() < 0.5 else 0) + (2.0 if k == 15000 else 0)
        arrivals.add(stamp, max(handed, true + 0.003))
    got = arrivals.fit.at(299.99)
    assert 2 * MS <= got - (500 + 299.99 / (1 + 50e-6)) <= 5 * MS
    assert arrivals.fit.drift == pytest.approx(-50e-6, abs=15e-6)


@pytest.mark.parametrize("jump", [3.0, -40.0])
def test_a_sensor_clock_that_was_set_anew_is_followed_within_ten_seconds(jump):
    arrivals = EarliestArrivals()
    for k in range(6000):
        stamp = 100 + k * 0.01 + (jump if k >= 3000 else 0)
        arrivals.add(stamp, 500 + k * 0.01 + 0.003)
        if k == 2999 + 1000:
            break
    assert arrivals.fit.at(stamp) == pytest.approx(500 + k * 0.01 + 0.003, abs=2 * MS)


def test_an_event_becomes_a_frame_less_what_the_output_adds():
    fit = SlowFit()
    fit.add(0, 1000.0)
    clocks = Clocks(fit)
    frame_at = lambda t: round((t - 990) * 48000)  # noqa: E731
    assert clocks.frame(2.5, frame_at) == round(12.5 * 48000)
    clocks.output_latency_s = 0.180
    assert clocks.frame(2.5, frame_at) == round((12.5 - 0.180) * 48000)


# ---- latency by taps ----


def tapped(lag: float, scatter: float, count: int = 24, seed: int = 3) -> tuple[np.ndarray, np.ndarray]:
    clicks = 10 + np.arange(count) * 1.0
    return clicks + lag + np.random.default_rng(seed).normal(0, scatter, count), clicks


def test_the_taps_own_habit_falls_out():
    """A person 50 ms ahead of the beat (Repp 2005: 20-80 ms), headset 180 ms late, built-in speaker 30 ms."""
    speaker, clicks = tapped(0.030 - 0.050, 0.012)
    headset, _ = tapped(0.180 - 0.050, 0.012, seed=4)
    headset[:4] += 0.2  # finding the beat
    assert latency_against(tap_lag(headset, clicks), tap_lag(speaker, clicks)) == pytest.approx(0.150, abs=0.008)


def test_taps_that_measure_nothing_are_refused():
    for seed in range(10):
        taps, clicks = tapped(0, 0.100, seed=seed)
        with pytest.raises(Refused, match="taps scatter by"):
            tap_lag(taps, clicks)
    with pytest.raises(Refused, match="10 taps after the first 4"):
        tap_lag(taps[:14], clicks)
    with pytest.raises(Refused, match="two clicks"):
        tap_lag(taps, clicks[:1])


def test_taps_are_found_in_the_accelerometer():
    """100 Hz, the phone at rest in a hand that trembles, taps of 20 ms with a rebound."""
    rng = np.random.default_rng(1)
    t = np.arange(0, 20, 0.01)
    accel = rng.normal(0, 0.3, (len(t), 3)) + np.array([0, 0, 9.81])
    truth = np.arange(1, 19, 1.0) + 0.003
    for tap in truth:
        after = t - tap
        accel[:, 2] += np.where((after >= 0) & (after < 0.04), 25 * np.sin(after * np.pi / 0.02), 0)
    found = taps_in(t, accel)
    assert len(found) == len(truth)
    assert np.max(np.abs(found - truth)) <= 0.010 + 1e-9


def test_latencies_are_kept_by_output(tmp_path):
    file = tmp_path / "deep" / "latency.json"
    Latencies(file).keep("device:headset", 0.15)
    Latencies(file).keep("phone:speaker", 0.0)
    again = Latencies(file)
    assert (again.of("device:headset"), again.of("phone:speaker"), again.of("new")) == (0.15, 0.0, 0.0)
    assert json.loads(file.read_text()) == {"device:headset": 0.15, "phone:speaker": 0.0}
    with pytest.raises(Refused, match="measure again"):
        again.keep("x", 1.5)
    file.write_text("[1, 2")
    assert "measure again" in Latencies(file).reason
    file.write_text("[1, 2]")
    assert "measure again" in Latencies(file).reason
