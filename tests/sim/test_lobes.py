"""The third way to make outings, against what its motion says by itself."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from tests.makes.lobes import FINE, RATES, _motion, _truth, lobed_outing

SEEDS = range(5)


@pytest.mark.parametrize("seed", SEEDS)
def test_truth_is_where_the_motion_says(seed: int) -> None:
    """At an onset the force rises through 1 g, at a push end it falls; between onsets its mean is 1 g (momentum
    theorem); one to two pumps a second (common practice, no source)."""
    n, flights = _motion(np.random.default_rng(seed))
    truth = _truth(n, flights)
    t = np.arange(len(n)) / FINE
    pumps = truth["pumps"]
    assert len(pumps) == sum(map(len, flights)) > 10
    for pump in pumps:
        for key, way in (("onset_s", 1), ("push_end_s", -1)):
            at = float(pump[key])  # type: ignore[arg-type]
            assert np.interp(at, t, n) == pytest.approx(1.0, abs=1e-6)
            assert way * (np.interp(at + 0.001, t, n) - np.interp(at - 0.001, t, n)) > 0
    periods = []
    for flight in truth["flights"]:
        onsets = [float(p["onset_s"]) for p in pumps if flight["start_s"] <= p["onset_s"] < flight["end_s"]]  # type: ignore[operator, arg-type]
        assert len(onsets) == flight["pumps"]
        for a, b in pairwise(onsets):
            assert n[round(a * FINE) : round(b * FINE)].mean() == pytest.approx(1.0, abs=0.06)
            periods.append(b - a)
    assert 0.45 < np.median(periods) < 1.05


def test_the_same_seed_gives_the_same_outing_and_rows_go_forward() -> None:
    for seed, rate in zip(SEEDS, (*RATES, 100.0, 50.0), strict=True):
        one, other = lobed_outing(seed, rate), lobed_outing(seed, rate)
        assert np.array_equal(one.accel, other.accel) and one.truth == other.truth
        assert (np.diff(one.accel[:, 0]) > 0).all()
        assert np.median(np.diff(one.accel[:, 0])) == pytest.approx(1 / rate, rel=0.05)
