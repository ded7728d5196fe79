"""Eight families of pump, each by a mechanism of its own: how a cycle's push and its glide run.

Five shape the push and take a glide from GLIDES; three make a whole cycle, which is then cut into its push and its
glide. All take traits: eight numbers, 0 to 1, that a rider's pumps have in common.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from .drawn_motion import PI, Array

POINTS = 240
U = (np.arange(POINTS) + 0.5) / POINTS
"""How far along a push or a glide is, 0 to 1, at each point of its shape."""
WHOLE = 480
"""Points of a cycle that is made in one."""


class Cycle(NamedTuple):
    """A pump without its size: push share of the period, push over and glide under 1 g [POINTS], greatest value 1."""

    share: float
    push: Array
    glide: Array

    def balance(self, share: float | None = None) -> float:
        """Depth of the glide for a push of height 1: with it the whole weighs 1 g. share: another than its own."""
        d = self.share if share is None else share
        return float(d * self.push.mean() / ((1 - d) * self.glide.mean()))


def unit(shape: Array) -> Array:
    return shape / shape.max()


def mixed(one: Cycle, other: Cycle, part: float, share: float) -> Cycle:
    """A pump of this share, by this part like the other."""
    push = unit(one.push * (1 - part) + other.push * part)
    return Cycle(share, push, unit(one.glide * (1 - part) + other.glide * part))


def _bell(at: float, width: float) -> Array:
    return np.exp(-(((U - at) / width) ** 2) / 2)


# --- pushes ---


def _spring(x: Array) -> Array:
    """The rider bounces as on a leg spring."""
    return np.sin(PI * U) ** (0.8 + 0.55 * x[3])


def _stamp(x: Array) -> Array:
    """Fast rise, long decay."""
    return U ** (0.65 + 0.3 * x[3]) * (1 - U) ** (1.3 + 0.7 * x[4]) * np.exp(-x[5] * U)


def _drive(x: Array) -> Array:
    """Slow rise, late top, quick let-go."""
    return U ** (1.0 + 0.25 * x[3]) * (1 - U) ** (0.4 + 0.25 * x[4]) * np.exp(0.8 * x[5] * U)


def _land(x: Array) -> Array:
    """Board and feet meet, a shoulder; then the legs push."""
    met, height, width, top = 0.13 + 0.09 * x[3], 0.25 + 0.3 * x[4], 0.055 + 0.02 * x[5], 0.58 + 0.1 * x[3]
    edge = np.tanh(U / 0.035) * np.tanh((1 - U) / 0.06)
    legs = _bell(top, 0.17 + 0.03 * x[5])
    return edge * (height * _bell(met, width) + legs + height * 0.62 * _bell(0.3, 0.17))


def _twofoot(x: Array) -> Array:
    """One foot, then the other: two humps in one push."""
    weaker, width = 0.62 + 0.33 * x[3], 0.135 + 0.025 * x[5]
    back, front = (weaker, 1.0) if x[4] > 0.5 else (1.0, weaker)
    edge = np.tanh(U / 0.08) * np.tanh((1 - U) / 0.08)
    return edge * (back * _bell(0.27, width) + front * _bell(0.73, width) + 0.2 * np.sin(PI * U))


PUSHES: dict[str, Callable[[Array], Array]] = {
    "spring": _spring, "stamp": _stamp, "drive": _drive, "land": _land, "twofoot": _twofoot,
}  # fmt: skip


# --- glides ---


def _flat(x: Array) -> Array:
    return np.tanh(U / (0.07 + 0.08 * x[1])) * np.tanh((1 - U) / (0.07 + 0.08 * x[2]))


def _bump(x: Array) -> Array:
    """The foil comes up under the rider in mid-glide."""
    rises = np.exp(-(((U - 0.45 - 0.2 * x[2]) / 0.13) ** 2))
    return np.sin(PI * U) ** 0.8 * (1 - (0.3 + 0.25 * x[1]) * rises)


GLIDES: dict[str, Callable[[Array], Array]] = {
    "sine": lambda x: np.sin(PI * U) ** x[0],
    "early": lambda x: U ** (0.55 + 0.2 * x[1]) * (1 - U) ** (1 + 0.2 * x[2]),
    "late": lambda x: U ** (1 + 0.2 * x[1]) * (1 - U) ** (0.5 + 0.3 * x[2]),
    "flat": _flat,
    "bump": _bump,
}


# --- whole cycles: traits, push share wished for, cadence [Hz] -> one period, its size free ---

AROUND = np.arange(WHOLE) / WHOLE
HARMONICS = np.fft.rfftfreq(WHOLE, 1 / WHOLE)


def _tendon(x: Array, share: float, cadence: float) -> Array:
    """The muscle is told on and off; its activation lags, and an elastic tendon passes the force on."""
    on = share * (0.8 + 0.25 * x[0]) > AROUND
    told = np.where(on, 1.0, 0.0) * (1 + (x[1] - 0.5) * 1.2 * AROUND / share)
    s = 2j * PI * cadence * HARMONICS
    own, damping, lag = 2 * PI * (3.2 + 3 * x[2]), 0.45 + 0.35 * x[3], 0.025 + 0.04 * x[4]
    passed = np.fft.rfft(told) / (1 + lag * s) / (1 + 2 * damping * s / own + (s / own) ** 2)
    return np.fft.irfft(passed, WHOLE)


def _velocity(x: Array, share: float, cadence: float) -> Array:
    """How fast the legs stretch and bend, smoothed and differentiated; the foil heaves under them."""
    up = 0.36 + 0.3 * x[0]
    stretch, bend = np.clip(AROUND / up, 0, 1), np.clip((AROUND - up) / (1 - up), 0, 1)
    slow, quick = 0.7 + 0.9 * x[1], 0.7 + 0.9 * x[2]
    longer, shorter = stretch * (1 - stretch) ** slow, bend**quick * (1 - bend)
    speed = longer / longer.sum() - shorter / shorter.sum()
    smooth = np.fft.rfft(speed) * np.exp(-((HARMONICS / (1.9 + 1.5 * x[3])) ** 2))
    legs = np.fft.irfft(smooth * 1j * HARMONICS, WHOLE)
    return legs / legs.std() + (0.5 + 0.9 * x[4]) * np.cos(2 * PI * (AROUND - 0.12 * (x[5] - 0.5)))


def _arms(x: Array, share: float, cadence: float) -> Array:
    """Legs and swinging arms: few harmonics."""
    second = (0.12 + 0.38 * x[0]) * np.cos(4 * PI * AROUND + (x[1] - 0.5) * 2.2)
    return np.cos(2 * PI * AROUND) + second + 0.16 * x[2] * np.cos(6 * PI * AROUND + (x[3] - 0.5) * 3)


WHOLES: dict[str, Callable[[Array, float, float], Array]] = {"tendon": _tendon, "velocity": _velocity, "arms": _arms}
FAMILIES = (*PUSHES, *WHOLES)


def _lowest_dip(shape: Array) -> float:
    """The lowest point that lies between two tops; 1 if there is none."""
    before, here, after = shape[:-2], shape[1:-1], shape[2:]
    return float(here[(here < before) & (here <= after)].min(initial=1.0))


def split(wave: Array) -> Cycle | None:
    """A period cut where it crosses its mean. None unless it is one push and one glide, of which neither nearly ends
    in its middle."""
    wave = wave - wave.mean()
    over = wave > 0
    rises = np.flatnonzero(over & ~np.roll(over, 1))
    if len(rises) != 1:
        return None
    wave = np.roll(wave, -rises[0])
    k, n = int((wave > 0).sum()), len(wave)
    if not 0.19 < k / n < 0.54:
        return None
    push = np.interp(U * (k - 1), np.arange(k), wave[:k])
    glide = np.interp(U * (n - k - 1), np.arange(n - k), -wave[k:])
    push, glide = unit(np.maximum(push, 1e-3)), unit(np.maximum(glide, 1e-3))
    return None if _lowest_dip(push) < 0.3 or _lowest_dip(glide) < 0.25 else Cycle(k / n, push, glide)


def cycle_of(family: str, traits: Array, share: float, cadence: float, glide: str) -> Cycle | None:
    """A rider's pump; share and glide (of GLIDES) are wishes to a family that makes whole cycles. cadence [Hz]."""
    if family in PUSHES:
        return Cycle(share, unit(PUSHES[family](traits)), unit(GLIDES[glide](traits)))
    return split(WHOLES[family](traits, share, cadence))
