"""When the peak of each push was, looked at afterwards.

Catch and shove hang on one moment on a top that is flat, and that a pouch rings on. Two looks at it err differently:
the detector's highest sample of a short smoother is moved by noise and ringing, the top of the pump's low harmonics by
what they leave out. The middle between them is off by less than either.
"""

from __future__ import annotations

import numpy as np

from cadence_coach.review.pumps import Pumps
from cadence_coach.review.vertical import vertical
from cadence_coach.store.outing import Outing

POINTS = 96
"""Samples of one pump over its phase."""

HARMONICS = np.array([1.0] * 8 + [2 / 3, 1 / 3])
"""Share of each harmonic that is kept, the mean first: up to the eighth, 8 to 16 Hz, where a pouch begins to ring more
than a rider moves; cut softly, so that the cut does not ring itself. With 6 to 14 kept it comes out much the same."""

FINE = 8
"""Points between two samples at which the top is looked for."""

LEAST_RATE_HZ = 20.0
"""Pumps sampled more thinly than this (a hole in the data) keep the detector's peak."""


def settled_peaks(outing: Outing, pumps: Pumps) -> np.ndarray:
    """Time of the peak of each pump [s], shape [n], between its onset and its push end."""
    if not len(pumps):
        return pumps.peak
    t, g = vertical(outing, float(pumps.onset[0]), float(pumps.end[-1]))
    counts = np.searchsorted(t, pumps.end) - np.searchsorted(t, pumps.onset)
    seen = counts >= LEAST_RATE_HZ * pumps.period
    peak = pumps.peak.copy()
    if seen.any():
        tops = _tops(t, g, pumps, seen)
        peak[seen] = (peak[seen] + tops) / 2.0
    return peak


def _tops(t: np.ndarray, g: np.ndarray, pumps: Pumps, seen: np.ndarray) -> np.ndarray:
    """Times of the top of the low harmonics within each push [s]; a pump ends as high as it began, so that its
    harmonics are its own."""
    phase = np.arange(POINTS) / POINTS
    each = np.interp(pumps.onset[seen, None] + phase * pumps.period[seen, None], t, g)
    low = np.fft.rfft(each, axis=1)
    low[:, len(HARMONICS) :] = 0.0
    low[:, : len(HARMONICS)] *= HARMONICS
    fine = np.fft.irfft(low, POINTS * FINE, axis=1)
    past = np.arange(POINTS * FINE) / (POINTS * FINE) > pumps.push_share[seen, None]
    fine[past] = -np.inf
    return np.asarray(pumps.onset[seen] + fine.argmax(axis=1) / (POINTS * FINE) * pumps.period[seen])
