"""The mean pump of a flight: vertical specific force against the phase of the pump, with its spread and its four
parts."""

from __future__ import annotations

import attrs
import numpy as np

from cadence_coach.review.pumps import Pumps
from cadence_coach.review.vertical import vertical
from cadence_coach.store.outing import Outing

POINTS = 60
"""Points over one pump: one in 10 ms of a usual pump, about what 100 Hz carries."""

FEWEST = 4
"""Pumps under which a mean with a spread would only pretend."""

LEAST_RATE_HZ = 20.0
"""Pumps sampled more thinly than this (a hole in the data) are left out."""

EDGE_S = 0.1
"""Taken beyond the first and the last pump, so that the smoothing has two sides there, too."""

SMOOTH_HZ = 12.0
"""Above this a pouch rings (7-18 Hz) more than a rider moves; the mean over pumps takes out most of the rest."""


@attrs.frozen(eq=False)
class Waveform:
    """`phase` 0..1 from onset to next onset; `mean_g`, `low_g`, `high_g` (10th and 90th percentile) of shape [POINTS];
    `marks`: median phase of peak, push end and the middle of the low half of the glide; `pumps`: how many went in;
    `period_s`: their median."""

    phase: np.ndarray
    mean_g: np.ndarray
    low_g: np.ndarray
    high_g: np.ndarray
    marks: tuple[float, float, float]
    pumps: int
    period_s: float


def mean_waveform(outing: Outing, pumps: Pumps) -> Waveform | None:
    """The mean pump, each stretched to the same length first. None under FEWEST whole pumps with samples."""
    if len(pumps) < FEWEST:
        return None
    t, g = vertical(outing, float(pumps.onset[0]) - EDGE_S, float(pumps.end[-1]) + EDGE_S)
    if len(t) < LEAST_RATE_HZ * FEWEST * float(np.median(pumps.period)):
        return None
    phase = np.linspace(0.0, 1.0, POINTS)
    counts = np.searchsorted(t, pumps.end) - np.searchsorted(t, pumps.onset)
    whole = counts >= LEAST_RATE_HZ * pumps.period
    if whole.sum() < FEWEST:
        return None
    g = _smoothed(t, g)
    times = pumps.onset[whole, None] + phase * pumps.period[whole, None]
    each = np.interp(times, t, g)
    catch, shove, ease, _ = pumps.parts[:, whole]
    marks = (float(np.median(catch)), float(np.median(catch + shove)), float(np.median(catch + shove + ease)))
    low, high = np.percentile(each, [10, 90], axis=0)
    return Waveform(phase, each.mean(axis=0), low, high, marks, int(whole.sum()), float(np.median(pumps.period[whole])))


def _smoothed(t: np.ndarray, g: np.ndarray) -> np.ndarray:
    """Mean over half a period of SMOOTH_HZ around each sample: symmetric, so nothing moves in time."""
    total = np.concatenate([[0.0], np.cumsum(np.diff(t) * (g[1:] + g[:-1]) / 2.0)])
    half = 0.25 / SMOOTH_HZ
    left, right = np.maximum(t - half, t[0]), np.minimum(t + half, t[-1])
    return (np.interp(right, t, total) - np.interp(left, t, total)) / (right - left)
