"""Stitched outings (tests/makes/stitched.py), against what their motion says, and the phone against gravity."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from tests.makes.stitched import kind_of, stitched_outing, story_of, truth_of
from tests.makes.stitched_phone import PLACES, felt
from tests.makes.stitched_piece import DT, GRAVITY

from .clean import assert_same, flights_of, weigh

SEED = 3
MADE = {
    1: ("beach", [57, 0, 23, 1, 1]), 2: ("tow", [43, 13, 11]), 3: ("rock", [8, 18, 31, 19]),
    4: ("novice", [0, 10, 9, 5, 6, 2]), 5: ("mixed", [10, 56, 42, 29]), 6: ("long", [89, 0, 60, 0, 104, 2]),
    7: ("ashore", [0, 2]), 8: ("winter", [0, 32, 0]), 9: ("dock", [0, 60, 60]),
}  # fmt: skip
"""Number: kind, pumps of each try, as the maker's own program counted them (regression values)."""
FLIGHT, PUMP = 0.005, 0.02
"""[g] that the mean of a flight's whole pumps and of each pump may be off 1 g: a body may rise or sink a little faster
from pump to pump, by hand 3 SD of 0.03 m/s in half a second."""
CLEAR = 0.02
"""[g] that highs and lows keep from 1 g, or an onset would have two readings."""


@pytest.mark.parametrize("number", MADE)
def test_truth_is_where_a_plain_crossing_detector_finds_it(number: int) -> None:
    """In each flight one crossing of 1 g either way a pump; whole pumps weigh what the rider weighs; cadence, push
    share, peak and period CV are a rider's (common practice, no source)."""
    story = story_of(SEED, number)
    n = story.motion().n
    truth = truth_of(n, story.tries)
    onsets = [attempt["onsets_s"] for attempt in truth["attempts"]]
    assert (kind_of(number), [len(of_one) for of_one in onsets]) == MADE[number]
    flights = flights_of(n, 1 / DT, truth["pumps"], truth["flights"])
    assert [[p["onset_s"] for p in pumps] for pumps in flights] == [of_one for of_one in onsets if len(of_one) > 2]
    for onset in (onset for of_one in onsets for onset in of_one):
        i = round(onset / DT)
        assert n[i - 1] < 1 < n[i + 1] and np.interp(onset / DT, [i - 1, i, i + 1], n[i - 1 : i + 2]) == (
            pytest.approx(1.0, abs=0.002)
        )
    for pumps in flights:
        assert weigh(n, 1 / DT, pumps) == pytest.approx(1.0, abs=FLIGHT)
        assert [weigh(n, 1 / DT, [*two]) for two in pairwise(pumps)] == pytest.approx([1] * (len(pumps) - 1), abs=PUMP)
        begins = np.array([p["onset_s"] for p in pumps])
        periods = np.diff(begins)
        assert (periods > 0).all() and 1.05 <= 1 / np.median(periods) <= 1.95
        shares = (np.array([p["push_end_s"] for p in pumps]) - begins)[:-1] / periods
        assert 0.18 <= np.median(shares) <= 0.55
        assert all(1.4 - 0.01 <= p["peak_g"] <= 2.6 for p in pumps)
        if len(pumps) >= 20:
            even = periods[periods < 1.18 * np.median(periods)]  # but for hesitations and missed pumps
            assert 0.02 <= even.std() / even.mean() <= 0.07
        x = n[round(begins[0] / DT) + 3 : round(begins[-1] / DT) - 3]
        turns = np.flatnonzero(np.diff(x)[:-1] * np.diff(x)[1:] < 0) + 1
        assert np.abs(x[turns] - 1).min() > CLEAR


@pytest.mark.parametrize("worn", PLACES)
def test_turned_back_as_the_gyroscope_says_all_that_is_felt_comes_to_gravity(worn: str) -> None:
    """A body that stays near the ground is pushed up by g on the mean (momentum theorem), wherever the phone sits and
    however the rider turns in two minutes of walks, tries and swims."""
    motion = story_of(SEED, 3).motion()
    force, turning = felt(np.random.default_rng(5), motion, worn, np.zeros(len(motion.n)))
    force, turning = force[: round(120 / DT)], turning[: round(120 / DT)]
    now, held = np.eye(3), []
    for step, f in zip(Rotation.from_rotvec(turning * DT).as_matrix(), force, strict=True):
        held.append(now @ f)
        now = now @ step
    assert np.linalg.norm(np.mean(held, axis=0)) == pytest.approx(GRAVITY, rel=0.01)
    assert np.linalg.norm(force.mean(axis=0)) < 0.97 * GRAVITY  # it was not still


def test_a_phone_writes_its_rows() -> None:
    """At one of three rates, accelerations as a file of 32-bit floats has them, speed and nothing else of a fix;
    standing at first it feels gravity."""
    seen = set()
    for number in (2, 3, 8):
        o = stitched_outing(SEED, number)
        assert o.accel.shape[1] == 4 and (np.diff(o.accel[:, 0]) >= 0).all()
        rate = round(1 / np.median(np.diff(o.accel[:, 0])) / 50)
        assert rate in (1, 2, 4)
        assert np.array_equal(o.accel[:, 1:], o.accel[:, 1:].astype(np.float32))
        stood = o.accel[o.accel[:, 0] < 2.5, 1:]
        assert np.linalg.norm(np.median(stood, axis=0)) == pytest.approx(GRAVITY, rel=0.04)
        if o.gyro is not None:
            assert o.gyro.shape[1] == 4 and abs(len(o.gyro) / len(o.accel) - 1) < 0.01
        if o.fixes is not None:
            assert np.isnan(o.fixes[:, 2:]).all() and (np.diff(o.fixes[:, 0]) > 0.9).all()
            assert o.fixes[:, 1].min() >= 0 and o.fixes[:, 1].max() < 8
        seen.add((o.gyro is not None, o.fixes is not None))
    assert len(seen) == 3


def test_the_same_seed_gives_the_same_outing() -> None:
    one = stitched_outing(SEED, 2)
    assert_same(one, stitched_outing(SEED, 2))
    assert stitched_outing(SEED + 1, 2).truth != one.truth
