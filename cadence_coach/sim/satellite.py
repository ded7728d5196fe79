"""Speed and place once a second, as a phone's satellite receiver gives them: late, noisy, missing with the chest
under water."""

from __future__ import annotations

import numpy as np

from cadence_coach.sim.track import Track
from cadence_coach.sim.waveform import DT

START = (55.9, 11.4)
"""Where the invented outings begin [deg]: open water."""


def fixes(track: Track, rng: np.random.Generator, *, none: bool = False, poor: float = 0.3) -> np.ndarray | None:
    """[m, 6]: t_s, speed, lat, lon, accuracy of the speed [m/s], heading [deg]. None where the phone has no speed at
    all.

    The reported speed follows the true one with a lag of 0.4-2.0 s. After water over the pouch the first fix takes
    4-15 s. poor: 0-1, how often fixes are missing or bad."""
    if none:
        return None
    w = track.whole()
    every = 100
    speed, wet, turn = w["speed"][::every], w["wet"][::every], w["turn"]
    dt = DT * every
    lag = rng.uniform(0.4, 2.0)
    smooth = np.empty_like(speed)
    now, keep = speed[0], np.exp(-dt / lag)
    for i, v in enumerate(speed):
        now = v + (now - v) * keep
        smooth[i] = now
    heading = rng.uniform(0, 360) - np.degrees(np.cumsum(turn) * DT)[::every] * 0.5
    north = np.cumsum(speed * np.cos(np.radians(heading))) * dt
    east = np.cumsum(speed * np.sin(np.radians(heading))) * dt
    rows, t, free = [], rng.uniform(0.2, 1.2), rng.uniform(0, 6)
    drift = np.zeros(2)
    while t < track.now - 0.2:
        i = min(int(t / dt), len(speed) - 1)
        if wet[i]:
            free = t + rng.uniform(4, 15)
        drift = 0.95 * drift + rng.normal(0, 0.5, 2)
        if t >= free and rng.random() > 0.02 + 0.08 * poor:
            bad = rng.random() < 0.03 * poor
            accuracy = rng.uniform(0.2, 0.6) * (6 if bad else 1)
            v = max(0.0, smooth[i] + rng.normal(0, 0.12 + 0.15 * poor) * (6 if bad else 1))
            lat = START[0] + (north[i] + drift[0]) / 111_200
            lon = START[1] + (east[i] + drift[1]) / (111_200 * np.cos(np.radians(START[0])))
            h = (heading[i] + rng.normal(0, 4)) % 360 if v > 0.5 else np.nan
            rows.append((t, v, lat, lon, accuracy if rng.random() > 0.02 else np.nan, h))
        t += 1.0 + rng.normal(0, 0.02)
    return np.array(rows).reshape(-1, 6)
