"""Woven outings (tests/makes/woven.py): shapes that rise and fall once, and truth against the clean motion."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from tests.makes.drawn import draw_style, story_of
from tests.makes.drawn_motion import Story
from tests.makes.woven import FLAT, FLOOR, Half, hopping, woven_outing, woven_run, woven_start

from .test_drawn import cross_one_g


def test_a_half_rises_to_its_top_and_falls_again() -> None:
    """Up and down but once, and never nearer to the level than FLAT of the straight line to the top."""
    for seed in range(200):
        r = np.random.default_rng(seed)
        half = Half(r)
        half.loose = 0.0
        y = half.drawn(r, 400)
        top = int(y.argmax())
        assert (np.diff(y[: top + 1]) >= 0.0).all() and (np.diff(y[top:]) <= 0.0).all() and 70 < top < 330
        k = int(half.high.argmax())
        assert (half.high[: k + 1] >= FLAT * half.at[: k + 1] / half.at[k] - 1e-9).all()
        assert (half.high[k:] >= FLAT * (1.0 - half.at[k:]) / (1.0 - half.at[k]) - 1e-9).all()


def test_pumps_of_a_rider_are_alike_but_not_the_same() -> None:
    r = np.random.default_rng(2)
    half = Half(r)
    half.loose = 0.1
    one, two = half.drawn(r, 300), half.drawn(r, 300)
    assert 0.0 < np.abs(one - two).max() < 0.6


@pytest.mark.parametrize("seed", range(12))
def test_a_pump_weighs_what_the_rider_weighs(seed: int) -> None:
    """Mean 1 g from onset to onset (momentum theorem), and nobody is pulled down by more than FLOOR."""
    story = Story(np.random.default_rng(seed))
    story.speed = 4.0
    begins, _ = woven_run(story, 9, draw_style(story.rng), "touch_down")
    n = story.whole()[0]
    for a, b in pairwise(begins[2:-1]):
        assert n[a:b].mean() == pytest.approx(1.0, abs=0.05)
    assert n.min() > 1.0 - FLOOR - 0.08


def test_onsets_and_push_ends_are_crossings_of_one_g() -> None:
    kinds = ("calm", "short", "step", "tow", "mixed", "rough")
    stories = [story_of(seed, kind, 78, woven_start, woven_run, hopping) for seed, kind in enumerate(kinds)]
    assert sum(map(cross_one_g, stories)) > 100


def test_the_same_seed_gives_the_same_outing() -> None:
    a, b = (woven_outing(5, "step", 100.0) for _ in range(2))
    assert np.array_equal(a.accel, b.accel) and a.truth["pumps"] == b.truth["pumps"] and a.gyro is not None
    assert not np.array_equal(a.accel[:1000], woven_outing(6, "step", 100.0).accel[:1000])
    assert woven_outing(5, "foot", 50.0, gyro=False).gyro is None and woven_outing(5, "foot", 50.0).truth["pumps"] == []
    assert (np.diff(a.accel[:, 0]) > 0).all()
