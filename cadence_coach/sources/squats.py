"""Somebody invented who does squats to the clicks, so that a training can be tried in an armchair: squats:SEED.

Stands still until it hears clicks (`hear`), then moves with them as people do: some 40 ms ahead (Repp 2005, Psychon
Bull Rev 12:969, from memory), with the scatter of somebody trained (no source). Each squat is a half-sine push and a
half-sine glide.
"""

from __future__ import annotations

import math
import threading
from datetime import UTC, datetime
from typing import Any

import numpy as np

from cadence_coach.core.events import ACCEL, Row
from cadence_coach.core.units import G
from cadence_coach.errors import Refused

RATE_HZ = 100.0
PIECE_S = 0.1
LEAD_S, SCATTER_S = 0.04, 0.012
SHARE, HEIGHT = 0.45, 0.55
"""Push share, and how far the push goes above 1 g."""
NOISE_M_S2 = 0.08
AXIS = np.array([0.36, 0.48, 0.8])
"""Up, in the axes of a phone that sits askew in a pocket."""


class Mover:
    """See `sources`; without an end."""

    def __init__(self, seed: int) -> None:
        self.name = f"squats-{seed}"
        self.start_s = 0.0
        self.meta: dict[str, Any] = {
            "start_utc": datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
            "device": "simulated",
            "worn_at": "pocket",
        }
        self.notes: list[str] = []
        self._rng = np.random.default_rng(seed)
        self._lock = threading.Lock()
        self._onsets: list[float] = []
        self._t = 0.0
        self._closed = False

    def hear(self, clicks: list[float]) -> None:
        """Times of clicks to come [s]; from any thread."""
        away = -LEAD_S + SCATTER_S * self._rng.standard_normal(len(clicks) + 1)
        period = clicks[-1] - clicks[-2] if len(clicks) > 1 else 0.7
        times = np.array([*clicks, clicks[-1] + period]) + away
        with self._lock:
            self._onsets = [float(t) for t in times]

    def __iter__(self) -> Mover:
        return self

    def __next__(self) -> list[Row]:
        if self._closed:
            raise StopIteration
        t = self._t + np.arange(round(PIECE_S * RATE_HZ)) / RATE_HZ
        self._t += PIECE_S
        with self._lock:
            onsets = self._onsets
        g = np.array([push_glide(float(x), onsets) for x in t])
        accel = (g * G)[:, None] * AXIS + NOISE_M_S2 * self._rng.standard_normal((len(t), 3))
        xyz = accel.astype(np.float32).T.tolist()
        return list(zip([ACCEL] * len(t), t.tolist(), *xyz, strict=True))

    def progress(self) -> float:
        return 0.0  # paced by whoever reads it

    def close(self) -> None:
        self._closed = True


def push_glide(t: float, onsets: list[float]) -> float:
    """Vertical specific force [g] of squats that begin at those times; 1 outside of them."""
    k = int(np.searchsorted(onsets, t, side="right")) - 1
    if not 0 <= k < len(onsets) - 1:
        return 1.0
    phase = (t - onsets[k]) / (onsets[k + 1] - onsets[k])
    if phase < SHARE:
        return 1.0 + HEIGHT * math.sin(math.pi * phase / SHARE)
    return 1.0 - HEIGHT * SHARE / (1.0 - SHARE) * math.sin(math.pi * (phase - SHARE) / (1.0 - SHARE))


def open(rest: str) -> Mover:
    if not rest.isdecimal():
        raise Refused(f"squats:{rest}: the seed {rest!r} is no whole number; give squats:1 or the like")
    return Mover(int(rest))
