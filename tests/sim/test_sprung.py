"""Sprung outings (tests/makes/sprung.py): truth against the clean motion, riders against what riders do, rows
against what was felt. Ranges are common practice, no source."""

from __future__ import annotations

from functools import cache, reduce
from itertools import pairwise
from operator import mul
from typing import Any

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from cadence_coach.core.units import G
from tests.makes.drawn_motion import eased
from tests.makes.sprung import Unclean, kind_of, motion_of, sprung_outing, truth_of
from tests.makes.sprung_body import COLUMNS
from tests.makes.sprung_legs import FAMILIES, FS, Rider, push_share
from tests.makes.sprung_phone import felt, recorded
from tests.makes.sprung_train import Train, plan_of, train

from .clean import assert_same, flights_of, weigh

SEED = 749_000
MADE = {
    0: ("mixed", [18, 40, 2]), 1: ("dock", [24, 0, 25, 16, 1, 7]), 2: ("beach", [11, 26, 16]),
    3: ("tow", [2, 18, 41, 1, 2, 7, 4]), 4: ("step", [17, 5, 33, 5, 27, 0, 61]), 5: ("long", [102, 2]),
    6: ("short", [10, 5, 1, 6, 9]), 7: ("fails", [8, 4, 1, 0, 1, 1]), 8: ("rough", [2, 9, 2, 2, 0, 26, 0]),
    9: ("noflight", [1]), 11: ("surge", [5, 6, 28, 1]),
}  # fmt: skip
"""Number: kind, and the pumps of each try, as the maker's own program drew them (regression values)."""
OFF = 0.003
"""[g] that the mean of a flight's whole pumps may be off 1 g: what a held glide loses comes back over some pumps."""
PULLED = 0.03
"""[m/s2] that a train's mean force along may be off its gain of speed: its ends cut a pump, and the speed changes
within one."""


@cache
def motion(number: int) -> Any:
    return motion_of(SEED, number)[1:]


@pytest.mark.parametrize("number", MADE)
def test_truth_is_where_a_plain_crossing_detector_finds_it(number: int) -> None:
    """Each try has the onsets that its maker drew; those of three pumps or more are flights, one after the other."""
    columns, truth = motion(number)
    pumps, flights = truth["pumps"], truth["flights"]
    for own in flights_of(columns["n"], FS, pumps, flights):
        assert weigh(columns["n"], FS, own) == pytest.approx(1.0, abs=OFF)
    tries = [a["onsets_s"] for a in truth["attempts"]]
    assert (kind_of(number), [len(onsets) for onsets in tries]) == MADE[number]
    assert [t for onsets in tries if len(onsets) >= 3 for t in onsets] == [p["onset_s"] for p in pumps]
    times = [t for p in pumps for t in (p["onset_s"], p["peak_s"], p["push_end_s"])]
    assert times == sorted(times)
    assert all(a["end_s"] < b["start_s"] for a, b in pairwise(flights))


def test_a_flight_begins_as_its_kind_does() -> None:
    by = {"dock": "run_up", "beach": "run_up", "tow": "rope", "step": "step"}
    for number in range(1, 5):
        kind, (_, truth) = kind_of(number), motion(number)
        assert {f["started_by"] for f in truth["flights"]} - {"unknown"} == {by[kind]}


def test_riders_keep_to_what_riders_do() -> None:
    """1.05-1.95 Hz, period CV 2-7 % but for held glides, push share 0.18-0.55, peak 1.4-2.6 g."""
    seen = 0
    for number in MADE:
        _, truth = motion(number)
        for f in truth["flights"]:
            pumps = [p for p in truth["pumps"] if f["start_s"] <= p["onset_s"] < f["end_s"]]
            period = np.diff([p["onset_s"] for p in pumps])
            usual = float(np.median(period))
            share = float(np.median([p["push_end_s"] - p["onset_s"] for p in pumps])) / usual
            assert 1.05 <= 1 / usual <= 1.95 and 0.18 <= share <= 0.55
            assert all(1.4 <= p["peak_g"] <= 2.6 and 0.02 < p["travel_m"] < 0.4 for p in pumps)
            if len(pumps) >= 8:
                even = period[period < 1.4 * usual]
                assert 0.02 <= even.std() / even.mean() <= 0.07
                seen += 1
    assert seen > 15


@pytest.mark.parametrize("family", sorted(set(FAMILIES)))
def test_a_pump_weighs_what_the_rider_weighs(family: str) -> None:
    """Mean 1 g over each cycle, or the rider would climb or sink without end (momentum theorem); one push of the peak
    asked for, and feet that never pull."""
    r = np.random.default_rng(SEED)
    riders = (Rider(r) for _ in range(400))
    for rider in [next(x for x in riders if x.family == family) for _ in range(3)]:
        period, peak = np.full(6, rider.period), np.full(6, rider.peak)
        n, clean = rider.cycles(r, period, peak, 0.0)
        assert clean and all(push_share(one) is not None for one in n)
        assert n.mean(axis=1) == pytest.approx(np.ones(6), abs=0.001)
        assert n.max(axis=1) == pytest.approx(peak, rel=0.04) and n.min() > -0.01


def test_the_foil_drives_by_as_much_as_it_gains() -> None:
    """Over a train the mean force along less drag is the gain of speed (momentum theorem)."""
    r = np.random.default_rng(SEED)
    for _ in range(8):
        columns = None
        while columns is None:
            columns = train(r, Rider(r), 20, 4.5, plan_of(r, 20))
        fore, v = columns["fore"], columns["speed"]
        assert fore.mean() == pytest.approx((v[-1] - v[0]) / len(v) * FS, abs=PULLED)
        assert v.min() >= 2.6 and v.max() <= 7.0


def test_a_train_with_a_crossing_too_many_is_unclean() -> None:
    n = 1 + 0.5 * np.sin(2 * np.pi * 1.5 * np.arange(4 * FS) / FS - 1)
    ridden = [[Train(0, len(n) - 1, 6, "rope", "fall")]]
    assert [len(a["onsets_s"]) for a in truth_of(n, ridden)["attempts"]] == [6]
    n[200:203] = [0.9, 1.1, 0.9]
    with pytest.raises(Unclean):
        truth_of(n, ridden)


def test_a_phone_writes_what_it_felt() -> None:
    """Rows of both sensors, but for bias, noise, gaps and spikes; no speed while a flight is young."""
    seen = {"accel": 0, "gyro": 0, "fixes": 0}
    for number in (1, 5, 8, 11):
        columns, truth = motion(number)
        rough = kind_of(number) == "rough"
        force, turning = felt(np.random.default_rng(number), columns, rough)
        assert np.median(np.linalg.norm(force, axis=1)) == pytest.approx(G, rel=0.05)
        # the same generator again: what is felt is drawn first
        accel, gyro, fixes = recorded(np.random.default_rng(number), columns, truth["flights"], rough)
        for name, rows, true, most in (("accel", accel, force, 0.5), ("gyro", gyro, turning, 0.05)):
            if rows is not None:
                step = np.diff(rows[:, 0])
                assert (step >= 0).all() and step.max() < 0.75  # two gaps of 0.35 s may touch
                there = np.column_stack([np.interp(rows[:, 0], np.arange(len(true)) / FS, x) for x in true.T])
                assert np.median(np.abs(rows[:, 1:] - there)) < most
                seen[name] += 1
        if fixes is not None:
            for f in truth["flights"]:
                assert not ((fixes[:, 0] > f["start_s"] - 3) & (fixes[:, 0] < f["start_s"] + 5)).any()
            true = np.interp(fixes[:, 0], np.arange(len(force)) / FS, columns["speed"])
            assert np.median(np.abs(fixes[:, 1] - true)) < 0.5 and np.isnan(fixes[:, 2:]).all()
            seen["fixes"] += 1
    assert seen == {"accel": 4, "gyro": 2, "fixes": 2}


def test_the_gyroscope_carries_gravity() -> None:
    """A trunk that pitches, rolls and turns, but is moved by nothing: by scipy's rotations, what was up goes to where
    the accelerometer has it at the end."""
    t = np.arange(int(3 * FS)) / FS
    leans, still = eased(t / 2 - 0.2), {c: np.zeros(len(t)) for c in COLUMNS}
    columns = still | {"n": np.ones(len(t)), "pitch": leans, "roll": -0.5 * leans, "yaw": 0.5 + still["yaw"]}
    for seed in range(4):
        force, turning = felt(np.random.default_rng(seed), columns, False)
        turned = reduce(mul, Rotation.from_rotvec(turning / FS))
        begins, ends = (part.mean(axis=0) for part in (force[:80], force[-80:]))
        carried = turned.apply(begins, inverse=True)
        assert carried == pytest.approx(ends, abs=0.06 * G)
        assert np.linalg.norm(begins - ends) > 0.5 * G  # it was not still


def test_the_same_seed_gives_the_same_outing() -> None:
    one = sprung_outing(SEED, 7)
    assert_same(one, sprung_outing(SEED, 7))
    assert (one.accel[:, 1:] == one.accel[:, 1:].astype(np.float32)).all()
    assert sprung_outing(SEED + 1, 7).truth != one.truth
