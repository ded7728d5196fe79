"""Outings of eight families (tests/makes/families.py): truth against the motion, riders against what is expected
of them, the phone against what it should feel."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from tests.makes.drawn_motion import Array
from tests.makes.families import KINDS, families_outing, family_of, kind_of, track_of
from tests.makes.families_between import Day
from tests.makes.families_phone import Pouch, felt
from tests.makes.families_rider import Rider
from tests.makes.families_track import FLIGHT, FS
from tests.makes.families_waves import FAMILIES, split

SEED = 790_000
MADE = [(1, 28, 3), (2, 19, 4), (2, 17, 5), (5, 128, 5), (4, 123, 5), (2, 196, 2), (1, 16, 3), (0, 0, 2), (3, 101, 3),
        (4, 32, 4)]  # fmt: skip
"""Flights, pumps, tries of each number, as the maker's own program counted them (regression values)."""
ROUNDED = 0.000005
"""[s] half a step of truth's times."""
PUMP, FLIGHT_MEAN = 0.03, 0.006
"""[g] that the mean of a pump and of a flight's whole pumps may be off 1 g: each ends a little faster or slower upward
than it began, 0.03 m/s SD, and the lowest glide is bounded."""
Truth = dict[str, list[dict[str, Any]]]


@pytest.fixture(scope="module")
def tracks() -> list[tuple[Day, Array, Truth]]:
    return [track_of(SEED, number) for number in range(len(MADE))]


def _pumps_of(truth: Truth) -> list[list[dict[str, Any]]]:
    """Of each flight, by its times."""
    return [[p for p in truth["pumps"] if f["start_s"] <= p["onset_s"] < f["end_s"]] for f in truth["flights"]]


def _crossings(over: Array, up: Array) -> Array:
    """When [s] the vertical crosses 1 g to where `over` is true."""
    k = np.flatnonzero(~over[:-1] & over[1:])
    return np.asarray((k + (1 - up[k]) / (up[k + 1] - up[k])) / FS)


def test_truth_is_where_a_plain_crossing_detector_finds_it(tracks: list[tuple[Day, Array, Truth]]) -> None:
    """In each flight as many crossings of 1 g either way as pumps, where truth has them, the peak between; likewise
    the onset of each pump of a try that is no flight."""
    for (_, up, truth), made in zip(tracks, MADE, strict=True):
        assert tuple(len(truth[k]) for k in ("flights", "pumps", "attempts")) == made
        rises, falls = _crossings(up > 1, up), _crossings(up <= 1, up)
        for its in _pumps_of(truth):
            first, last = its[0]["onset_s"] - 0.1, its[-1]["push_end_s"] + 0.01
            for key, found in (("onset_s", rises), ("push_end_s", falls)):
                here = found[(found > first) & (found < last)]
                assert here.tolist() == pytest.approx([p[key] for p in its], abs=ROUNDED + 1e-9)
            for p in its:
                push = up[round(p["onset_s"] * FS) : round(p["push_end_s"] * FS) + 1]
                assert p["peak_g"] == pytest.approx(push.max(), abs=0.0001)
                assert up[round(p["peak_s"] * FS)] == push.max()
        onsets = [t for a in truth["attempts"] for t in a["onsets_s"]]
        assert all(np.abs(rises - t).min() <= ROUNDED + 1e-9 for t in onsets)


def test_flights_are_the_tries_of_three_pumps_and_more(tracks: list[tuple[Day, Array, Truth]]) -> None:
    few = set()
    for day, _, truth in tracks:
        told = [a["onsets_s"] for a in truth["attempts"]]
        assert [len(onsets) for onsets in told] == [len(one.onsets) for one in day.tries]
        assert [t for onsets in told for t in onsets] == sorted({t for onsets in told for t in onsets})
        flown = [onsets for onsets in told if len(onsets) >= FLIGHT]
        assert flown == [[p["onset_s"] for p in its] for its in _pumps_of(truth)]
        assert [f["pumps"] for f in truth["flights"]] == [len(onsets) for onsets in flown]
        assert all(a["end_s"] < b["start_s"] for a, b in pairwise(truth["flights"]))
        few |= {len(onsets) for onsets in told} & {0, 1, 2}
        for one, onsets in zip(day.tries, told, strict=True):
            assert np.abs(one.onsets - onsets).max(initial=0) < 0.04
    assert few == {0, 1, 2}


def test_each_pump_weighs_what_the_rider_weighs(tracks: list[tuple[Day, Array, Truth]]) -> None:
    """Mean 1 g from onset to onset, or the rider would climb or sink without end (momentum theorem)."""
    for _, up, truth in tracks:
        grown = np.concatenate([[0], np.cumsum((up[1:] + up[:-1]) / 2)])
        for its in _pumps_of(truth):
            at = np.array([p["onset_s"] for p in its]) * FS
            gained = np.interp(at, np.arange(len(up)), grown)
            assert np.diff(gained) / np.diff(at) == pytest.approx(np.ones(len(at) - 1), abs=PUMP)
            assert (gained[-1] - gained[0]) / (at[-1] - at[0]) == pytest.approx(1.0, abs=FLIGHT_MEAN)


def test_riders_keep_within_what_is_expected(tracks: list[tuple[Day, Array, Truth]]) -> None:
    """Cadence, period CV but for long glides, share, peak of flights of 8 pumps and more: common practice, no
    source."""
    seen = 0
    for _, _, truth in tracks:
        for its in _pumps_of(truth):
            onsets, ends, peaks = np.array([(p["onset_s"], p["push_end_s"], p["peak_g"]) for p in its]).T
            periods = np.diff(onsets)
            usual = periods[periods < 1.16 * np.median(periods)]
            if len(its) >= 8:
                assert 1.05 <= 1 / np.median(periods) <= 1.95 and 0.02 <= usual.std() / usual.mean() <= 0.07
                assert 0.18 <= np.median((ends - onsets)[:-1] / periods) <= 0.55
                assert peaks.min() >= 1.4 and peaks.max() <= 2.6
                seen += 1
    assert seen > 15


@pytest.mark.parametrize("family", FAMILIES)
def test_a_pump_is_one_push_and_one_glide(family: str) -> None:
    """Of twelve riders' pumps: over, then under 1 g by shapes up to 1, and no two riders alike."""
    riders = [Rider(np.random.default_rng([SEED, k]), family) for k in range(12)]
    for rider in riders:
        for cycle in (rider.early, rider.late):
            assert 0.18 <= cycle.share <= 0.55 and min(cycle.push.min(), cycle.glide.min()) > 0
            assert cycle.push.max() == cycle.glide.max() == 1.0
        assert 0 < np.abs(rider.early.push - rider.late.push).max() < 1
        assert rider.height * rider.early.balance(rider.share) < 1  # nobody is pulled down
    assert len({tuple(rider.early.push) for rider in riders}) == 12


def test_a_wave_of_two_pushes_is_no_pump() -> None:
    turn = 2 * np.pi * np.arange(480) / 480
    whole = split(np.cos(turn))
    assert whole is not None and whole.share == pytest.approx(0.5, abs=0.005)
    assert split(np.cos(2 * turn)) is None
    # With c the cosine: c (3.7 - 3.6 c2) falls to 0.1 between tops of 1.44, c (2.5 - 2 c2) to 0.5 of 1.08 (by hand).
    assert split(np.cos(turn) - 0.9 * np.cos(3 * turn)) is None and split(np.cos(turn) - 0.5 * np.cos(3 * turn))


def test_eighty_numbers_have_each_kind_with_each_family() -> None:
    assert len({(kind_of(number), family_of(number)) for number in range(80)}) == len(KINDS) * len(FAMILIES) == 80


def test_the_gyroscope_carries_gravity(tracks: list[tuple[Day, Array, Truth]]) -> None:
    """What is up turns in the phone's axes as the turn rate says."""
    day, up, _ = tracks[2]
    columns = day.whole()
    none = np.zeros(len(up))
    still = columns | {"fore": none, "side": none}
    straight, turns = felt(np.ones(len(up)), still, np.random.default_rng(1))
    assert np.linalg.norm(straight, axis=1) == pytest.approx(np.ones(len(up)))
    off = np.gradient(straight, 1 / FS, axis=0) - np.cross(straight, turns)
    assert np.abs(off).max() < 0.03 < 0.5 < np.abs(turns).max()
    force, _ = felt(up, still, np.random.default_rng(1))
    assert np.abs((force * straight).sum(axis=1) - up).max() < 1e-9


def test_a_pouch_swings_at_its_own_pace() -> None:
    """Rest passes; at its own frequency a damped spring answers 1 / (2 damping), a quarter turn late (by hand)."""
    pouch, t = Pouch(17.0, 0.25, 0.8), np.arange(4 * FS) / FS
    rest = pouch.moved(np.full((FS, 3), 0.7), np.random.default_rng(1))
    assert np.abs(rest - 0.7).max() < 1e-9
    shares = 0.8 * np.random.default_rng(2).uniform(0.7, 1, 3)
    felt_as = pouch.moved(np.tile(np.sin(2 * np.pi * 17 * t)[:, None], 3), np.random.default_rng(2))
    tops = np.abs(felt_as[2 * FS :]).max(axis=0)
    assert tops == pytest.approx(np.abs(1 - shares - 1j * shares / (2 * 0.25)), rel=0.02)


def test_a_phone_writes_what_it_felt() -> None:
    """Rows of 50, 100 or 200 Hz in order, 1 g at the median, float32; speed as the rider's, but for lag and noise,
    none where the satellites are not seen."""
    gyros: set[bool] = set()
    speeds: set[bool] = set()
    rates: set[int] = set()
    for number in range(8):
        o, (day, up, _) = families_outing(SEED, number), track_of(SEED, number)
        t, a = o.accel[:, 0], o.accel[:, 1:]
        assert t[0] == 0 and (np.diff(t) >= 0).all() and t[-1] == pytest.approx(len(up) / FS, abs=0.5)
        assert np.median(np.linalg.norm(a, axis=1)) == pytest.approx(9.8, abs=0.3)
        assert np.array_equal(a, a.astype(np.float32))
        rates.update(hz for hz in (50, 100, 200) if np.median(np.diff(t)) == pytest.approx(1 / hz, rel=0.03))
        gyros.add(o.gyro is not None)
        speeds.add(o.fixes is not None)
        if o.gyro is not None:
            assert (np.diff(o.gyro[:, 0]) > 0).all() and np.abs(o.gyro[:, 1:]).max() > 0.5
        if o.fixes is not None:
            c, at = day.whole(), np.clip(o.fixes[:, 0] * FS, 0, len(up) - 1).astype(int)
            assert np.isnan(o.fixes[:, 2:]).all() and o.fixes.shape[1] == 6 and (np.diff(o.fixes[:, 0]) > 0).all()
            assert np.median(np.abs(o.fixes[:, 1] - c["speed"][at])) < 0.5
            for begins, ends in day.blind:
                assert not ((o.fixes[:, 0] > begins + 0.03) & (o.fixes[:, 0] < ends - 0.03)).any()
            assert (c["sky"][at] > 0).mean() > 0.98
    assert gyros == speeds == {True, False} and rates == {50, 100, 200}


def test_the_same_seed_gives_the_same_outing() -> None:
    one, other = families_outing(SEED, 3), families_outing(SEED, 3)
    assert one.truth == other.truth and one.meta == other.meta == {}
    for a, b in ((one.accel, other.accel), (one.gyro, other.gyro), (one.fixes, other.fixes)):
        assert np.array_equal(a, b, equal_nan=True) if a is not None else b is None
    assert families_outing(SEED + 1, 3).truth != one.truth != families_outing(SEED, 13).truth
