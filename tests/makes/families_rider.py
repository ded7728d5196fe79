"""A rider in outings of `families`: habits, drawn once; what a run of pumps is meant to be, and its vertical."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d

from cadence_coach.core.units import G

from .drawn_motion import PI, Array
from .families_track import FS, samples
from .families_waves import GLIDES, POINTS, Cycle, U, cycle_of, mixed

SHARES = {
    "spring": (0.3, 0.5), "stamp": (0.18, 0.38), "drive": (0.26, 0.48), "land": (0.34, 0.52), "twofoot": (0.36, 0.52),
    "tendon": (0.18, 0.4),
}  # fmt: skip
"""Push shares that a family is asked for; 0.2-0.5 of the others."""
LONG = 25
"""Pumps after which a flight is long enough for all that happens in long ones."""
LEAST = 0.425
"""[g] that the lowest push rises over 1 g."""
OPENINGS = {"weak": (0.62, 0.74, 0.87), "strong": (1.18, 1.1, 1.05), "frantic": (0.85, 0.8, 0.9), "plain": (1, 1, 1)}
"""How high the first three pushes are against the rest."""
SLOWER = {"weak": 0.4, "strong": 0.6, "frantic": -1.2, "plain": 0}
"""How much longer these three pumps last, in SDs of the period."""


class Rider:
    """How one rider pumps, walks and runs."""

    def __init__(self, r: np.random.Generator, family: str) -> None:
        self.family = family
        self._pumps_of(r)
        self.share = float(np.clip((self.early.share + self.late.share) / 2, 0.19, 0.525))
        most = self._highest()
        self.height = max(0.44, most * r.uniform(0.5, 1.0)) if most > 0.5 else max(0.42, most)
        """[g] of a push over 1 g."""
        self.cv = r.uniform(0.025, 0.063)
        self.height_spread, self.share_spread = r.uniform(0.03, 0.09), r.uniform(0.02, 0.05)
        self.surge, self.surge_at = r.uniform(0.06, 0.3), r.uniform(0, 2 * PI)
        self.sway, self.sway_each = r.uniform(0.02, 0.1), r.uniform(0, 0.06)
        """Sideways, as a share of the push: every other pump, and with each."""
        self.nod, self.nod_at = r.uniform(1, 8), r.uniform(0, 2 * PI)
        """[degrees] of the trunk."""
        self.lean = r.uniform(2, 28)
        """[degrees] forward in flight."""
        self.speed = r.uniform(3.6, 5.6)
        self.fade, self.drift = r.uniform(0, 0.28), r.uniform(-1, 1)
        self.opening = str(r.choice(list(OPENINGS), p=[0.45, 0.2, 0.2, 0.15]))
        self.run_hz, self.walk_hz = r.uniform(2.5, 3.0), r.uniform(1.62, 2.15)
        self.airy = r.uniform(0.8, 1.15)
        """How long this rider's jumps are against those of others."""
        self.duty, self.strike = r.uniform(0.56, 0.74), r.uniform(0.2, 0.9)

    def _pumps_of(self, r: np.random.Generator) -> None:
        """Two pumps, not quite alike, between which all this rider's pumps lie."""
        low, high = SHARES.get(self.family, (0.2, 0.5))
        early = late = None
        while early is None or late is None or abs(early.share - late.share) >= 0.06:
            self.cadence = r.uniform(1.09, 1.9)
            glide = str(r.choice(list(GLIDES)))
            share = low + (high - low) * r.random() ** (1.7 if self.family in ("stamp", "tendon") else 1.0)
            traits = r.uniform(0, 1, 8)
            others = np.clip(traits + r.normal(0, 0.12, 8), 0, 1)
            if self.family == "twofoot":
                others[4] = traits[4]  # the same foot first
            early, late = (cycle_of(self.family, x, share, self.cadence, glide) for x in (traits, others))
        self.early, self.late = early, late

    def _highest(self) -> float:
        """[g] that a push may rise over 1 g: 1.5, the glide not under 0.08 g, the body's travel to about 0.34 m."""
        d, deep, w = self.share, self.early.balance(self.share), 2 * PI * self.cadence
        x = np.interp(np.arange(POINTS) / POINTS, [0, d, d + 1e-9, 1], [0, 1, 1, 2])
        up, down = np.interp(x % 1, U, self.early.push), np.interp(x - 1, U, self.early.glide)
        first = 2 * abs(np.fft.rfft(np.where(x < 1, up, -deep * down))[1]) / POINTS
        return float(min(1.5, 0.92 / deep, 0.34 * w * w / (2 * G) / first))


@dataclass
class Meant:
    """A run of pumps as the rider means it: [n] each, but for `climbing`, and `onset` that has the next one, too."""

    period: Array
    """[s] without what `stretch` adds to the glide."""
    stretch: Array
    """Of the period: a hesitation, a pump left out."""
    share: Array
    height: Array
    """[g] of the push over 1 g, before `run_of` bounds it."""
    part: Array
    """0 to 1: how far from the rider's early pump to the late one."""
    climbing: Array
    """[m/s] up at each onset, [n + 1]."""

    def __post_init__(self) -> None:
        self.whole = self.period * self.stretch
        self.onset = np.concatenate([[0], np.cumsum(self.whole)])
        self.push_end = self.onset[:-1] + self.share * self.period


def meant(r: np.random.Generator, rider: Rider, n: int, side: int) -> Meant:
    """n pumps. side: which leg, 1 or -1, pushes harder, if one does."""
    i = np.arange(n)
    gone, long = i / max(1, n - 1), min(1, n / LONG)
    tempo = r.normal(size=n)
    tempo = tempo + 0.5 * np.concatenate([[0], r.normal(size=n - 1)]).cumsum() / np.sqrt(n)
    tempo = tempo + rider.drift * 1.2 * (gone - 0.5) * min(1, n / 20)
    tempo = tempo + 0.6 * np.sin(2 * PI * (i / r.uniform(9, 30) + r.random()))
    tempo[:3] += SLOWER[rider.opening]
    height = rider.height * (1 - rider.fade * gone * long) * (1 + rider.height_spread * r.normal(size=n))
    height[1::2] *= 1 + r.choice([0, 0.05]) * side
    height[:3] *= OPENINGS[rider.opening][:n]
    if n > 1:
        tempo = (tempo - tempo.mean()) / max(tempo.std(), 0.3)
    cadence = np.clip(rider.cadence * (1 + r.normal(0, 0.03)), 1.08, 1.9)
    period = (1 / cadence) * (1 + np.clip(rider.cv * tempo, -0.13, 0.13))
    share = rider.share * (1 + rider.share_spread * r.normal(size=n)) + r.uniform(-0.03, 0.03) * gone
    stretch = np.ones(n)
    if n > 9:
        for chance, least, most in ((0.5, 1.18, 1.4), (0.4, 1.65, 1.95)):  # a hesitation; a pump left out
            if r.random() < chance * long:
                j = int(r.integers(3, n - 4))
                stretch[j] = r.uniform(least, most)
                height[j + 1 : j + 4] *= r.choice([0.85, 1.12])
    if n > 20 and r.random() < 0.35:  # five quick, big ones bring the speed back
        j = int(r.integers(8, n - 6))
        height[j : j + 5] *= 1.15
        period[j : j + 5] *= 0.95
    part = np.clip(0.5 * gone + 0.25 + 0.15 * r.normal(size=n), 0, 1)
    return Meant(period, stretch, np.clip(share, 0.182, 0.545), height, part, r.normal(0, 0.03, n + 1))


@dataclass(frozen=True)
class Glide:
    """What would follow a run's last push."""

    seconds: float
    depth: float
    """[g] under 1 g."""
    shape: Array


@dataclass(frozen=True)
class Run:
    """A run of pumps from its first onset to its last push end, [m] at FS."""

    up: Array
    """[g]"""
    height: Array
    """[g] of the push that each sample belongs to, smoothed."""
    turn: Array
    """[rad] a whole turn a pump."""
    left: Glide


def _along(x: Array, shape: Array) -> Array:
    """The shape at x, 0 to 1; nothing at both ends."""
    return np.interp(x, np.concatenate([[0], U, [1]]), np.concatenate([[0], shape, [0]]))


def run_of(rider: Rider, m: Meant) -> Run:
    """Each pump's glide is as deep as brings the body to the climb at the next onset (momentum theorem)."""
    length = samples(m.push_end[-1])
    t = (np.arange(length) + 0.5) / FS
    up, heights, turn = np.ones(length), np.zeros(length), np.zeros(length)
    for k, whole in enumerate(m.whole):
        cycle: Cycle = mixed(rider.early, rider.late, m.part[k], m.share[k] / m.stretch[k])
        share, deepest = cycle.share, cycle.balance(m.share[k])
        height = np.clip(m.height[k], LEAST, min(1.58, max(LEAST, 0.96 / deepest)))
        gain = (m.climbing[k + 1] - m.climbing[k]) / (G * whole)
        depth = max(min(0.99, height * cycle.balance() - gain / ((1 - share) * cycle.glide.mean())), 0.06)
        here = slice(*np.searchsorted(t, m.onset[k : k + 2]))
        x = (t[here] - m.onset[k]) / whole
        push, glide = _along(x / share, cycle.push), _along((x - share) / (1 - share), cycle.glide)
        up[here] = 1 + np.where(x < share, height * push, -depth * glide)
        heights[here] = height
        turn[here] = 2 * PI * (k + x)
    left = Glide((1 - m.share[-1]) * m.period[-1], min(0.97, height * deepest), cycle.glide)
    return Run(up, gaussian_filter1d(heights, 60, mode="nearest"), turn, left)
