"""Made-up sensor events, as Java gets them from Android."""

from __future__ import annotations

import numpy as np

HOUR = 3600 * 10**9
EVENT = np.dtype([("boot", "<i8"), ("stamp", "<i8"), ("xyz", "<f4", 3), ("kind", "<i4")])


def ride(minutes: float, rate: float, gyro: bool = True, jitter_s: float = 0.0015, seed: int = 1) -> np.ndarray:
    """Events of a body that bounces at 1.6 Hz for 25 s in every minute: boot time of arrival, stamp, values, kind."""
    rng = np.random.default_rng(seed)
    n = int(minutes * 60 * rate)
    t = np.arange(n) / rate + rng.normal(0, jitter_s, n).clip(-0.4 / rate, 0.4 / rate)
    pumping = (t % 60 > 20) & (t % 60 < 45)
    g = 1 + np.where(pumping, 0.7 * np.sin(2 * np.pi * 1.6 * (t % 60 - 20)), 0) + rng.normal(0, 0.02, n)
    events = np.zeros(n * (2 if gyro else 1), EVENT)
    step = 2 if gyro else 1
    accel = events[::step]
    accel["stamp"] = 5 * HOUR + (t * 1e9).astype(np.int64)
    accel["xyz"] = np.stack([rng.normal(0, 0.2, n), rng.normal(0, 0.2, n), g * 9.80665], 1)
    if gyro:
        spin = events[1::2]
        spin["stamp"], spin["kind"] = accel["stamp"], 1
        spin["xyz"] = rng.normal(0, 0.05, (n, 3))
    events["boot"] = events["stamp"] + 3_000_000
    return events
