"""Strapped outings (tests/makes/strapped.py): truth against the clean motion, riders against what riders do, rows
against what was felt. Ranges are common practice, no source."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache, reduce
from itertools import pairwise
from operator import mul
from typing import Any

import numpy as np
import pytest
from scipy.integrate import cumulative_trapezoid
from scipy.interpolate import CubicSpline
from scipy.spatial.transform import Rotation

from tests.makes.drawn_motion import eased
from tests.makes.strapped import KINDS, day_of, kind_of, motion_of, recorder_of, strapped_outing
from tests.makes.strapped_day import Day
from tests.makes.strapped_flight import draw_pumps, heights
from tests.makes.strapped_phone import Motion, borne, lagging, mount, strapped
from tests.makes.strapped_rider import FS, GRAVITY, draw_rider
from tests.makes.strapped_starts import rope, run_up, step_on
from tests.makes.strapped_truth import truth_of

from .clean import Pumps, assert_same, weigh

SEED = 810_000
MADE = {
    0: ("calm", [11, 35, 79, 24, 39]), 1: ("rough", [17, 8, 10, 14]), 2: ("short", [5, 6, 7, 20, 12, 9]),
    3: ("long", [55, 90, 42]), 4: ("tow", [5, 65, 20, 17, 40, 11]), 5: ("step", [58, 74]),
    6: ("mixed", [17, 1, 13, 52]), 7: ("landwalk", []), 13: ("step", [26, 2, 43, 25, 29]),
    14: ("mixed", [47, 14, 36, 23]), 21: ("step", [2, 7, 31, 46, 25, 8, 11]), 26: ("short", [6, 0, 2, 12, 5, 10]),
}  # fmt: skip
"""Number: kind, and the pumps of each try, as the maker's own program drew them (regression values)."""
ROUNDED = 0.00005
"""[g] half a step of truth's peaks; ten times as much as that of its times [s], which also lie on straight lines
between samples, not on a spline."""
OFF = 0.005
"""[g] that the mean of a flight's whole pumps may be off 1 g: the body sways slowly, and chop comes on top."""
LEFT = 0.01
"""[s g] that a piece's impulse may be off zero: its parts are cut to whole samples."""


@cache
def motion(number: int) -> tuple[Day, Motion, dict[str, Any]]:
    day = day_of(SEED, number)
    moved = motion_of(day)
    return day, moved, truth_of(moved.over, day.tries, kind_of(number))


def flights_in(number: int) -> list[Pumps]:
    """The pumps of each flight."""
    truth = motion(number)[2]
    return [[p for p in truth["pumps"] if f["start_s"] <= p["onset_s"] < f["end_s"]] for f in truth["flights"]]


@pytest.mark.parametrize("number", MADE)
def test_each_try_has_the_pumps_that_its_maker_drew(number: int) -> None:
    """Those of three pumps or more are flights, one after the other."""
    day, moved, truth = motion(number)
    flights, tries = truth["flights"], [a["onsets_s"] for a in truth["attempts"]]
    assert (kind_of(number), [len(onsets) for onsets in tries]) == MADE[number]
    assert truth["kind"] == kind_of(number)
    assert [t for onsets in tries if len(onsets) >= 3 for t in onsets] == [p["onset_s"] for p in truth["pumps"]]
    assert [f["pumps"] for f in flights] == [len(own) for own in flights_in(number)]
    times = [t for p in truth["pumps"] for t in (p["onset_s"], p["peak_s"], p["push_end_s"])]
    assert times == sorted(times) and 118 < moved.seconds < 302
    assert all(a["end_s"] < b["start_s"] for a, b in pairwise(flights))
    begun = [(t.started_by, t.ended_by) for t in day.tries if len(t.onsets) >= 3]
    assert begun == [(f["started_by"], f["ended_by"]) for f in flights]


@pytest.mark.parametrize("number", [k for k in MADE if kind_of(k) != "landwalk"])
def test_onsets_and_push_ends_are_all_crossings_of_one_g(number: int) -> None:
    """Of a spline through the clean motion (scipy), up and down in turn; its tops are as high and when truth says."""
    over = motion(number)[1].over
    for own in flights_in(number):
        i = np.arange(int((own[0]["onset_s"] - 0.05) * FS), int((own[-1]["push_end_s"] + 0.05) * FS))
        curve = CubicSpline(i / FS, over[i])
        crossings = curve.roots(extrapolate=False)
        told = [t for p in own for t in (p["onset_s"], p["push_end_s"])]
        assert crossings == pytest.approx(np.array(told), abs=ROUNDED)
        assert (curve(crossings[::2], 1) > 0).all() and (curve(crossings[1::2], 1) < 0).all()
        level = curve.derivative().roots(extrapolate=False)
        for p in own:
            tops = level[(level > p["onset_s"]) & (level < p["push_end_s"])]
            top = tops[np.argmax(curve(tops))]
            assert float(top) == pytest.approx(p["peak_s"], abs=ROUNDED)
            assert 1 + float(curve(top)) == pytest.approx(p["peak_g"], abs=ROUNDED + 2e-5)


def test_flights_weigh_what_the_rider_weighs() -> None:
    """Mean 1 g over whole pumps (momentum theorem); a pump travels what the force integrated twice says (scipy's
    trapezoids)."""
    for number in MADE:
        over = motion(number)[1].over
        for own in flights_in(number):
            assert weigh(1 + over, FS, own) == pytest.approx(1.0, abs=OFF)
            for p, following in pairwise(own):
                force = over[round(p["onset_s"] * FS) : round(following["onset_s"] * FS)]
                rises = cumulative_trapezoid(force * GRAVITY, dx=1 / FS)
                path = cumulative_trapezoid(rises - rises.mean(), dx=1 / FS)
                assert p["travel_m"] == pytest.approx(np.ptp(path), abs=0.003)


def test_riders_keep_to_what_riders_do() -> None:
    """1.05-1.95 Hz, period CV 2-7 %, push share 0.18-0.55, peak 1.4-2.6 g at a flight's median, single pushes a little
    beyond; 4-110 pumps."""
    seen = 0
    for own in (own for number in MADE for own in flights_in(number)):
        onsets, ends, peaks = np.array([(p["onset_s"], p["push_end_s"], p["peak_g"]) for p in own]).T
        periods = np.diff(onsets)
        usual = float(np.median(periods))
        assert 4 <= len(own) <= 110 and 1.05 <= 1 / usual <= 1.95
        assert 0.18 <= np.median(ends - onsets) / usual <= 0.55
        assert 1.4 <= np.median(peaks) <= 2.6 and peaks.min() > 1.3 and peaks.max() < 2.75
        assert all(0.03 < p["travel_m"] < 0.46 for p in own)
        if len(own) >= 8:
            assert 0.02 <= periods.std() / periods.mean() <= 0.07
            seen += 1
    assert seen > 30


def test_riders_differ_as_people_do() -> None:
    """Of 300 riders: the ranges are used to near their ends, and never left."""
    r = np.random.default_rng(SEED)
    riders = [draw_rider(r, KINDS[i % len(KINDS)]) for i in range(300)]
    cadences, shares, peaks = np.array([(1 / x.period, x.share, x.peak) for x in riders]).T
    for values, low, high in ((cadences, 1.05, 1.95), (shares, 0.155, 0.56), (peaks, 1.4, 2.6)):
        room = 0.15 * (high - low)
        assert low <= values.min() < low + room and high - room < values.max() <= high
    assert {x.first for x in riders} == {"quick", "weak", "plain"} and {x.side for x in riders} == {-1, 1}
    novices, fluent = ([x.period_cv for x in riders if least < x.skill <= least + 0.4] for least in (0.0, 0.6))
    assert np.mean(fluent) < 0.8 * np.mean(novices)


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "landwalk"])
def test_a_pump_keeps_its_momentum(kind: str) -> None:
    """Push and glide of each pump cancel, or the rider would climb or sink (momentum theorem); feet never pull, not
    even those of every other rider here, who pushes hard for half of the time."""
    r = np.random.default_rng(SEED)
    for k in range(10):
        rider = draw_rider(r, kind)
        if k % 2:
            rider = replace(rider, share=0.5, peak=2.5)
        pumps = draw_pumps(r, rider, 12)
        t = (np.arange(round(pumps.ends[-1] * FS)) + 0.5) / FS
        over = heights(r, rider, pumps, t)
        cuts = pairwise(np.searchsorted(t, pumps.ends))
        for (begins, ends), share, height in zip(cuts, pumps.shares, pumps.heights, strict=True):
            one = over[begins:ends]
            assert one.mean() == pytest.approx(0.0, abs=1e-9) and one.min() > -0.931
            assert np.mean(one > 0) == pytest.approx(share, abs=0.02)
            assert one.max() <= 1.03 * height + 1e-9 or height < 0.7  # low ones may be raised


PIECES: dict[str, Callable[[Day], object]] = {
    "run_up": run_up, "rope": rope, "step": step_on, "run": lambda d: d.run(4, 2.7, 1.5, 2.5), "climb": Day.climb,
    "fall": Day.fall, "touch_down": Day.touch_down, "coast": lambda d: d.coast(2), "stand": lambda d: d.stand(2),
}  # fmt: skip


@pytest.mark.parametrize("name", PIECES)
def test_what_lies_between_flights_keeps_its_momentum_too(name: str) -> None:
    """What is at rest at both ends has weighed 1 g in between (momentum theorem)."""
    for seed in range(30):
        day = Day(np.random.default_rng([SEED, seed]), "mixed", 0.3)
        PIECES[name](day)
        columns = day.whole()
        assert float(columns["over"].sum()) / FS == pytest.approx(0.0, abs=LEFT)
        assert columns["over"].min() > -1.2 and columns["over"].max() < 4
        assert {len(column) for column in columns.values()} == {day.length}


def test_a_running_step_follows_the_rider() -> None:
    """2.5-3 contacts a second before a jump, by their number and by the strongest line of a spectrum."""
    for hz in (2.5, 3.0):
        day = Day(np.random.default_rng(SEED), "calm", 0.0)
        day.run(12, hz, 1.0, 3.0)
        over = day.whole()["over"]
        lines = np.abs(np.fft.rfft(over))
        assert lines.argmax() * FS / len(over) == pytest.approx(hz, rel=0.04)
        assert int(((over[:-1] <= 0) & (over[1:] > 0)).sum()) >= round(12 * hz)
        speed = day.whole()["speed"]
        assert (speed[0], speed[-1]) == (1.0, 3.0)


def test_a_flight_begins_as_its_kind_does() -> None:
    begun = {kind: set[str]() for kind in KINDS}
    for number in MADE:
        begun[kind_of(number)] |= {f["started_by"] for f in motion(number)[2]["flights"]}
    assert begun["tow"] == {"rope"} and begun["step"] == {"step"} and begun["landwalk"] == set()
    assert begun["mixed"] == {"run_up", "rope", "step"} and begun["long"] == {"run_up"}


# --- the phone ---


def leaning(roll: float) -> Motion:
    """A trunk that pitches, rolls and turns for 3 s between stillness, but is moved by nothing."""
    t = np.arange(3 * FS) / FS
    leans, none = eased(t / 2 - 0.2), np.zeros(len(t))
    return Motion(none, none, none, 50 * leans, roll * leans, 40 * leans, none, none)


def test_a_trunk_that_leans_feels_gravity_elsewhere() -> None:
    """As scipy's rotations have it."""
    rng, n = np.random.default_rng(SEED), 4 * FS
    angles = rng.uniform(-60, 60, (5, 3))
    for pitch, roll, yaw in angles:
        fore, side, over = rng.normal(0, 0.3, 3)
        still = Motion(*(np.full(n, x) for x in (over, fore, side, pitch, roll, yaw, 0, 0)))
        force, turning = borne(rng, still)
        turned = Rotation.from_euler("YX", [pitch, roll], degrees=True)
        assert force[:, 100] == pytest.approx(turned.apply([fore, side, 1 + over], inverse=True))
        assert np.abs(turning).max() < 1e-9


def test_the_gyroscope_carries_gravity() -> None:
    """By scipy's rotations, what was up goes to where the accelerometer has it at the end."""
    for roll in (-30.0, 0.0, 30.0):
        force, turning = borne(np.random.default_rng(SEED), leaning(roll))
        turned = reduce(mul, Rotation.from_rotvec(turning.T / FS))
        begins, ends = (part.mean(axis=1) for part in (force[:, :80], force[:, -80:]))
        assert turned.apply(begins, inverse=True) == pytest.approx(ends, abs=0.01)
        assert np.linalg.norm(begins - ends) > 0.5  # it was not still


def test_a_mount_is_the_rotation_of_its_quaternion() -> None:
    """scipy has the real part last."""
    a, b, c, d = np.random.default_rng(SEED).normal(size=4)
    assert mount(np.random.default_rng(SEED)) == pytest.approx(Rotation.from_quat([b, c, d, a]).as_matrix())


@pytest.mark.parametrize("hz", [7.0, 18.0])
@pytest.mark.parametrize("damping", [0.18, 0.6])
def test_tissue_answers_at_its_own_frequency_as_a_spring_and_a_damper_do(hz: float, damping: float) -> None:
    """Rest passes; a sine grows by |1 + 2j p d| / 2d, p the damper's share that is driven (by hand)."""
    t = np.arange(4 * FS) / FS
    assert lagging(np.full(FS, 0.7), hz, damping, 0.5) == pytest.approx(np.full(FS, 0.7))
    for through in (0.0, 0.4, 1.0):
        felt = lagging(np.sin(2 * np.pi * hz * t), hz, damping, through)[2 * FS :]
        assert felt.max() == pytest.approx(abs(1 + 2j * through * damping) / (2 * damping), rel=0.01)


def test_a_strapped_phone_lags() -> None:
    """A slow force comes through whole, a few ms late."""
    t = np.arange(8 * FS) / FS
    force = np.stack([np.sin(2 * np.pi * 1.5 * t)] * 3)
    lags = []
    for seed in range(20):
        felt = strapped(np.random.default_rng(seed), force)[:, 4 * FS :]
        assert felt.max(axis=1) == pytest.approx(np.ones(3), abs=0.06)
        along = [(felt * f(2 * np.pi * 1.5 * t[4 * FS :])).mean(axis=1) for f in (np.sin, np.cos)]
        lags.append(-np.arctan2(along[1], along[0]) / (2 * np.pi * 1.5))
    assert 0 <= np.min(lags) < 0.002 and 0.01 < np.max(lags) < 0.03


def test_kinds_go_round_with_rates_and_what_the_phone_has() -> None:
    """24 numbers: each kind at each rate; a gyroscope in half, speed in three quarters."""
    had = [recorder_of(number, 0.0) for number in range(48)]
    assert {(kind_of(k), had[k].rate) for k in range(24)} == {(k, hz) for k in KINDS for hz in (50, 100, 200)}
    assert sum(x.gyro for x in had) == 24 and sum(x.fixes for x in had) == 36


def test_a_phone_writes_what_it_felt() -> None:
    """Rows at the rate, jitter to 3 ms SD (and a fortieth more of the stamps' own), gaps to 0.35 s, 1 g at the median,
    turning like the trunk's, speed but for lag and noise."""
    jitters, gaps, seen = [], 0, {"gyro": 0, "fixes": 0}
    for number in MADE:
        moved, o = motion(number)[1], strapped_outing(SEED, number)
        rate = recorder_of(number, 0.0).rate
        t, step = o.accel[:, 0], np.diff(o.accel[:, 0])
        assert t[0] >= 0 and t[-1] == pytest.approx(moved.seconds, abs=0.4) and step.min() > 0
        assert step.max() < 0.36 and np.median(step) == pytest.approx(1 / rate, rel=0.02)
        gaps += int((step > 0.045).sum())
        bent = np.diff(t, 2)  # evenly drawn times have a second difference of sqrt(6) times their SD
        jitters.append(1.4826 * np.median(np.abs(bent)) / np.sqrt(6))
        assert np.median(np.linalg.norm(o.accel[:, 1:], axis=1)) == pytest.approx(GRAVITY, rel=0.03)
        if o.gyro is not None:
            turning = borne(np.random.default_rng(0), moved)[1]
            there = np.interp(t, np.arange(turning.shape[1]) / FS, np.linalg.norm(turning, axis=0))
            assert (o.gyro[:, 0] == t).all() and there.max() > 1
            assert np.median(np.abs(np.linalg.norm(o.gyro[:, 1:], axis=1) - there)) < 0.03
            seen["gyro"] += 1
        if o.fixes is not None:
            true = np.interp(o.fixes[:, 0], np.arange(len(moved.speed)) / FS, moved.speed)
            assert np.median(np.abs(o.fixes[:, 1] - true)) < 0.4 and np.isnan(o.fixes[:, 2:]).all()
            assert o.fixes.shape[1] == 6 and np.diff(o.fixes[:, 0]).min() > 0.9
            seen["fixes"] += 1
    assert 0 < min(jitters) < 0.0006 and 0.001 < max(jitters) < 0.0032 and gaps > 5
    assert seen == {"gyro": 7, "fixes": 8}


def test_the_same_seed_gives_the_same_outing() -> None:
    """As the maker's own program gave it, too: rows, their sum, first onset (regression values)."""
    one = strapped_outing(SEED, 6)
    assert_same(one, strapped_outing(SEED, 6))
    assert len(one.accel) == 16738 and one.accel[:, 1:].sum() == pytest.approx(-128472.161, abs=0.01)
    assert one.truth["pumps"][0]["onset_s"] == pytest.approx(11.12263, abs=1e-5)
    assert strapped_outing(SEED + 1, 6).truth != one.truth != strapped_outing(SEED, 14).truth
