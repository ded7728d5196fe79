"""Plain statistics of pump series, with numpy alone: the phone has no scipy. scipy.stats and pingouin judge them in the
tests.

Single-number fatigue indices are left out on purpose (retest ICC 0.09-0.75, Glaister 2008): a robust slope with its
interval and the curve itself say more.
"""

from __future__ import annotations

import math
from statistics import NormalDist
from typing import NamedTuple

import numpy as np

SLOPE_POINTS = 400
"""Above this many points a slope is taken over medians of neighbours: 400 points already give 79 800 pairs."""


class Slope(NamedTuple):
    """A robust slope and its 95 % interval, in units of y per unit of x."""

    slope: float
    low: float
    high: float

    @property
    def clear(self) -> bool:
        """The interval leaves zero out."""
        return self.low > 0.0 or self.high < 0.0


class Lock(NamedTuple):
    """How a series of events sits on a series of clicks: `r` is the length of the mean phase vector (1 = always the
    same place), `mean_rad` its angle (positive: after the click), `rayleigh_p` against pure scatter, `v_p` against
    scatter with the click itself as the expected place."""

    n: int
    r: float
    mean_rad: float
    rayleigh_p: float
    v_p: float


def variation(x: np.ndarray) -> float | None:
    """Coefficient of variation: standard deviation (ddof 1) / mean. None under two values."""
    x = np.asarray(x, float)
    return float(np.std(x, ddof=1) / np.mean(x)) if len(x) >= 2 else None


def rmssd(x: np.ndarray) -> float | None:
    """Root mean square of successive differences, in the unit of x. None under two values."""
    x = np.asarray(x, float)
    return float(np.sqrt(np.mean(np.diff(x) ** 2))) if len(x) >= 2 else None


def lag1(x: np.ndarray) -> float | None:
    """Autocorrelation at lag one, about the overall mean. None under three values or where nothing varies."""
    d = np.asarray(x, float) - np.mean(x)
    power = float(d @ d)
    return float(d[:-1] @ d[1:] / power) if len(d) >= 3 and power > 0.0 else None


def robust_slope(x: np.ndarray, y: np.ndarray, level: float = 0.95) -> Slope | None:
    """Theil-Sen slope of y on x with Sen's interval (P. K. Sen 1968, J. Am. Stat. Assoc. 63, 1379-1389): the median of
    the slopes of all pairs, and the two ranked slopes that Kendall's S, taken as normal, puts at the edges. None under
    three different x.
    """
    x, y = _thinned(np.asarray(x, float), np.asarray(y, float))
    n = len(x)
    i, j = np.triu_indices(n, 1)
    dx = x[j] - x[i]
    rising = dx != 0.0
    slopes = np.sort((y[j] - y[i])[rising] / dx[rising])
    if len(np.unique(x)) < 3:
        return None
    variance = (n * (n - 1) * (2 * n + 5) - _ties(x) - _ties(y)) / 18.0
    half = NormalDist().inv_cdf(0.5 + level / 2.0) * math.sqrt(max(0.0, variance))
    low = max(round((len(slopes) - half) / 2.0) - 1, 0)
    high = min(round((len(slopes) + half) / 2.0), len(slopes) - 1)
    return Slope(float(np.median(slopes)), float(slopes[low]), float(slopes[high]))


def straight_slope(x: np.ndarray, y: np.ndarray) -> float | None:
    """Least-squares slope of y on x."""
    d = np.asarray(x, float) - np.mean(x)
    return float(d @ np.asarray(y, float) / (d @ d)) if len(d) >= 2 and (d @ d) > 0.0 else None


def lock(phases: np.ndarray) -> Lock | None:
    """Circular statistics of phases [rad]. p of Rayleigh's test and of the V test by the approximations of
    J. H. Zar, Biostatistical Analysis (from memory). None under three phases."""
    phases = np.asarray(phases, float)
    n = len(phases)
    if n < 3:
        return None
    mean = np.mean(np.exp(1j * phases))
    r = min(1.0, float(abs(mean)))
    angle = float(np.angle(mean))
    total = n * r
    rayleigh = math.exp(math.sqrt(1.0 + 4.0 * n + 4.0 * (n * n - total * total)) - (1.0 + 2.0 * n))
    v_p = 0.5 * math.erfc(total * math.cos(angle) * math.sqrt(2.0 / n) / math.sqrt(2.0))
    return Lock(n, r, angle, rayleigh, v_p)


def spread(x: np.ndarray) -> float | None:
    """Interquartile range, linear between order statistics. None under four values."""
    x = np.asarray(x, float)
    return float(np.subtract(*np.percentile(x, [75, 25]))) if len(x) >= 4 else None


def middle(x: np.ndarray) -> float | None:
    """Median of the values that are known (not NaN); None where none is."""
    x = np.asarray(x, float)
    x = x[np.isfinite(x)]
    return float(np.median(x)) if len(x) else None


def _ties(values: np.ndarray) -> float:
    _, counts = np.unique(values, return_counts=True)
    return float(np.sum(counts * (counts - 1) * (2 * counts + 5)))


def _thinned(x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    if len(x) <= SLOPE_POINTS:
        return x, y
    group = math.ceil(len(x) / SLOPE_POINTS)
    whole = len(x) // group * group
    return np.median(x[:whole].reshape(-1, group), axis=1), np.median(y[:whole].reshape(-1, group), axis=1)
