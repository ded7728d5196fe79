"""Chained outings (tests/makes/chained.py): truth against the clean motion, riders against what riders do, the phone
against what it should feel. Ranges are common practice, no source.

Over 400 lines: one subject, a make that nothing else may check.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
import pytest
from scipy.signal import bilinear

from cadence_coach.core.units import G
from tests.makes import chained_ashore as ashore
from tests.makes.chained import KINDS, PUMPS, RATES, chained_outing, kind_of, motion_of, rate_of
from tests.makes.chained_phone import felt, in_pouch, recorded, spring, stamps
from tests.makes.chained_piece import COLUMNS, FS, GRAVITY, Chain, band, hump
from tests.makes.chained_pump import MOST, Cycle, draw_cycles, keep_height
from tests.makes.chained_rider import RIDERS, Style, draw_rider, once_a_pump
from tests.makes.drawn_motion import Array, eased
from tests.makes.drawn_phone import turned

from .clean import ROUNDED, assert_same, flights_of, weigh

SEED = 812_000
MADE = [
    [62, 53, 68], [12, 63, 19, 15, 51], [0, 10, 6, 5, 11], [82, 71, 0, 94], [79, 30], [30, 39, 45, 45], [72, 65, 14],
    [], [1, 56, 45], [20, 38, 54], [5, 6, 1, 1, 14], [91, 71, 96, 89], [2, 53, 64], [47, 0, 43, 61, 36],
    [1, 0, 39, 52], [], [32, 65, 33], [31, 34, 51, 20, 34], [10, 0, 4, 1], [100, 101], [43, 31, 78], [56, 2, 52],
    [81, 10, 22], [],
]  # fmt: skip
"""Pumps of each try of each number, as the maker's own program drew them (regression values)."""
ROWS = {1: (11062, 0, 149), 4: (7314, 7314, 0), 6: (18603, 18604, 132), 9: (33223, 33227, 129)}
"""Number: rows of accel, gyro and fixes, as that program wrote them (regression values)."""
FLIGHT, PUMP = 0.015, 0.03
"""[g] that the mean of a flight's whole pumps and of each may be off 1 g. A pump: MOST, and as much again for an onset
that moves with the smoothing; a flight: of few pumps, as height is given back over several."""
BETWEEN = 0.0003
"""[g] that a peak is over its highest sample at most: half a sample (0.5 ms) from the top of a parabola of 1.9 g over
0.08 s (by hand)."""
DRIFT = 0.7
"""[m] that onsets of a flight are apart in height at most: what a rider's legs take up."""
TINY = 1e-9


class Motion(NamedTuple):
    up: Array
    truth: dict[str, Any]
    flights: list[list[dict[str, Any]]]
    """The pumps of each."""


@cache
def motion(number: int) -> Motion:
    _, columns, truth = motion_of(SEED, number)
    return Motion(columns["up"], truth, flights_of(columns["up"], FS, truth["pumps"], truth["flights"], BETWEEN))


# --- truth ---


@pytest.mark.parametrize("number", range(len(MADE)))
def test_truth_is_where_a_plain_crossing_detector_finds_it(number: int) -> None:
    """Onsets and push ends are crossings of 1 g, those of tries that are no flight too; whole pumps weigh what the
    rider weighs (momentum theorem)."""
    up, truth, flights = motion(number)
    tries = [a["onsets_s"] for a in truth["attempts"]]
    assert truth["kind"] == kind_of(number) and [len(onsets) for onsets in tries] == MADE[number]
    assert [[p["onset_s"] for p in pumps] for pumps in flights] == [onsets for onsets in tries if len(onsets) >= 3]
    k = np.flatnonzero((up[:-1] < 1) & (up[1:] >= 1))
    rises = (k + (1 - up[k]) / (up[k + 1] - up[k])) / FS
    for onset in (onset for onsets in tries for onset in onsets):
        assert np.abs(rises - onset).min() <= ROUNDED
    for pumps in flights:
        assert weigh(up, FS, pumps) == pytest.approx(1.0, abs=FLIGHT)
        assert [weigh(up, FS, [*two]) for two in pairwise(pumps)] == pytest.approx([1] * (len(pumps) - 1), abs=PUMP)


def test_truth_is_in_order_and_plain() -> None:
    def plain(x: Any) -> bool:
        if isinstance(x, dict | list):
            return all(map(plain, x.values() if isinstance(x, dict) else x))
        return type(x) in (float, int, str)

    for number in range(len(MADE)):
        up, truth, flights = motion(number)
        assert plain(truth)
        times = [p[key] for p in truth["pumps"] for key in ("onset_s", "peak_s", "push_end_s")]
        assert times == sorted(times)
        onsets = [onset for a in truth["attempts"] for onset in a["onsets_s"]]
        assert onsets == sorted(onsets)
        for f, pumps in zip(truth["flights"], flights, strict=True):
            assert f["start_s"] == pumps[0]["onset_s"] and pumps[-1]["push_end_s"] < f["end_s"] < len(up) / FS
        assert all(a["end_s"] < b["start_s"] for a, b in pairwise(truth["flights"]))
        assert 119 < len(up) / FS < 301


def test_nobody_flies_away() -> None:
    """Height, from the force twice integrated, comes back over a flight (momentum theorem)."""
    for number in range(len(MADE)):
        up, _, flights = motion(number)
        for pumps in flights:
            at = [round(p["onset_s"] * FS) for p in pumps]
            z = np.cumsum(np.cumsum((up[at[0] : at[-1] + 1] - 1) * GRAVITY)) / FS**2
            at_onsets = z[np.array(at) - at[0]]
            climb = np.polyval(np.polyfit(at, at_onsets, 1), at)  # of the speed at the first onset, which is not 0
            assert np.ptp(at_onsets - climb) < DRIFT
            for (a, b), p in zip(pairwise(at), pumps, strict=False):
                own = np.cumsum(np.cumsum(up[a:b] - up[a:b].mean())) * GRAVITY / FS**2
                travel = np.ptp(own - np.linspace(own[0], own[-1], len(own)))
                assert travel == pytest.approx(p["travel_m"], abs=0.002)


# --- riders ---


def test_riders_keep_to_what_riders_do() -> None:
    """1.05-1.95 Hz, push share 0.18-0.55, peak 1.4-2.6 g; period CV 2-7 % once the first pumps are over; the ranges are
    used."""
    rows = []
    for number in range(len(MADE)):
        for pumps in motion(number).flights:
            onsets, ends, peaks = np.array([(p["onset_s"], p["push_end_s"], p["peak_g"]) for p in pumps]).T
            periods = np.diff(onsets)
            even, cv = periods[3:], 0.04
            if len(even) >= 20:
                k = np.arange(len(even))
                slow = np.polyval(np.polyfit(k, even, 3), k)
                cv = float((even - slow).std(ddof=4) / even.mean())
            assert peaks.min() >= 1.4 and peaks.max() <= 2.65 and 4 <= len(pumps) <= 110
            rows.append((1 / np.median(periods), cv, np.median((ends - onsets)[:-1] / periods), np.median(peaks)))
    low, high = np.min(rows, axis=0), np.max(rows, axis=0)
    assert (low >= [1.05, 0.02, 0.18, 1.4]).all() and (high <= [1.95, 0.07, 0.55, 2.6]).all()
    assert (low <= [1.15, 0.03, 0.25, 1.6]).all() and (high >= [1.85, 0.055, 0.5, 2.3]).all()


def test_riders_are_dealt_evenly() -> None:
    """Of 48 numbers' flying ones each has another 42nd of the cadences; no two have the same shape."""
    numbers = [n for n in range(48) if kind_of(n) != "landwalk"]
    riders = [draw_rider(np.random.default_rng([SEED, n]), SEED, n) for n in numbers]
    cells = sorted(int((rider.cadence - 1.06) / 0.88 * RIDERS) for rider in riders)
    assert cells == list(range(RIDERS)) and len({rider.style for rider in riders}) == RIDERS


@pytest.mark.parametrize("share", [0.2, 0.35, 0.48, 0.54])
def test_once_a_pump_is_the_first_harmonic(share: float) -> None:
    """As numpy's Fourier transform has it, of half-sines that balance."""
    u = (np.arange(20000) + 0.5) / 20000
    push = np.where(u < share, np.sin(np.pi * u / share), 0)
    glide = np.where(u >= share, np.sin(np.pi * (u - share) / (1 - share)), 0)
    wave = push - glide * push.mean() / glide.mean()
    assert once_a_pump(share) == pytest.approx(2 * abs(np.fft.rfft(wave)[1]) / len(u), abs=1e-6)


@pytest.mark.parametrize("shoulder", [0.0, 0.3])
def test_a_pump_is_two_bumps_that_balance(shoulder: float) -> None:
    """Over 1 g in its share, under 1 g in the rest, feet never pulling, mean 1 g and the excess asked for; what it
    moves is what force twice integrated moves."""
    u = np.linspace(0, 1, 20001)
    for skews in ((-0.3, -0.35), (0.0, 0.0), (0.45, 0.4)):
        cycle = Cycle(0.7, 0.35, 0.9, shoulder, style := Style(skews[0], 0.1, skews[1], 0.1, shoulder))
        for cycle.excess in (0.0, MOST):
            n = cycle.at(u)
            assert (n[(u > 0) & (u < 0.35)] > 1).all() and (n[(u > 0.35) & (u < 1)] < 1).all() and n.min() > 0
            assert n.max() == pytest.approx(1.9, abs=0.001) and n.mean() == pytest.approx(1 + cycle.excess, abs=5e-4)
            v = np.cumsum(n - 1) * GRAVITY * 0.7 / len(u)
            assert cycle.moves() == pytest.approx((v[-1], v.mean() * 0.7), abs=2e-3)
            assert v.mean() + cycle.level_speed() == pytest.approx(0, abs=2e-3)
    assert Cycle(0.7, 0.55, 3.0, 0.0, style).at(u).min() > 0


def test_a_hump_without_bends_is_a_half_sine() -> None:
    """Mean 2 / pi, top 1 in the middle (by hand); skew moves the top to where u + skew u (1 - u) is one half."""
    u = np.linspace(0, 1, 10001)
    assert hump(u, 0.0).mean() == pytest.approx(2 / np.pi, abs=1e-4) and u[hump(u, 0.0).argmax()] == 0.5
    assert u[hump(u, 0.4).argmax()] == pytest.approx((1.4 - np.sqrt(1.96 - 0.8)) / 0.8, abs=2e-4)
    flat = hump(u, 0.0, 0.1)
    assert flat.max() < 1 and flat[2000] > np.sin(0.2 * np.pi)


def test_a_train_that_begins_too_fast_comes_back() -> None:
    """Height and speed summed up by hand, cycle by cycle: a body that rises 0.1 m/s too fast at the first onset comes
    back to where it was, no cycle being off 1 g by more than MOST; to rest means that it then neither rises nor
    falls."""
    for period, share in ((0.52, 0.5), (0.7, 0.35), (0.9, 0.2)):
        cycles = [Cycle(period, share, 0.9, 0.0, Style(0.1, 0.0, -0.1, 0.1)) for _ in range(40)]
        rising, heights = cycles[0].level_speed() + 0.1, [0.0]
        keep_height(cycles, rising, to_rest=True)
        for cycle in cycles:
            faster, climb = cycle.moves()
            heights.append(heights[-1] + rising * cycle.period + climb)
            rising += faster
        assert max(heights) > 0.04 and np.abs(heights[-10:-1]).max() < 0.002
        assert rising == pytest.approx(0.0, abs=0.006)  # means of bumps are of 201 points, ends too: 0.5 % less
        assert max(abs(cycle.excess) for cycle in cycles[:-1]) <= MOST


def test_first_pumps_differ_and_effort_fades() -> None:
    """Of many riders: hard ones begin quicker and higher than they go on, weak ones lower; the 80th push is lower."""
    r = np.random.default_rng(SEED)
    first: dict[str, list[tuple[float, float]]] = {"hard": [], "weak": []}
    fades = []
    for number in range(150):
        rider = draw_rider(r, SEED, number)
        cycles = draw_cycles(r, rider, 90)
        period, height = np.array([(cycle.period, cycle.asked) for cycle in cycles]).T
        assert np.median(period) == pytest.approx(1 / rider.cadence, rel=0.05)
        if rider.first in first:
            usual = np.median(period[3:20]), np.median(height[3:20])
            first[rider.first].append((period[0] / usual[0] - 1, height[0] / usual[1] - 1))
        fades.append(np.mean(height[80:]) / np.mean(height[5:15]))
    hard, weak = (np.median(first[how], axis=0) for how in ("hard", "weak"))
    assert hard[0] < -0.03 and hard[1] > 0.04 and abs(weak[0]) < 0.03 and weak[1] < -0.05
    assert 0.75 < np.median(fades) < 0.92


# --- outings ---


def test_each_kind_comes_at_each_rate() -> None:
    assert len({(kind_of(n), rate_of(n)) for n in range(24)}) == len(KINDS) * len(RATES) == 24
    assert [kind_of(n) for n in range(8, 16)] == list(KINDS)


def test_an_outing_is_of_its_kind() -> None:
    starts: dict[str, set[str]] = {kind: set() for kind in KINDS}
    for number in range(len(MADE)):
        kind, (_, truth, flights) = kind_of(number), motion(number)
        starts[kind] |= {f["started_by"] for f in truth["flights"]}
        assert bool(flights) == bool(truth["attempts"]) == (kind != "landwalk")
        assert all(len(pumps) < PUMPS[kind][1] for pumps in flights)
        assert not flights or len(flights[0]) >= PUMPS[kind][0]  # later ones may have to be cut short
    assert starts == {
        "calm": {"run_up", "step"}, "rough": {"run_up", "step"}, "short": {"run_up"}, "long": {"run_up", "step"},
        "tow": {"rope"}, "step": {"step"}, "mixed": {"run_up", "rope", "step"}, "landwalk": set(),
    }  # fmt: skip
    few = {len(a["onsets_s"]) for number in range(len(MADE)) for a in motion(number).truth["attempts"]}
    assert {0, 1, 2} < few


def _longest(low: Array) -> float:
    """[s] of the longest stretch."""
    edges = np.flatnonzero(np.diff(low.astype(int), prepend=0, append=0))
    return float((edges[1::2] - edges[::2]).max(initial=0) / FS)


def test_flights_begin_and_end_as_truth_says() -> None:
    """A run-up has a jump of 0.2-0.35 s and lands with 2-4 g; a step is a short light moment; on a rope one is never
    light. A fall hits the water."""
    for number in range(len(MADE)):
        up, truth, _ = motion(number)
        for f in truth["flights"]:
            first, end = round(f["start_s"] * FS), round(f["end_s"] * FS)
            before, after = up[first - 3 * FS : first], up[end : end + 8 * FS]
            match f["started_by"]:
                case "run_up":
                    assert 0.19 < _longest(before < 0.5) < 0.36 and 2 < before.max() < 4
                case "step":
                    assert 0.05 < _longest(before < 0.65) < 0.3 and 1.1 < before.max() < 2
                case "rope":  # but for the dip from which one pumps
                    assert before[: -FS // 2].min() > 0.8
            assert f["ended_by"] != "fall" or after.max() > 2


@pytest.mark.parametrize(
    ("does", "low", "high", "off"),
    [
        (ashore.walk, 1.6, 2.2, 0.002), (lambda c, s: ashore.run(c, s, (2.6, 2.6), (1, 3), 0.7), 2.5, 2.7, TINY),
        (ashore.knee_bends, 0.45, 0.75, 0.01), (ashore.swim, 0.5, 1.05, 0.005),
    ],
)  # fmt: skip
def test_nobody_on_foot_or_afloat_is_lifted(
    does: Callable[[Chain, float], None], low: float, high: float, off: float
) -> None:
    """Mean 1 g (momentum theorem) but for a cycle cut short or of uneven pace, at the pace [Hz] that it should have."""
    for seed in range(5):
        c = Chain(np.random.default_rng([SEED, seed]), 0.5)
        does(c, 40.0)
        columns = c.whole()
        up = columns["up"]
        assert len(up) == c.length == pytest.approx(40 * FS, abs=0.5 * FS) and c.now == len(up) / FS
        assert up.mean() == pytest.approx(1.0, abs=off) and up.min() > -0.2
        hz = np.fft.rfftfreq(len(up), 1 / FS)
        once = (hz > 0.3) & (hz < 1.4 * high)
        pace = hz[once][np.abs(np.fft.rfft(up - up.mean()))[once].argmax()]
        assert 0.93 * low <= pace <= 1.07 * high


def test_noise_keeps_to_its_band() -> None:
    """RMS as asked; by numpy's Fourier transform hardly any power outside."""
    x = band(np.random.default_rng(SEED), 400 * FS, 1.0, 4.0, 0.1)
    power, hz = np.abs(np.fft.rfft(x)) ** 2, np.fft.rfftfreq(len(x), 1 / FS)
    assert x.std() == pytest.approx(0.1, rel=0.08) and np.abs(x).max() <= 0.3 + TINY
    assert power[(hz > 0.7) & (hz < 6)].sum() > 0.93 * power.sum()


# --- the phone ---


def test_the_gyroscope_carries_gravity() -> None:
    """What is up turns in the trunk's axes as the turn rate says, in a real outing and for a trunk that turns fast."""
    t = np.arange(6 * FS) / FS
    none = np.zeros(len(t))
    turns = {"lean": 0.8 * eased(t / 3), "roll": -0.5 * eased(t / 3 - 0.5), "turn": 1.0 + none}
    for columns in (motion_of(SEED, 4)[1], {name: none for name in COLUMNS} | turns):
        still = columns | {"up": np.ones_like(columns["up"]), "fore": 0 * columns["up"], "left": 0 * columns["up"]}
        force, turning = felt(still)
        assert np.linalg.norm(force, axis=1) == pytest.approx(np.full(len(force), GRAVITY))
        off = np.gradient(force, 1 / FS, axis=0) - np.cross(force, turning)
        assert np.abs(off).max() < 0.05 < 0.3 < np.abs(turning).max()


def test_a_lean_tips_the_trunk_forward_and_right() -> None:
    """By hand: leaning forward by 0.3 rad the trunk's forward axis points down, and so feels -g sin 0.3."""
    level = {name: np.zeros(2000) for name in COLUMNS} | {"up": np.ones(2000)}
    (forward, _), (right, _) = (felt(level | {name: np.full(2000, 0.3)}) for name in ("lean", "roll"))
    c, s = GRAVITY * np.cos(0.3), GRAVITY * np.sin(0.3)
    assert forward[1000] == pytest.approx([-s, 0, c]) and right[1000] == pytest.approx([0, s, c])


def test_a_pouch_is_a_spring_and_a_damper() -> None:
    """Its filter is scipy's bilinear transform of the spring; rest passes; after a kick swings die away by
    exp(-2 pi d / sqrt(1 - d2)) (logarithmic decrement), 7-18 Hz, damping 0.18-0.6."""
    for w, damping in ((2 * np.pi * 7, 0.18), (2 * np.pi * 18, 0.6)):
        theirs = bilinear([2 * damping * w, w * w], [1, 2 * damping * w, w * w], FS)
        assert [x.tolist() for x in spring(w, damping)] == [pytest.approx(x.tolist(), rel=1e-9) for x in theirs]
    still, found = np.tile([1.0, -2.0, 9.0], (2 * FS, 1)), []
    for seed in range(40):
        assert in_pouch(np.random.default_rng(seed), still, []) == pytest.approx(still, abs=1e-9)
        ring = in_pouch(np.random.default_rng(seed), still, [(0.5, 0.2), (7.0, 9.9)])[:, 2] - 9.0
        assert not ring[:500].any()
        zero = 500 + np.flatnonzero(ring[501:-1] * ring[502:] < 0)
        half = np.diff(zero[:3])[0] / FS
        swings = [np.abs(part).max() for part in np.split(ring, zero[:3])[1:3]]
        decrement = 2 * np.log(np.abs(ring[500 : zero[0]]).max() / swings[0])
        damping = decrement / np.hypot(2 * np.pi, decrement)
        found.append((0.5 / half / np.sqrt(1 - damping**2), damping))
    low, high = np.min(found, axis=0), np.max(found, axis=0)
    assert (low >= [6.7, 0.17]).all() and (high <= [18.5, 0.62]).all() and (high > [15, 0.5]).all()


@pytest.mark.parametrize("rate", RATES)
def test_stamps_are_in_order_but_for_gaps(rate: int) -> None:
    """Jitter to 3 ms either way; some sensors say when they sampled, others not."""
    honest = set()
    for seed in range(12):
        times, told = stamps(np.random.default_rng(seed), 60 * FS, rate, 1.5e-3, [(20.0, 0.3)])
        assert (np.diff(times) > 0).all() and (np.diff(told) > 0).all() and told[-1] < 60
        off = np.abs(times - told).max()
        assert off <= 0.003 + TINY and np.diff(times).max() == pytest.approx(0.3, abs=2 / rate + 0.006)
        assert not ((times > 20) & (times < 20.3)).any()
        assert np.median(np.diff(told)) == pytest.approx(1 / rate, rel=0.02)
        assert np.abs(np.diff(told)[np.diff(told) < 0.1] - 1 / rate).max() <= 0.006 + 1e-4
        honest.add(bool(off == 0))
    assert honest == {True, False}


def test_a_phone_lies_any_way() -> None:
    """A rotation keeps lengths and hands."""
    r = np.random.default_rng(SEED)
    ways = [turned(r) for _ in range(200)]
    assert all(way @ way.T == pytest.approx(np.eye(3)) and np.linalg.det(way) == pytest.approx(1) for way in ways)
    assert np.abs(np.mean(ways, axis=0)).max() < 0.2


def test_a_phone_writes_what_it_felt() -> None:
    """Rows of both sensors but for bias, noise, ringing and gaps; speed, late; values in steps of a 16-bit sensor."""
    seen = {"gyro": 0, "fixes": 0}
    for number in ROWS:
        c, columns, truth = motion_of(SEED, number)
        accel, gyro, fixes = recorded(c, columns, rate_of(number))
        assert tuple(0 if rows is None else len(rows) for rows in (accel, gyro, fixes)) == ROWS[number]
        assert np.median(np.diff(accel[:, 0])) == pytest.approx(1 / rate_of(number), rel=0.02)
        assert (np.diff(accel[:, 0]) > 0).all() and np.diff(accel[:, 0]).max() < 0.4
        steps = accel[:, 1:] / (4 * G / 2**15)
        assert steps == pytest.approx(np.round(steps), abs=1e-6)
        force, turning = felt(columns)
        for rows, true, most in ((accel, force, 0.12 * GRAVITY), (gyro, turning, 0.05)):
            if rows is None:
                continue
            t = rows[:, 0]
            aloft = np.zeros(len(t), bool)
            for f in truth["flights"]:
                aloft |= (t > f["start_s"]) & (t < f["end_s"])
            size = np.interp(t, np.arange(len(true)) / FS, np.linalg.norm(true, axis=1))
            assert np.median(np.abs(np.linalg.norm(rows[:, 1:], axis=1) - size)[aloft]) < most
            seen["gyro"] += rows is gyro
        if fixes is not None:
            speed = np.interp(fixes[:, 0] - 1.0, np.arange(len(force)) / FS, columns["speed"])
            assert np.median(np.abs(fixes[:, 1] - speed)) < 0.35 and fixes[:, 1].min() >= 0
            assert np.isnan(fixes[:, 2:]).all() and fixes.shape[1] == 6 and (np.diff(fixes[:, 0]) > 0.9).all()
            seen["fixes"] += 1
    assert seen["gyro"] >= 2 and seen["fixes"] >= 2


def test_the_same_seed_gives_the_same_outing() -> None:
    one = chained_outing(SEED, 2)
    assert_same(one, chained_outing(SEED, 2))
    assert chained_outing(SEED + 1, 2).truth != one.truth
