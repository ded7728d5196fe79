"""A training's score against people whose lead and scatter are known."""

from __future__ import annotations

import math
import random

import numpy as np
import pingouin
import pytest

from cadence_coach.land.score import (
    PASS_LOCK,
    PASS_SHARE_OF_CLICKS,
    SETTLING,
    Move,
    lock,
    rayleigh_test,
    score_set,
    v_test,
)

PHASES = [0.1, 0.2, -0.1, 0.05, -0.3, 0.4, 0.0, 0.15]
"""A worked set; R, mean and both p values computed independently with pingouin."""


def moves_at(onsets: list[float], share: float = 0.5) -> list[Move]:
    nexts = [*onsets[1:], onsets[-1] + (onsets[-1] - onsets[-2])]
    return [Move(a, a + share * (b - a), b) for a, b in zip(onsets, nexts, strict=True)]


def clicks_of(tempo: float, count: int = 60, first: float = 3.0) -> list[float]:
    return [first + k * 60 / tempo for k in range(count)]


def test_the_worked_set():
    r, mean = lock(PHASES)
    assert r == pytest.approx(0.98117840, abs=0.5e-8)
    assert mean == pytest.approx(0.06271890, abs=0.5e-8)
    assert rayleigh_test(PHASES) == pytest.approx(2.81694e-5, rel=0.5e-5)
    assert v_test(PHASES) == pytest.approx(4.48295e-5, rel=0.5e-5)


@pytest.mark.parametrize("seed", range(8))
def test_beside_pingouin(seed):
    """Independent reference: pingouin.circ_r, circ_mean, circ_rayleigh, circ_vtest, on tight and loose sets."""
    rng = np.random.default_rng(seed)
    phases = rng.vonmises(rng.uniform(-3, 3), rng.uniform(0.0, 6.0), rng.integers(8, 80))
    r, mean = lock(list(phases))
    assert r == pytest.approx(pingouin.circ_r(phases), abs=1e-12)
    assert mean == pytest.approx(pingouin.circ_mean(phases), abs=1e-12)
    assert rayleigh_test(list(phases)) == pytest.approx(pingouin.circ_rayleigh(phases)[1], rel=1e-6, abs=1e-15)
    assert v_test(list(phases)) == pytest.approx(pingouin.circ_vtest(phases, dir=0.0)[1], rel=1e-6, abs=1e-9)


@pytest.mark.parametrize(("scatter_ms", "r"), [(20, 0.982), (30, 0.961), (50, 0.895), (80, 0.753)])
def test_scatter_shows_as_lock(scatter_ms, r):
    """R = exp(-sigma^2 / 2) of a wrapped normal angle (Mardia & Jupp, Directional Statistics, 3.5.7, from memory)."""
    rng = random.Random(1)
    clicks = clicks_of(90, 3000)
    got = score_set(clicks, moves_at([c + rng.gauss(0, scatter_ms / 1000) for c in clicks]))
    assert got.lock_r == pytest.approx(r, abs=0.01)
    assert (got.lock_r >= PASS_LOCK) == (scatter_ms < 50)


@pytest.mark.parametrize("lead_ms", [-60, 0, 45])
def test_lead_is_positive_ahead_of_the_click(lead_ms):
    rng = random.Random(2)
    clicks = clicks_of(96, 200)
    moves = moves_at([c - lead_ms / 1000 + rng.gauss(0, 0.015) for c in clicks], 0.46)
    got = score_set(clicks, moves)
    assert got.lead_s == pytest.approx(lead_ms / 1000, abs=0.004)
    assert got.v_p < 1e-10 and got.passed
    assert got.cadence_per_min == pytest.approx(96, abs=0.6)
    assert got.push_share == pytest.approx(0.46, abs=0.001)
    assert (got.clicks, got.matched, got.extra) == (200 - SETTLING, 200 - SETTLING, 0)
    unknown = score_set(clicks, moves, same_clock=False)
    assert unknown.lead_s is None and unknown.v_p is None
    assert unknown.lock_r == got.lock_r and unknown.rayleigh_p < 1e-10


def test_what_is_wrong_is_named():
    rng = random.Random(3)
    clicks = clicks_of(90, 80)
    assert score_set(clicks, []).shortfalls == ("too_few",)
    half = moves_at([c + rng.gauss(0, 0.01) for c in clicks[::2]])
    assert score_set(clicks, half).shortfalls == ("every_second",)
    fast = moves_at([3 + k * 60 / 97 for k in range(86)])
    assert "faster" in score_set(clicks, fast).shortfalls and "loose" in score_set(clicks, fast).shortfalls
    slow = moves_at([3 + k * 60 / 84 for k in range(74)])
    assert "slower" in score_set(clicks, slow).shortfalls
    some = moves_at([c for k, c in enumerate(clicks) if k % 5])
    assert "missed" in score_set(clicks, some).shortfalls
    rough = moves_at([c + rng.gauss(0, 0.07) for c in clicks])
    assert {"uneven", "loose"} <= set(score_set(clicks, rough).shortfalls)


def test_movement_without_regard_to_the_clicks_has_no_small_p():
    """False alarms of the V test at 5 %: 200 sets of 40 movements anywhere in the beat."""
    rng = random.Random(4)
    clicks = clicks_of(90, 44)
    hits = 0
    for _ in range(200):
        onsets = [c + rng.uniform(-0.333, 0.333) for c in clicks]
        hits += score_set(clicks, moves_at(sorted(onsets))).v_p < 0.05
    assert hits <= 20  # 10 expected; P(more than 20) = 0.001


def test_the_settling_clicks_and_what_lies_outside_do_not_count():
    clicks = clicks_of(90, 30)
    good = [c for c in clicks]
    early = [clicks[0] - 5, *[c + 0.25 for c in clicks[:SETTLING]]]
    got = score_set(clicks, moves_at([*early, *good[SETTLING:], clicks[-1] + 4]))
    assert got.moves == 30 - SETTLING and got.lock_r == pytest.approx(1)
    with pytest.raises(ValueError, match="two clicks"):
        score_set([1.0], [])


def test_a_steady_set_of_the_handbook():
    """CV of period of a worked list: 0.03712385 (sample SD / mean, scipy.stats.variation(ddof=1))."""
    periods = [0.60, 0.62, 0.58, 0.61, 0.59, 0.60, 0.64, 0.57]
    onsets = [0.0]
    for period in periods:
        onsets.append(onsets[-1] + period)
    clicks = [onsets[0] + (k - SETTLING) * 0.6 for k in range(SETTLING + 9)]
    got = score_set(clicks, moves_at(onsets))
    assert got.moves == 9
    assert got.steadiness == pytest.approx(0.03712385, abs=0.5e-8)
    assert math.isclose(got.cadence_per_min, 100.0)


def test_a_squat_left_out_or_not_heard_does_not_make_the_others_uneven():
    """Up to the share that may be missed, as for a flight; doubled intervals are missed clicks, no scatter."""
    clicks = clicks_of(90, 60)
    one = score_set(clicks, moves_at([c for k, c in enumerate(clicks) if k != 30]))
    assert one.missed == 1 and one.steadiness == pytest.approx(0, abs=1e-9) and one.passed
    eight = score_set(clicks, moves_at([c for k, c in enumerate(clicks) if k % 7 or k < SETTLING]))
    assert eight.missed == 8 and eight.matched >= PASS_SHARE_OF_CLICKS * eight.clicks and eight.passed
    rng = random.Random(5)
    uneven = [c + rng.gauss(0, 0.05) for k, c in enumerate(clicks) if k % 7 or k < SETTLING]
    assert "uneven" in score_set(clicks, moves_at(uneven)).shortfalls


@pytest.mark.parametrize("tempo", [77.7, 84, 90, 92.5, 103.1])
def test_the_tempo_is_told_as_it_was_asked(tempo):
    clicks = clicks_of(tempo, 60, first=6.37)
    assert score_set(clicks, []).tempo_per_min == tempo
    assert score_set([round(c, 9) for c in clicks], []).tempo_per_min == tempo  # as a file keeps them
