"""Two general-purpose ways to find pumps, in their plain form, to be measured beside ours in the same run.

Both take the vertical from a low-passed gravity and call three events or more without a long pause a flight, where
there is a speed only above 2.2 m/s; they know nothing of run-ups, jumps, ringing and falls.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from scipy.signal import butter, find_peaks, sosfilt, sosfilt_zi, sosfiltfilt

from cadence_coach.core.units import G
from cadence_coach.sim import SimulatedOuting

LEAST = 0.35
"""No two pumps closer than this [s]."""
PAUSE = 1.6
FOILING = 2.2
"""Mean speed [m/s] above which a run of peaks is a flight, where there is a speed."""


@dataclass
class Found:
    """Pumps of flights: onset, push_end, known [s], travel [m], size [g] (NaN where not known); flights: (start, end)
    [s]."""

    onset: np.ndarray
    push_end: np.ndarray
    known: np.ndarray
    travel: np.ndarray
    size: np.ndarray
    flights: list[tuple[float, float]] = field(default_factory=list)


def clean(accel: np.ndarray) -> np.ndarray:
    """Rows that are numbers and go forward."""
    a = accel[np.isfinite(accel).all(axis=1)]
    return np.asarray(a[np.concatenate([[True], np.diff(np.maximum.accumulate(a[:, 0])) > 0])])


def even(accel: np.ndarray) -> tuple[float, np.ndarray]:
    """Start [s] and [n, 3] on a 100 Hz grid."""
    a = clean(accel)
    t = np.arange(a[0, 0], a[-1, 0], 0.01)
    return float(t[0]), np.column_stack([np.interp(t, a[:, 0], a[:, k]) for k in (1, 2, 3)])


def grouped(onset: np.ndarray, end: np.ndarray, known: np.ndarray, fixes: np.ndarray | None) -> Found:
    keep = np.zeros(len(onset), bool)
    flights = []
    cuts = np.flatnonzero(np.diff(onset) > PAUSE) + 1
    for run in np.split(np.arange(len(onset)), cuts):
        if len(run) < 3:
            continue
        first, last = onset[run[0]], onset[run[-1]] + float(np.median(np.diff(onset[run])))
        if fixes is not None:
            inside = fixes[(fixes[:, 0] > first) & (fixes[:, 0] < last + 2.0), 1]
            if len(inside) and not np.nanmean(inside) > FOILING:
                continue
        keep[run] = True
        flights.append((float(first), last))
    nothing = np.full(int(keep.sum()), np.nan)
    return Found(onset[keep], end[keep], known[keep], nothing, nothing, flights)


def peaks(o: SimulatedOuting) -> Found:
    """The whole recording at once: zero-phase 4 Hz low-pass, scipy.signal.find_peaks."""
    start, a = even(o.accel)
    up = sosfiltfilt(butter(1, 0.2, fs=100, output="sos"), a, axis=0)
    v = (a * up).sum(axis=1) / (np.linalg.norm(up, axis=1) * G)
    v = sosfiltfilt(butter(2, 4.0, fs=100, output="sos"), v)
    at, _ = find_peaks(v, height=1.15, distance=round(100 * LEAST), prominence=0.25)
    rise = np.flatnonzero((v[:-1] < 1.0) & (v[1:] >= 1.0))
    fall = np.flatnonzero((v[:-1] >= 1.0) & (v[1:] < 1.0))
    before = np.searchsorted(rise, at) - 1
    after = np.searchsorted(fall, at)
    ok = (before >= 0) & (after < len(fall))
    i, j = rise[before[ok]], fall[after[ok]]
    onset = start + 0.01 * (i + (1 - v[i]) / (v[i + 1] - v[i]))
    end = start + 0.01 * (j + (1 - v[j]) / (v[j + 1] - v[j]))
    return grouped(onset, end, np.full(len(onset), np.nan), o.fixes)


def crossing(o: SimulatedOuting, block: int = 10) -> Found:
    """Causal, in blocks of 0.1 s: gravity by a 0.16 Hz low-pass, an 8 Hz one on the vertical, a fixed 1 g crossing with
    0.1 g of hysteresis, back-dated by the filter's delay."""
    start, a = even(o.accel)
    gravity, smooth = butter(1, 0.16, fs=100, output="sos"), butter(2, 8.0, fs=100, output="sos")
    zg = sosfilt_zi(gravity)[:, :, None] * a[0]
    zs = sosfilt_zi(smooth)
    delay = 0.028
    onsets: list[tuple[float, float, float]] = []
    above, candidate, last, dipped = False, np.nan, -np.inf, True
    previous = 1.0
    for first in range(0, len(a), block):
        part = a[first : first + block]
        up, zg = sosfilt(gravity, part, axis=0, zi=zg)
        v, zs = sosfilt(smooth, (part * up).sum(axis=1) / (np.linalg.norm(up, axis=1) * G), zi=zs)
        for k, y in enumerate(v.tolist()):
            now = start + 0.01 * (first + k)
            if previous < 1.0 <= y:
                candidate = now - 0.01 * (y - 1.0) / (y - previous) - delay
            if not above and y > 1.1 and dipped and candidate - last > LEAST:
                onsets.append((candidate, np.nan, now))
                above, dipped, last = True, False, candidate
            if above and previous >= 1.0 > y:
                onset, _, known = onsets[-1]
                onsets[-1] = (onset, now - 0.01 * (1.0 - y) / (previous - y) - delay, known)
                above = False
            if y < 0.9:
                dipped = True
            previous = y
    table = np.array(onsets).reshape(-1, 3)
    return grouped(table[:, 0], table[:, 1], table[:, 2], o.fixes)
