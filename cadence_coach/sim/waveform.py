"""The foot force of a rider over time, pump by pump, before the body's slow correction of its height.

Specific force is in g. Each pump has mean 1 g on its own: what the push gives above, the glide gives back.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

DT = 0.001
"""Inner time step [s]: everything is computed at 1 kHz and only then sampled as a phone would."""


@dataclass
class Pumps:
    """One value a pump: `period` [s], `share` of the push, `amplitude` of the push above 1 g, `peak_at` where in the push
    its top lies (0..1), `sharp` exponent of push and glide (1 is a half-sine, below 1 flat, above 1 pointed), `dip_at` and
    `dip_sharp` the same for the glide, `shoulder` length as part of the push, `shoulder_height` as part of the amplitude,
    `shoulder_kind` 0 none, 1 a ledge above 1 g, 2 a bump below 1 g late in the glide, 3 a bump above 1 g with a dip after it;
    `rest` [s] of level glide after the pump."""

    period: np.ndarray
    share: np.ndarray
    amplitude: np.ndarray
    peak_at: np.ndarray
    sharp: np.ndarray
    dip_at: np.ndarray
    dip_sharp: np.ndarray
    shoulder: np.ndarray
    shoulder_height: np.ndarray
    shoulder_kind: np.ndarray
    rest: np.ndarray

    def __len__(self) -> int:
        return len(self.period)


def even_pumps(count: int, period: float, share: float, amplitude: float) -> Pumps:
    """The same half-sine pump, `count` times."""
    full = np.full
    return Pumps(
        full(count, period), full(count, share), full(count, amplitude), full(count, 0.5), full(count, 1.0),
        full(count, 0.5), full(count, 1.0), np.zeros(count), np.zeros(count), np.zeros(count, int), np.zeros(count),
    )  # fmt: skip


def onsets_of(pumps: Pumps) -> np.ndarray:
    """Planned onsets [s] from the first one, and the end of the last pump: length n + 1."""
    return np.concatenate([[0.0], np.cumsum(pumps.period + pumps.rest)])


def foot_force(pumps: Pumps) -> tuple[np.ndarray, np.ndarray]:
    """n - 1 at every DT from the first planned onset to the end of the last pump, and the number of the pump of each sample."""
    edges = onsets_of(pumps)
    t = np.arange(round(edges[-1] / DT)) * DT
    k = np.clip(np.searchsorted(edges, t + 1e-9, side="right") - 1, 0, len(pumps) - 1)
    since = t - edges[k]
    phase = np.minimum(since / pumps.period[k], 1.0)
    share = pumps.share[k]
    pushing = phase < share
    push = np.where(pushing, _push(pumps, k, np.clip(phase / share, 0, 1)), 0.0)
    y = np.clip((phase - share) / (1 - share), 0, 1)
    glide = np.where(pushing, 0.0, _hump(y, pumps.dip_at[k], pumps.dip_sharp[k]))
    late = (pumps.shoulder_kind[k] == 2) & ~pushing
    bump = np.clip((y - 0.62) / 0.30, 0, 1)
    glide = np.where(late, glide * (1 - pumps.shoulder_height[k] * np.sin(np.pi * bump) ** 2), glide)
    starts = np.searchsorted(k, np.arange(len(pumps)))
    up = np.add.reduceat(push, starts)
    down = np.add.reduceat(glide, starts)
    depth = pumps.amplitude * up / np.maximum(down, 1e-9)
    # Feet cannot pull the board up: where the glide would go under 0.04 g the whole pump is made smaller.
    lowest = np.maximum.reduceat(glide, starts) * depth
    scale = np.minimum(1.0, 0.96 / np.maximum(lowest, 1e-9))
    # Before the push that ends a level glide the rider gets a touch lighter, so that the glide ends below 1 g.
    last = np.minimum(pumps.rest[k], 0.4)
    resting = np.clip((since - pumps.period[k] - pumps.rest[k] + last) / np.maximum(last, 1e-9), 0, 1)
    level = 0.09 * np.sqrt(np.sin(np.pi * resting).clip(0))
    return (push * pumps.amplitude[k] - glide * depth[k]) * scale[k] - level, k


def _hump(x: np.ndarray, top: np.ndarray, sharp: np.ndarray) -> np.ndarray:
    """A half-sine over 0..1 whose top lies at `top`, raised to `sharp`."""
    return np.sin(np.pi * x ** (np.log(0.5) / np.log(top))).clip(0) ** sharp


def _push(pumps: Pumps, k: np.ndarray, x: np.ndarray) -> np.ndarray:
    s, kind, height = pumps.shoulder[k], pumps.shoulder_kind[k], pumps.shoulder_height[k]
    ahead = np.where((kind == 1) | (kind == 3), s, 0.0)
    main = _hump(np.clip((x - ahead) / (1 - ahead), 0, 1), pumps.peak_at[k], pumps.sharp[k])
    with np.errstate(divide="ignore", invalid="ignore"):
        ledge = height * np.sin(np.pi * np.clip(x / (1.7 * s), 0, 1))
        bump = np.where(
            x < 0.7 * s,
            height * np.sin(np.pi * x / (0.7 * s)),
            -0.12 * np.sin(np.pi * np.clip((x - 0.7 * s) / (0.3 * s), 0, 1)),
        )
    return main + np.where(kind == 1, ledge, np.where((kind == 3) & (x < s), bump, 0.0))


def h1(share: float) -> float:
    """Once-per-pump part of a half-sine push and glide with unit push amplitude, by push share (h1(1/2) = 1)."""
    d = min(max(share, 1e-6), 1 - 1e-6)
    if abs(d - 0.5) < 1e-6:
        return 1.0
    return 4 / np.pi * d * np.cos(np.pi * d) * (1 / (1 - 4 * d * d) + 1 / (4 * (1 - d) ** 2 - 1))
