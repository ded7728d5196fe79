"""Drawn outings (tests/makes/drawn.py): their truth against the clean motion and against the style drawn."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest

from tests.makes.drawn import KINDS, Style, drawn_outing, pump, story_of
from tests.makes.drawn_motion import DT, Story

CADENCE = 0.12
"""Share by which the median cadence of 8 pumps or more may leave the style's: drift and CV of the mean."""
SHARE = 0.05
"""Likewise of the push share: a ledge begins a little earlier, wobble moves the crossings."""
HIGHER = 0.05
"""[g] by which a median peak may lie above the style's; below, the glide's floor and fading legs take it."""


@pytest.fixture(scope="module")
def stories() -> list[Story]:
    return [story_of(seed, kind) for seed in range(3) for kind in KINDS]


def pumped(stories: list[Story]) -> Iterator[tuple[Style, list[dict[str, Any]]]]:
    """Of each attempt with a flight and 8 pumps or more, how it was drawn and its pumps."""
    for story in stories:
        for attempt in story.attempts:
            of_it = set(attempt["onsets_s"])
            pumps = [p for p in story.pumps if p["onset_s"] in of_it]
            if len(pumps) >= 8:
                yield attempt["style"], pumps


def cross_one_g(story: Story) -> int:
    """Asserts that the force rises through 1 g at each onset and falls through it at each push end, to a rounding
    error between samples, with the peak between; how many pumps there were."""
    n = story.whole()[0]
    for p in story.pumps:
        on, top, end = p["onset_s"], round(p["peak_s"] / DT), p["push_end_s"]
        for at, before, after in ((on, -1, 1), (end, 1, -1)):
            i = int(at / DT)
            assert np.sign(n[i] - 1) in (before, 0) and np.sign(n[i + 1] - 1) in (after, 0)
            assert np.interp(at / DT, [i, i + 1], n[i : i + 2]) == pytest.approx(1.0, abs=1e-9)
        assert on / DT < top < end / DT
        assert p["peak_g"] == n[top] == n[int(on / DT) : int(end / DT) + 1].max()
    return len(story.pumps)


def test_onsets_and_push_ends_are_crossings_of_one_g(stories: list[Story]) -> None:
    assert sum(map(cross_one_g, stories)) > 500


def test_cadence_share_and_peak_are_those_of_the_style(stories: list[Story]) -> None:
    many = list(pumped(stories))
    assert len(many) > 20
    for style, pumps in many:
        assert 1.05 <= style.cadence <= 1.95 and 0.02 <= style.cv <= 0.07
        assert 0.18 <= style.share <= 0.55 and 1.4 <= style.peak <= 2.6
        onsets = np.array([p["onset_s"] for p in pumps])
        period = float(np.median(np.diff(onsets)))
        assert 1 / period == pytest.approx(style.cadence, rel=CADENCE)
        share = float(np.median([p["push_end_s"] - p["onset_s"] for p in pumps])) / period
        assert share == pytest.approx(style.share, abs=SHARE)
        peak = float(np.median([p["peak_g"] for p in pumps]))
        assert 1.3 < peak < style.peak + HIGHER


def test_a_pump_weighs_what_the_rider_weighs(stories: list[Story]) -> None:
    """Mean 1 g over each pump, or the rider would climb or sink without end; the glide never under 0.07 g."""
    for style, _ in pumped(stories):
        wave = pump(np.random.default_rng(1), (1 / style.cadence, style.share, style.peak - 1), style)
        assert abs(wave.mean()) < 1e-9
        assert wave.min() > -0.93 - 1e-9


def test_flights_hold_the_pumps(stories: list[Story]) -> None:
    for story in stories:
        onsets = np.array([p["onset_s"] for p in story.pumps])
        for f in story.flights:
            assert np.count_nonzero((onsets >= f["start_s"]) & (onsets < f["end_s"])) == f["pumps"] >= 3
        assert sum(f["pumps"] for f in story.flights) == len(onsets)
        assert (np.diff(onsets) > 0).all()


@pytest.mark.parametrize("kind", ["rough", "foot"])
def test_the_phone_keeps_the_time_and_loses_little(kind: str) -> None:
    o, again = (drawn_outing(3, kind, 100.0) for _ in range(2))
    assert np.array_equal(o.accel, again.accel) and o.truth["pumps"] == again.truth["pumps"]
    t = o.accel[:, 0]
    assert (np.diff(t) > 0).all()
    assert np.median(np.diff(t)) == pytest.approx(0.01, rel=0.05)
    assert np.diff(t).max() < 0.75  # two gaps of 0.35 s may touch
    assert np.median(np.linalg.norm(o.accel[:, 1:], axis=1)) == pytest.approx(9.8, abs=0.6)
    assert bool(o.truth["pumps"]) == (kind != "foot")
