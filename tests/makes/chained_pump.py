"""Pumps in `chained`: a push up and a glide down, two skewed bumps that balance, and trains of them.

A cycle's mean is 1 g but for a small excess: by many such small corrections the body keeps its height.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .chained_piece import FS, GRAVITY, Chain, Meant, along, hump
from .chained_rider import Rider, Style
from .drawn_motion import PI, Array

WHOLE = np.linspace(0, 1, 201)
MIDDLES = along(400)
"""Where in a bump its mean and top are looked for, and in a cycle what it moves."""
MOST = 0.014
"""[g] that a cycle's mean is off 1 g at most."""


class Cycle:
    """The vertical [g] over one period: 1 + height of the push in its share, 1 - depth of the glide in the rest; depth
    makes the mean 1 + excess."""

    def __init__(self, period: float, share: float, height: float, shoulder: float, style: Style) -> None:
        self.period, self.share, self.asked = period, share, height
        self.shoulder, self.style, self.excess = shoulder, style, 0.0
        push, glide = self._push(WHOLE), self._glide(WHOLE)
        self.push_top = push.max()
        self.push_mean = push.mean() / self.push_top
        self.glide_mean, glide_top = glide.mean(), glide.max()
        # at the lowest of the glide the feet stay on the board
        most = 0.93 * (1 - share) * self.glide_mean / (share * self.push_mean * glide_top)
        self.height = min(height, most)

    def _push(self, u: Array) -> Array:
        """u: 0 to 1 from its begin to its end."""
        style = self.style
        begins = style.shoulder_at if self.shoulder > 0 else 0.0
        own = hump(np.clip((u - begins) / (1 - begins), 0, 1), style.push_skew, style.push_third)
        push = np.where(u >= begins, own, 0.0)
        if self.shoulder > 0:
            lasts = 2.4 * begins
            push = push + self.shoulder * np.where(u < lasts, np.sin(PI * np.clip(u / lasts, 0, 1)), 0.0)
        return push

    def _glide(self, u: Array) -> Array:
        return hump(u, self.style.glide_skew, self.style.glide_third)

    @property
    def depth(self) -> float:
        return (self.height * self.share * self.push_mean - self.excess) / ((1 - self.share) * self.glide_mean)

    def at(self, u: Array) -> Array:
        """[g]; u: 0 to 1 through the cycle."""
        push = 1 + self.height * self._push(np.clip(u / self.share, 0, 1)) / self.push_top
        glide = 1 - self.depth * self._glide(np.clip((u - self.share) / (1 - self.share), 0, 1))
        return np.where(u < self.share, push, glide)

    def moves(self) -> tuple[float, float]:
        """By how much a body rises faster after it [m/s], and how far it rises [m] if it was at rest."""
        a = GRAVITY * (self.at(MIDDLES) - 1)
        return a.mean() * self.period, (a * (1 - MIDDLES)).mean() * self.period**2

    def level_speed(self) -> float:
        """[m/s] upward at the onset with which the body is as high after the cycle as before."""
        return -self.moves()[1] / self.period


# --- the cycles of a train, as they are drawn ---


def _uneven(r: np.random.Generator, count: int) -> Array:
    """By how many SD each period is off: a long one is followed by a rather shorter one."""
    drawn = r.standard_normal(count)
    off = np.clip((drawn - 0.25 * np.concatenate([[0.0], drawn[:-1]])) / 1.03, -2.2, 2.2)
    return (off - off.mean()) / off.std() if count >= 8 else off


def _first(r: np.random.Generator, usual: str) -> tuple[float, float]:
    """By which shares the first period is longer and the first push harder."""
    u = r.uniform
    how = usual if r.random() < 0.75 else str(r.choice(["hard", "weak", "same"]))
    ways = {"hard": (-u(0.06, 0.2), u(0.05, 0.25)), "weak": (u(-0.05, 0.08), -u(0.1, 0.35)), "same": (0.0, 0.0)}
    return ways[how]


def draw_cycles(r: np.random.Generator, rider: Rider, count: int) -> list[Cycle]:
    u, normal, k = r.uniform, r.standard_normal, np.arange(count)
    cadence = np.clip(rider.cadence * u(0.96, 1.04), 1.075, 1.915)
    cv = np.clip(rider.cv * u(0.9, 1.1), 0.02, 0.066)
    style = replace(
        rider.style, push_skew=rider.style.push_skew + 0.04 * normal(),
        glide_skew=rider.style.glide_skew + 0.04 * normal(),
    )  # fmt: skip
    off = _uneven(r, count)
    drift = rider.drift * u(-1, 1) * (k / 60) + 0.02 * np.sin(2 * PI * k / u(25, 50) + u(0, 6))
    early = np.exp(-k / u(0.8, 2.2))
    longer, harder = _first(r, rider.first)
    period = (1 / cadence) * (1 + np.clip(drift, -0.06, 0.06) + longer * early) * np.exp(cv * off)
    period = np.clip(period, 1 / 2.15, 1 / 0.98)
    period /= cadence * np.median(period)
    effort = 1 - rider.fade * np.clip(k / 80, 0, 1) + harder * early
    height = np.clip(rider.height * u(0.93, 1.07) * effort * np.exp(rider.height_cv * normal(count)), 0.43, 1.62)
    share = np.clip(rider.share * (1 + 0.04 * normal(count) + 0.10 * early * u(-1, 1)), 0.135, 0.555)
    cycles = []
    for one in zip(period, share, height, strict=True):
        shoulder = style.shoulder * u(0.6, 1.35) if r.random() < style.shoulder_often else 0.0
        cycles.append(Cycle(*one, shoulder, style))
    return cycles


# --- the train ---


def train(c: Chain, rider: Rider, count: int, speed: float, *, to_rest: bool) -> tuple[list[Meant], float]:
    """Adds a dip and so many pumps, from speed [m/s] on. to_rest: after the last one the body neither rises nor falls.
    Returns the pumps, and the speed at the end."""
    cycles = draw_cycles(c.r, rider, count)
    keep_height(cycles, _dip(c, cycles[0], rider, speed), to_rest=to_rest)
    begins = c.now
    onsets = begins + np.concatenate([[0.0], np.cumsum([cycle.period for cycle in cycles])])
    last_speed = _write(c, rider, cycles, onsets, speed)
    pumps = []
    for onset, cycle in zip(onsets, cycles, strict=False):
        push = cycle.share * cycle.period
        c.kicks.append((onset + push * c.u(0.9, 1.0), rider.kick * cycle.asked * c.u(0.5, 1.3)))
        pumps.append(Meant(onset, push, cycle.period))
    return pumps, last_speed


def _dip(c: Chain, first: Cycle, rider: Rider, speed: float) -> float:
    """From it the first push begins; it lets the body fall as fast as the first cycle is to begin [m/s], if it can."""
    rising, seconds = first.level_speed(), c.u(0.22, 0.40)
    depth = np.clip(-rising / (GRAVITY * seconds * 0.6366), 0.1, 0.8)  # mean of a half-sine: 2 / pi
    seconds = np.clip(-rising / (GRAVITY * depth * 0.6366), 0.15, 0.5)
    c.bump(seconds, -depth, skew=-0.1, lean=rider.lean, speed=speed)
    return rising


def keep_height(cycles: list[Cycle], rising: float, *, to_rest: bool) -> None:
    """Gives each cycle its excess, so that the next one begins at its own speed, and what was lost in height comes
    back; rising [m/s] at the first onset."""
    height, last = 0.0, len(cycles) - 1
    for k, cycle in enumerate(cycles):
        after = cycles[k + 1].level_speed() if k < last else rising
        wanted = after - 0.25 * height / cycle.period - rising - cycle.moves()[0]
        cycle.excess = float(np.clip(wanted / (GRAVITY * cycle.period), -MOST, MOST))
        if k == last and to_rest:
            most = 0.8 * cycle.height * cycle.share * cycle.push_mean
            cycle.excess = min(-rising / (GRAVITY * cycle.period), most)
        faster, climb = cycle.moves()
        height += rising * cycle.period + climb
        rising += faster


def _write(c: Chain, rider: Rider, cycles: list[Cycle], onsets: Array, speed: float) -> float:
    """Returns the speed [m/s] at the end. onsets [s]: of the cycles, and where the next one would begin."""
    begins, ends = float(onsets[0]), onsets[-1]
    m = round((ends - begins) * FS)
    t = begins + np.arange(m) / FS
    since = t - begins
    k = np.clip(np.searchsorted(onsets, t, "right") - 1, 0, len(cycles) - 1)
    phase = (t - onsets[k]) / np.array([cycle.period for cycle in cycles])[k]
    up = np.empty(m)
    for j, cycle in enumerate(cycles):
        own = slice(np.searchsorted(k, j), np.searchsorted(k, j, "right"))
        up[own] = cycle.at(phase[own])
    turn, side_to_side = 2 * PI * phase, 2 * PI * (k + phase) / 2
    ease = np.minimum(1, since / 0.8) * np.minimum(1, (ends - t) / 0.4)
    settles = np.exp(-since / 4)
    fore = np.sin(turn + rider.fore_at) + 0.35 * np.sin(2 * turn + rider.fore_twice_at)
    speeds = speed + (rider.speed - speed) * (1 - settles) + 0.15 * np.sin(2 * PI * since / 17)
    speeds = speeds - 0.5 * rider.fade * since / 60
    c.add(
        up,
        fore=rider.fore * fore * ease + 0.02 * np.clip(rider.speed - speed, -2, 2) * settles,
        left=0.03 * np.sin(side_to_side) * ease,
        lean=rider.lean + 0.05 * np.sin(2 * PI * since / 23 + rider.fore_at),
        roll=0.03 * np.sin(side_to_side + 1) * ease,
        swing=rider.swing * (np.sin(turn + rider.swing_at) + 0.2 * np.sin(2 * turn)) * ease,
        speed=speeds, wet=0.25, turn=c.band(m, 0.03, 0.2, rider.turn),
    )  # fmt: skip
    return float(speeds[-1])
