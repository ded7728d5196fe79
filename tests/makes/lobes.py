"""A third way to make outings, that nothing is learned on: pumps of two bent half-sines with exact truth.

Neither the simulator's bodies nor the shapes of `drawn`: a push is a power of a bent half-sine, now and then with a
shoulder of the landing before it, a glide another one of the same area (the mean is 1 g, by momentum); a pouch that
rings is a resonator fed by part of it; a trunk that nods, sways and surges; between flights the rider floats. Numbers
as they are expected of riders: 1.05 to 1.95 Hz, periods that scatter by 2 to 7 %, push shares 0.2 to 0.55, peaks 1.4 to
2.6 g, ringing 7 to 18 Hz with damping 0.18 to 0.6, jitter to 3 ms, gaps to 0.35 s. One number, `fit_timing.TRUST`, was
chosen on others of its outings, seeds from 640000.
"""

from __future__ import annotations

import math

import numpy as np
from scipy.signal import bilinear, lfilter, savgol_filter
from scipy.spatial.transform import Rotation

from cadence_coach.core.units import G
from cadence_coach.sim import SimulatedOuting

FINE = 2000.0
"""Points a second of the motion itself."""
RATES = (50.0, 100.0, 200.0)


def _bent(count: int, middle: float) -> np.ndarray:
    """0 to pi, half of it reached at this share of the points."""
    return np.asarray(np.pi * np.linspace(0, 1, count, endpoint=False) ** (math.log(0.5) / math.log(middle)))


class Style:
    """How somebody invented pumps."""

    def __init__(self, r: np.random.Generator) -> None:
        self.cadence, self.scatter = r.uniform(1.05, 1.95), r.uniform(0.02, 0.07)
        self.share, self.height = r.uniform(0.2, 0.55), r.uniform(0.4, 1.6)
        self.middle, self.pointed, self.deep = r.uniform(0.35, 0.65), r.uniform(0.7, 1.6), r.uniform(0.6, 1.8)
        self.shoulder, self.where = (r.uniform(0.1, 0.5) if r.random() < 0.5 else 0.0), r.uniform(0.05, 0.2)

    def pump(self, r: np.random.Generator, period: float) -> tuple[np.ndarray, np.ndarray]:
        """Push and glide [g over and under 1 g]."""
        share = float(np.clip(self.share * r.normal(1, 0.08), 0.16, 0.6))
        height = self.height * float(np.clip(r.normal(1, 0.12), 0.6, 1.4))
        up, down = round(share * period * FINE), round((1 - share) * period * FINE)
        push = height * np.sin(_bent(up, self.middle)) ** self.pointed
        if self.shoulder:
            near = np.exp(-(((np.arange(up) / up - self.where) / 0.07) ** 2))
            push = np.maximum(push, self.shoulder * height * near * r.uniform(0.6, 1.2))
        glide = np.sin(_bent(down, r.uniform(0.4, 0.6))) ** self.deep
        glide = np.minimum(glide * push.sum() / glide.sum(), 0.97)  # nobody is pulled down
        return push * glide.sum() / push.sum(), -glide


def _afloat(r: np.random.Generator, seconds: float) -> np.ndarray:
    n = round(seconds * FINE)
    wave = 0.05 * np.sin(2 * np.pi * r.uniform(0.2, 0.5) * np.arange(n) / FINE + r.uniform(0, 6))
    return wave + savgol_filter(r.normal(0, 0.15, n), 401, 2)


def _motion(r: np.random.Generator) -> tuple[np.ndarray, list[list[tuple[int, int]]]]:
    """Vertical specific force [g], and per flight where each push begins and ends [points]."""
    style, parts, at = Style(r), [_afloat(r, r.uniform(8, 14))], 0
    flights = []
    for _ in range(r.integers(2, 5)):
        count = int(r.choice([r.integers(6, 15), r.integers(15, 60)]))
        tempo = style.cadence * (1 + np.linspace(0, r.uniform(-0.1, 0.1), count))
        parts.append(-0.4 * np.sin(np.linspace(0, np.pi, round(0.35 * FINE))))
        at, marks = sum(map(len, parts)), []
        for period in r.normal(1, style.scatter, count) / tempo:
            push, glide = style.pump(r, period)
            parts += [push, glide]
            marks.append((at, at + len(push)))
            at += len(push) + len(glide)
        flights.append(marks)
        parts.append(_afloat(r, r.uniform(4, 10)))
    return 1 + savgol_filter(np.concatenate(parts), 41, 3), flights  # 20 ms wide: no corners


def _truth(n: np.ndarray, flights: list[list[tuple[int, int]]]) -> dict[str, list[dict[str, float | int | str | None]]]:
    """Crossings of 1 g between points: upward the first near a push's beginning, downward the last near its end."""
    up, down = np.flatnonzero((n[:-1] < 1) & (n[1:] >= 1)), np.flatnonzero((n[:-1] >= 1) & (n[1:] < 1))

    def time(i: int) -> float:
        return float(i + (1 - n[i]) / (n[i + 1] - n[i])) / FINE

    pumps, told = [], []
    for marks in flights:
        onsets = []
        for a, b in marks:
            begins = up[(up > a - 0.06 * FINE) & (up < a + 0.06 * FINE + 0.2 * (b - a))]
            ends = down[(down > b - 0.1 * FINE) & (down < b + 0.06 * FINE)]
            if len(begins) and len(ends):
                onsets.append(time(begins[0]))
                pumps.append({"onset_s": onsets[-1], "push_end_s": time(ends[-1]), "travel_m": None})
        over = onsets[-1] + float(np.median(np.diff(onsets)[-5:]))
        told.append({"start_s": onsets[0], "end_s": over, "pumps": len(onsets)})
    return {"pumps": pumps, "flights": told}  # type: ignore[dict-item]


def lobed_outing(seed: int, rate_hz: float) -> SimulatedOuting:
    """The outing as a phone records it: acceleration alone, no speed; its truth has pumps and flights."""
    r = np.random.default_rng(seed)
    n, flights = _motion(r)
    truth = _truth(n, flights)
    own, damping, part = 2 * np.pi * r.uniform(7, 18), r.uniform(0.18, 0.6), r.uniform(0, 1)
    b, a = bilinear([2 * damping * own, own * own], [1, 2 * damping * own, own * own], FINE)
    felt = 1 + (1 - part) * (n - 1) + part * lfilter(b, a, n - 1)
    surge = r.uniform(0.1, 0.4) * savgol_filter(n - 1, 301, 2)
    sway = r.uniform(0.05, 0.3) * 40 * np.gradient(savgol_filter(n, 201, 2))
    nod = r.uniform(0, 0.15) * savgol_filter(n - 1, 401, 2)
    body = Rotation.from_rotvec(np.column_stack([0 * nod, nod, 0 * nod])).apply(np.column_stack([surge, sway, felt]))
    pouch = Rotation.from_quat(r.normal(size=4)).apply(body)
    t = np.arange(0.5, len(n) / FINE - 0.5, 1 / rate_hz)
    t = np.sort(t + r.normal(0, r.uniform(0, 0.003), len(t)))
    rows = np.column_stack([np.interp(t, np.arange(len(n)) / FINE, axis) for axis in pouch.T]) * G
    rows = np.round((rows + r.normal(0, r.uniform(0.02, 0.25), rows.shape)) / 0.01) * 0.01
    keep = np.ones(len(t), bool)
    for _ in range(r.integers(0, 3)):
        gap = r.uniform(t[0], t[-1])
        keep &= (t < gap) | (t > gap + r.uniform(0.05, 0.35))
    return SimulatedOuting(np.column_stack([t, rows])[keep], None, None, dict(truth), {})
