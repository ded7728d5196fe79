"""One rider of `chained` on one day: how fast, how short a push, how hard, how even, and the shape of a pump."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import betaincinv

from .drawn_motion import PI

RIDERS = 42
"""So many, those of 48 numbers in a row, are dealt evenly over the ranges of cadence, share and height."""
FLYING_KINDS, KINDS = 7, 8
"""Of so many numbers in a row; the last one, nobody flying, shares its cards with the one before."""


@dataclass(frozen=True)
class Style:
    """The shape of a pump: how the tops of push and glide are moved and flattened (`chained_piece.hump`), and the
    shoulder that comes before the push's own bump: how high, where in the push that bump begins, in what share of the
    pumps."""

    push_skew: float
    push_third: float
    glide_skew: float
    glide_third: float
    shoulder: float = 0.0
    shoulder_at: float = 0.2
    shoulder_often: float = 0.0


@dataclass(frozen=True)
class Rider:
    cadence: float
    """[Hz]"""
    share: float
    """Of the push in a pump."""
    height: float
    """[g] of a push over 1 g."""
    cv: float
    height_cv: float
    """Of periods and heights."""
    drift: float
    fade: float
    """By which the cadence changes in 60 pumps at most, and the height in 80."""
    first: str
    """How a flight's first pumps are: hard, weak or the same as the rest."""
    style: Style
    speed: float
    """[m/s] at which the board ends up."""
    fore: float
    fore_at: float
    fore_twice_at: float
    """[g] along, once and twice a pump; [rad] when."""
    swing: float
    swing_at: float
    """[rad] how far the trunk swings, and when in a pump."""
    lean: float
    """[rad]"""
    turn: float
    """[rad/s] RMS"""
    kick: float
    """[g] that a push of 1 g gives the pouch."""


def draw_rider(r: np.random.Generator, seed: int, number: int) -> Rider:
    place = number // KINDS * FLYING_KINDS + min(number % KINDS, FLYING_KINDS - 1)
    deal = np.random.default_rng([seed, place // RIDERS, 77])
    dealt = np.array([deal.permutation(RIDERS)[place % RIDERS] for _ in range(3)])
    fast, long, hard = (dealt + r.random(3)) / RIDERS
    cadence = 1.06 + 0.88 * fast
    share = 0.142 + 0.413 * betaincinv(1.7, 1.3, long)
    style = _style(r)
    # a short push has to be a hard one, or what comes once a pump would carry nobody
    carries = min(0.42 * np.sqrt(1.4 / cadence) / once_a_pump(share), 1.35)
    return Rider(
        cadence=cadence, share=share, height=max(0.42 + 1.22 * betaincinv(1.3, 1.25, hard), carries),
        cv=r.uniform(0.021, 0.068), height_cv=r.uniform(0.03, 0.08), drift=r.uniform(0.01, 0.06),
        fade=r.uniform(0.05, 0.3), first=str(r.choice(["hard", "weak", "same"], p=[0.45, 0.3, 0.25])), style=style,
        speed=r.uniform(2.9, 5.2), fore=r.uniform(0.05, 0.26), fore_at=r.uniform(-0.8, 1.6),
        fore_twice_at=r.uniform(0, 6.28), swing=np.radians(1.5 + 11 * r.beta(1.4, 1.8)),
        swing_at=r.uniform(-1.5, 1.5), lean=r.uniform(0.0, 0.22), turn=r.uniform(0.02, 0.12),
        kick=r.uniform(0.02, 0.14),
    )  # fmt: skip


def _style(r: np.random.Generator) -> Style:
    u = r.uniform
    bends = u(-0.3, 0.45), u(-0.08, 0.16), u(-0.35, 0.4), u(-0.03, 0.22)
    if r.random() < 0.22:
        return Style(*bends, u(0.08, 0.28), u(0.14, 0.24), u(0.3, 1.0))
    return Style(*bends)


def once_a_pump(share: float) -> float:
    """First harmonic, by the push's height, of a half-sine push of that share and a half-sine glide that balances it;
    from Fourier's integral by hand, which is 0/0 at one half."""
    if abs(share - 0.5) <= 0.01:
        return 1.0
    waves = 1 / (1 - 4 * share**2) + 1 / (4 * (1 - share) ** 2 - 1)
    return float(4 / PI * share * np.cos(PI * share) * waves)
