"""Outings by a maker who had seen none of the others (tests/makes/foreign.py), against what their motion says."""

from __future__ import annotations

import re
from contextlib import suppress
from functools import reduce
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from cadence_coach.core.units import G
from tests.makes.foreign import foreign_outing, kind_of, track_of
from tests.makes.foreign_phone import FASTEST, Felt, Phone, felt, recorded, thinned
from tests.makes.foreign_riders import FS, MAKERS, Burst, Maker, Rider, Unclean

from .clean import assert_same, flights_of, weigh

SEED = 729_000
MADE = {
    1: ("plain", 3, 104), 2: ("harsh", 4, 137), 4: ("brief", 6, 47), 5: ("far", 1, 63), 6: ("rope", 2, 80),
    7: ("edge", 5, 124), 16: ("lulls", 4, 43), 8: ("ashore", 0, 0),
}  # fmt: skip
"""Number: kind, flights, pumps, as the maker's own program counted them (regression values)."""
PUMP, FLIGHT, ON_A_WAVE = 0.03, 0.002, 0.01
"""[g] that the mean of a pump and of a flight's whole pumps may be off 1 g on flat water (an onset wanders against the
stroke's clock by which the pump was made to weigh 1 g), and that of a flight on a wave."""
CARRIED = 2.0
"""[degrees] in 30 s at the phone's rate."""


@pytest.mark.parametrize("number", MADE)
def test_truth_is_where_a_plain_crossing_detector_finds_it(number: int) -> None:
    """As many flights and pumps as its maker made; in each flight as many crossings of 1 g either way as pumps, where
    truth has them; the mean of whole pumps is 1 g (momentum theorem), but for the wave; attempts have under three."""
    t, _ = track_of(SEED, number)
    n = t.whole()["n"]
    assert (kind_of(number), len(t.flights), len(t.pumps)) == MADE[number]
    for pumps in flights_of(n, FS, t.pumps, t.flights):
        assert weigh(n, FS, pumps) == pytest.approx(1.0, abs=ON_A_WAVE)
    for attempt in t.attempts:
        assert 1 <= attempt["pumps"] == len(attempt["cycles"]) < 3


@pytest.mark.parametrize("maker", MAKERS)
def test_each_pump_weighs_what_the_rider_weighs(maker: type[Maker]) -> None:
    """Mean 1 g on flat water, or the rider would climb or sink without end (momentum theorem)."""
    r = np.random.default_rng(SEED)
    bursts: list[Burst] = []
    while len(bursts) < 3:
        with suppress(Unclean):
            bursts.append(Rider(r, maker, 0.5).burst(20, 0.0))
    for burst in bursts:
        at = np.round(burst.onset * FS).astype(int)
        assert [burst.n[a:b].mean() for a, b in pairwise(at)] == pytest.approx([1.0] * 19, abs=PUMP)
        assert burst.n[at[0] : at[-1]].mean() == pytest.approx(1.0, abs=FLIGHT)


def _felt(number: int) -> tuple[Felt, Phone, np.ndarray]:
    t, phone = track_of(SEED, number)
    columns = t.whole()
    return felt(t, phone, columns), phone, columns["n"]


@pytest.mark.parametrize("number", [1, 2, 4, 8])
def test_the_gyroscope_carries_gravity(number: int) -> None:
    """Turned as the gyroscope says, by scipy's rotations, what is up stays up; so it does for the accelerometer."""
    got, phone, n = _felt(number)
    assert np.abs(got.turning).max() < FASTEST
    assert np.median(np.abs((got.force * got.up).sum(axis=1) / G - n)) < 0.03
    every, span = FS // phone.rate, 30 * phone.rate
    turning, up = thinned(got.turning, phone.rate)[::every], got.up[::every]
    steps = Rotation.from_rotvec(-(turning[:-1] + turning[1:]) / 2 / phone.rate).as_matrix()
    moved = 0.0
    for s in range(0, len(up) - span, span):
        carried = reduce(lambda v, step: step @ v, steps[s : s + span], up[s])
        assert np.degrees(np.arccos(np.clip(carried @ up[s + span], -1, 1))) < CARRIED
        moved = max(moved, np.degrees(np.arccos(np.clip(up[s] @ up[s + span], -1, 1))))
    assert moved > 5 * CARRIED  # it was not still


def test_a_phone_writes_what_it_felt() -> None:
    """Rows of both sensors, but for bias, noise and jitter; no speed while a flight is young."""
    seen = 0
    for number in (1, 2, 5, 7):
        got, phone, _ = _felt(number)
        t, _ = track_of(SEED, number)
        accel, gyro, fixes = recorded(t, phone)
        assert (gyro is not None) == phone.gyro and (fixes is not None) == phone.speed
        assert (np.diff(accel[:, 0]) >= 0).all()
        assert np.median(np.diff(accel[:, 0])) == pytest.approx(1 / phone.rate, rel=0.1)
        for rows, true, most in ((accel, got.force, 0.35), (gyro, got.turning, 0.03)):
            if rows is not None:
                there = np.column_stack([np.interp(rows[:, 0] * FS, np.arange(len(true)), x) for x in true.T])
                assert np.median(np.abs(rows[:, 1:] - there)) < most
                seen += 1
        for f in t.flights if fixes is not None else []:
            assert not ((fixes[:, 0] > f["start_s"] + 0.1) & (fixes[:, 0] < f["start_s"] + 4)).any()
    assert seen > 3


def test_nothing_is_learned_or_chosen_from_them() -> None:
    """In the tests only its own modules and these name them; the coach itself may import no test."""
    tests = Path(__file__).parents[1]
    own = {*tests.glob("makes/foreign*.py"), tests / "benchmarks/foreign.py", Path(__file__)}
    others = [path for path in tests.rglob("*.py") if path not in own]
    assert len(others) > 100
    for path in others:
        assert not re.search(r"^\s*(from|import) .*\bforeign", path.read_text("utf-8"), re.MULTILINE), path


def test_the_same_seed_gives_the_same_outing() -> None:
    one = foreign_outing(SEED, 5)
    assert_same(one, foreign_outing(SEED, 5))
    assert foreign_outing(SEED + 1, 5).truth != one.truth
