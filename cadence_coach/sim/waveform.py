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
    """One value a pump, in arrays.

    period [s]; share of the push; amplitude of the push above 1 g. peak_at: where in the push its top lies (0-1);
    flat: of the push, 0 a half-sine, above flat-topped (from 1/9 on with two tops), below pointed; dip_at, dip_flat:
    the same for the glide; dip_level: 0-1, how far the glide is a level with steep ends instead, as of a rider who
    pushes short and coasts. shoulder_kind: 0 none, 1 a ledge above 1 g before the push, 2 a bump below 1 g late in
    the glide, 3 a bump above 1 g with a dip after it; shoulder: its length as part of the push; shoulder_height as
    part of the amplitude. rest [s]: level glide at the top of the glide, where the body is highest and at rest; it
    comes on top of the period. open_end: the last pump ends there, halfway through its glide, because the rider
    glides on."""

    period: np.ndarray
    share: np.ndarray
    amplitude: np.ndarray
    peak_at: np.ndarray
    flat: np.ndarray
    dip_at: np.ndarray
    dip_flat: np.ndarray
    dip_level: np.ndarray
    shoulder: np.ndarray
    shoulder_height: np.ndarray
    shoulder_kind: np.ndarray
    rest: np.ndarray
    open_end: bool = False

    def __len__(self) -> int:
        return len(self.period)

    @property
    def edges(self) -> np.ndarray:
        """Planned onsets [s] from the first one, and the end of the last pump: length n + 1."""
        length = self.period + self.rest
        if self.open_end and len(self):
            length[-1] = self.period[-1] * (1 + self.share[-1]) / 2
        return np.concatenate([[0.0], np.cumsum(length)])


def even_pumps(count: int, period: float, share: float, amplitude: float) -> Pumps:
    """The same half-sine pump, `count` times."""
    each = (period, share, amplitude, 0.5, 0.0, 0.5, 0.0, 0.0, 0.0, 0.0)
    return Pumps(*(np.full(count, v) for v in each), shoulder_kind=np.zeros(count, int), rest=np.zeros(count))


@dataclass
class Force:
    """u = n - 1 at every DT over all pumps; `index` the pump of each sample; `active` [s] the time without rests;
    `free` 1 where the foil heaves as in pumping, 0 in a level glide."""

    u: np.ndarray
    index: np.ndarray
    active: np.ndarray
    free: np.ndarray


def foot_force(pumps: Pumps) -> Force:
    """What the pumps ask of the legs."""
    if not len(pumps):
        return Force(np.zeros(0), np.zeros(0, int), np.zeros(0), np.zeros(0))
    edges = pumps.edges
    t = np.arange(round(edges[-1] / DT)) * DT
    k = np.clip(np.searchsorted(edges, t + 1e-9, side="right") - 1, 0, len(pumps) - 1)
    period, share, rest = pumps.period[k], pumps.share[k], pumps.rest[k]
    half = period * (1 + share) / 2
    since = t - edges[k]
    resting = (since > half) & (since <= half + rest) & (rest > 0)
    active = np.where(since > half, np.maximum(since - rest, half), since)
    phase = active / period
    pushing = phase < share
    push = np.where(pushing, _push(pumps, k, np.clip(phase / share, 0, 1)), 0.0)
    y = np.clip((phase - share) / (1 - share), 0, 1)
    last = np.arange(len(pumps)) == len(pumps) - 1
    split = ((pumps.rest > 0) | (last & pumps.open_end))[k]
    glide = np.where(split, hump((2 * y) % 1.0, pumps.dip_at[k], pumps.dip_flat[k]), _glide(pumps, k, y))
    glide = np.where(pushing | resting, 0.0, glide)
    starts = np.searchsorted(k, np.arange(len(pumps)))
    up, down = np.add.reduceat(push, starts), np.add.reduceat(glide, starts)
    if pumps.open_end:
        down[-1] *= 2
    depth = pumps.amplitude * up / np.maximum(down, 1e-9)
    # Feet cannot pull the board up: where the glide would go under 0.04 g the whole pump is made smaller.
    lowest = np.maximum.reduceat(glide, starts) * depth
    scale = np.minimum(1.0, 0.96 / np.maximum(lowest, 1e-9))
    u = (push * pumps.amplitude[k] - glide * depth[k]) * scale[k]
    at = np.clip((since - half) / np.maximum(rest, 1e-9), 0, 1)
    u -= np.where(resting, 0.04 * hump(at, np.array(0.5), np.array(0.12)) / np.maximum(rest, 0.6), 0.0)
    free = np.where(split & ~pushing, np.where(y < 0.5, 1 - smooth(2 * y), smooth(2 * y - 1)), 1.0)
    free = np.where(resting, 0.0, free)
    before = np.concatenate([[0.0], np.cumsum(pumps.period)])
    return Force(u, k, before[k] + active, free)


def smooth(x: np.ndarray) -> np.ndarray:
    """0 to 1 with flat ends, for x in 0..1, clipped outside."""
    x = np.clip(x, 0.0, 1.0)
    return x * x * x * (10 - 15 * x + 6 * x * x)


def hump(x: np.ndarray, top: np.ndarray, flat: np.ndarray) -> np.ndarray:
    """A half-sine of height about 1 over 0..1 whose middle lies at `top`, with a third harmonic that flattens it.

    It leaves and meets 0 at a finite slope whatever its form, so that crossings of 1 g are well defined.
    """
    y = np.pi * (x + (0.5 - top) / (top * (1 - top)) * x * (1 - x))
    return (np.sin(y) + flat * np.sin(3 * y)) / (1 - flat)


def _glide(pumps: Pumps, k: np.ndarray, y: np.ndarray) -> np.ndarray:
    level = pumps.dip_level[k]
    glide = (1 - level) * hump(y, pumps.dip_at[k], pumps.dip_flat[k]) + level * (1 - (2 * y - 1) ** 8)
    bump = np.sin(np.pi * np.clip((y - 0.62) / 0.30, 0, 1)) ** 2
    return np.where(pumps.shoulder_kind[k] == 2, glide * (1 - pumps.shoulder_height[k] * bump), glide)


def _push(pumps: Pumps, k: np.ndarray, x: np.ndarray) -> np.ndarray:
    kind, height = pumps.shoulder_kind[k], pumps.shoulder_height[k]
    s = np.maximum(pumps.shoulder[k], 1e-3)
    ahead = np.where((kind == 1) | (kind == 3), s, 0.0)
    main = hump(np.clip((x - ahead) / (1 - ahead), 0, 1), pumps.peak_at[k], pumps.flat[k])
    ledge = height * np.sin(np.pi * np.clip(x / (1.7 * s), 0, 1))
    rise = height * np.sin(np.pi * np.clip(x / (0.7 * s), 0, 1))
    dip = -0.12 * np.sin(np.pi * np.clip((x - 0.7 * s) / (0.3 * s), 0, 1))
    return main + np.where(kind == 1, ledge, np.where(kind == 3, rise + dip, 0.0))


def h1(share: float) -> float:
    """Once-per-pump part of a half-sine push and glide with unit push amplitude, by push share (h1(1/2) = 1)."""
    d = min(max(share, 1e-6), 1 - 1e-6)
    if abs(d - 0.5) < 1e-6:
        return 1.0
    return float(4 / np.pi * d * np.cos(np.pi * d) * (1 / (1 - 4 * d * d) + 1 / (4 * (1 - d) ** 2 - 1)))
