"""The peak of a push in hindsight: halfway between the detector's and the top of the pump's low harmonics."""

from __future__ import annotations

import math
from types import SimpleNamespace

import attrs
import numpy as np
import pytest

from cadence_coach.core.units import G
from cadence_coach.review.peaks import FINE, POINTS, settled_peaks
from cadence_coach.review.pumps import Pumps

PERIOD, COUNT, BEFORE_S = 0.7, 40, 3.0


def ridden(shape, noise: float = 0.0, step: float = 0.01, seed: int = 1) -> SimpleNamespace:
    """An outing of pumps all alike, `shape` (g over 0..1) each, standing before and after."""
    t = np.arange(0.0, PERIOD * COUNT + 2 * BEFORE_S, step)
    phase = (t - BEFORE_S) / PERIOD
    g = np.where((phase >= 0) & (phase < COUNT), shape(phase % 1.0), 1.0)
    g = g + noise * np.random.default_rng(seed).standard_normal(len(t))
    return SimpleNamespace(accel=np.column_stack([t, 0.0 * t, 0.0 * t, g * G]), gyro=None)


def pumps_at(peak_phase, share: float = 0.5) -> Pumps:
    onset = BEFORE_S + PERIOD * np.arange(COUNT)
    none = np.full(COUNT, math.nan)
    blank = Pumps(*(none for _ in attrs.fields(Pumps)))
    return attrs.evolve(
        blank, onset=onset, end=onset + PERIOD, push_end=onset + share * PERIOD, peak=onset + peak_phase * PERIOD
    )


def two_harmonics(phase):
    return 1.0 + 0.6 * np.sin(2 * np.pi * phase) + 0.18 * np.sin(4 * np.pi * phase)


TOP = math.acos((-1.0 + math.sqrt(1.0 + 4 * 1.2 * 0.6)) / 2.4) / (2 * math.pi)
"""Where sin x + 0.3 sin 2x is highest: cos x + 0.6 (2 cos^2 x - 1) = 0; 0.18380 of the pump."""


def test_halfway_to_the_top_of_two_harmonics():
    pumps = pumps_at(0.24)
    found = (settled_peaks(ridden(two_harmonics, step=0.005), pumps) - pumps.onset) / PERIOD
    assert found[2:-2] == pytest.approx((0.24 + TOP) / 2.0, abs=1.0 / (POINTS * FINE))


def flat(phase):
    """Flat-topped push, leaning forward, then a half-sine glide that gives back what it gave."""
    share, lean = 0.45, 0.42
    x = np.clip(phase / share, 0.0, 1.0)
    y = np.pi * (x + (0.5 - lean) / (lean * (1 - lean)) * x * (1 - x))
    push = (np.sin(y) + 0.06 * np.sin(3 * y)) / 0.94
    return 1.0 + np.where(phase < share, push, -0.62 * np.sin(np.pi * (phase - share) / (1 - share)))


def test_errs_less_than_the_highest_sample_on_a_flat_top_in_noise():
    """What a detector does, the highest of three smoothed samples, beside it on the same noise: about a fifth less."""
    truth, off = 0.42 * 0.45, []
    for seed in range(5):
        outing = ridden(flat, noise=0.06, seed=seed)
        t, g = outing.accel[:, 0], np.convolve(outing.accel[:, 3] / G, [0.25, 0.5, 0.25], "same")
        pumps = pumps_at(truth, share=0.45)
        highest = [
            t[k][g[k].argmax()]
            for a, b in zip(pumps.onset, pumps.push_end, strict=True)
            if (k := (t > a) & (t < b)).any()
        ]
        pumps = attrs.evolve(pumps, peak=np.array(highest))
        settled = settled_peaks(outing, pumps)
        assert ((settled > pumps.onset) & (settled < pumps.push_end)).all()
        off.append([((p - pumps.onset) / PERIOD - truth).std() for p in (pumps.peak, settled)])
    plain, better = np.mean(off, axis=0)
    assert better < 0.9 * plain


def test_a_hole_in_the_samples_leaves_the_detectors_peak():
    outing = ridden(two_harmonics)
    pumps = pumps_at(0.24)
    hole = (outing.accel[:, 0] > pumps.onset[10]) & (outing.accel[:, 0] < pumps.end[11])
    holed = SimpleNamespace(accel=outing.accel[~hole], gyro=None)
    found = settled_peaks(holed, pumps)
    assert (found[10:12] == pumps.peak[10:12]).all()
    assert (found[[9, 12]] != pumps.peak[[9, 12]]).all()
    nothing = SimpleNamespace(accel=outing.accel[:0], gyro=None)
    assert (settled_peaks(nothing, pumps) == pumps.peak).all()
    assert len(settled_peaks(outing, pumps.rows(slice(0, 0)))) == 0
