"""Tries in `strapped`: a start, pumps one after the other, and how it ends.

Each pump's push and glide are balanced so that the cycle keeps its momentum; tempo drifts, effort fades.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d

from .drawn_motion import PI, Array
from .strapped_day import Day, Try, faded
from .strapped_rider import FS, GRAVITY, Rider, glide_shape, push_shape
from .strapped_starts import STARTS

ENDS = ("fall", "touch_down", "coast_out")
LOWEST_GLIDE = 0.93
"""[g] below 1 g: feet stay on the board."""
LEGS = 0.44
"""[m] that they let the body travel."""
DEEP_ENOUGH = 0.16
"""[g] below 1 g that a glide goes at least, if the push stays under HIGHEST."""
LEAST, MOST, HIGHEST = 0.38, 1.62, 1.6
"""[g] of pushes above 1 g."""


@dataclass(frozen=True)
class Pumps:
    """As they were meant to be, one after the other."""

    periods: Array
    """[s]"""
    heights: Array
    """[g] above 1 g."""
    shares: Array
    """Of the period above 1 g."""

    @property
    def ends(self) -> Array:
        """[s] of periods, from 0 on."""
        return np.concatenate([[0], np.cumsum(self.periods)])


def attempt(day: Day, started_by: str, count: int) -> None:
    """One more try of so many pumps."""
    r, u, skill = day.r, day.r.uniform, day.rider.skill
    STARTS[started_by](day)
    onsets: list[float] = []
    until = day.now
    if count:
        onsets, until = _pump(day, count)
    likely = np.array([0.3 + 0.3 * (1 - skill), 0.3, 0.15 + 0.35 * skill])
    end = str(r.choice(ENDS, p=likely / (0.75 + 0.3 * (1 - skill) + 0.35 * skill)))
    if not count:
        end = "fall" if r.random() < 0.6 else "touch_down"
        day.coast(u(0.05, 0.3))
    if end == "fall":
        if r.random() < 0.5:
            day.coast(u(0.05, 0.5))
        day.fall()
    else:
        if end == "coast_out":
            day.coast(u(1.2, 3.5))
        day.touch_down()
    day.tries.append(Try(started_by, end, onsets, until))


def _pump(day: Day, count: int) -> tuple[list[float], float]:
    """So many pumps; their onsets [s], and the end of the last one's period."""
    r, u, rider = day.r, day.r.uniform, day.rider
    pumps, begins = draw_pumps(r, rider, count), day.now
    ends = pumps.ends
    t = (np.arange(round(ends[-1] * FS)) + 0.5) / FS
    over = heights(r, rider, pumps, t)
    cycles, on = np.interp(t, ends, np.arange(count + 1)), faded(t, t[-1], 0.25)
    vary = gaussian_filter1d(r.normal(1, 0.12, count), 0.7)
    vary = np.interp(cycles, np.arange(count) + 0.4, vary)
    swings = 0.5 * rider.pitches * vary * _nodding(cycles - rider.pitch_phase) / 1.1 * on
    fore = rider.fore * np.sin(2 * PI * (cycles - rider.fore_phase)) + 0.25 * rider.fore * np.sin(4 * PI * cycles + 1)
    side = rider.side * 0.03 * np.sin(2 * PI * cycles + 1) * on + 0.02 * np.sin(PI * cycles) * on
    speed = _speed(day, t)
    lean = rider.lean + r.normal(0, 2) + 3 * np.sin(2 * PI * t / u(12, 40) + u(0, 6))
    turn = np.interp(t, np.linspace(0, t[-1], 4), r.normal(0, 6, 4)).mean()
    day.add(
        over, fore=fore * vary * on, side=side, nod=swings, chop=0.005 + 0.013 * day.rough, lean=lean,
        bank=3 * np.sin(2 * PI * t / u(6, 20)), speed=speed, wet=0.1 + 0.2 * day.rough, turn=turn,
    )  # fmt: skip
    day.speed = float(speed[-1])
    return [float(begins + at) for at in ends[:-1]], float(begins + ends[-1])


def _nodding(cycles: Array) -> Array:
    return np.cos(2 * PI * cycles) + 0.2 * np.cos(4 * PI * cycles + 0.5)


def _speed(day: Day, t: Array) -> Array:
    """[m/s] from the start's to about the rider's own, less towards the end."""
    u = day.r.uniform
    own = day.rider.speed * u(0.93, 1.07)
    v = own + (day.speed - own) * np.exp(-t / 4) + 0.15 * np.sin(2 * PI * t / u(7, 15))
    return np.clip(v * (1 - 0.08 * (t / t[-1])), 2.5, 5.5)


# --- what the pumps are meant to be ---


def draw_pumps(r: np.random.Generator, rider: Rider, count: int) -> Pumps:
    u, i = r.uniform, np.arange(count)
    cv, uneven = rider.period_cv * u(0.9, 1.15), _uneven(r, count)
    drift = r.normal(0, 0.03) * np.minimum(i / 40, 1.5) + 0.012 * np.sin(2 * PI * i / u(18, 40) + u(0, 6))
    young = np.exp(-i / u(1.0, 2.5))
    slower, harder = _first_pumps(r, rider.first)
    tempo = rider.period * u(0.965, 1.035)
    periods = tempo * (1 + drift + slower * young) * (1 + cv * np.clip(uneven, -2.6, 2.6))
    periods = np.clip(periods, 0.475, 1.02)
    periods = periods * np.clip(periods.mean(), 1 / 1.94, 1 / 1.06) / periods.mean()
    fade = 1 - u(0.05, 0.3) * np.clip(i / 70, 0, 1) * np.clip(count / 40, 0, 1)
    height = (rider.peak - 1) * u(0.92, 1.06) * fade * (1 + harder * young)
    height = height * (1 + rider.peak_cv * np.clip(r.normal(0, 1, count), -2.4, 2.4)) * (1 + rider.pair * (-1.0) ** i)
    share = rider.share * u(0.96, 1.04) * (1 + 0.12 * (1 - fade))
    share = share * (1 + rider.share_cv * np.clip(r.normal(0, 1, count), -2.5, 2.5))
    return Pumps(periods, height, np.clip(share, 0.155, 0.56))


def _uneven(r: np.random.Generator, count: int) -> Array:
    """SD 1; a long pump is rather followed by a short one."""
    e = r.normal(0, 1, count)
    for k in range(1, count):
        e[k] = -0.1 * e[k - 1] + e[k] * 0.995
    return e


def _first_pumps(r: np.random.Generator, usual: str) -> tuple[float, float]:
    """By how much of the rest's period they are longer, and by how much of their height higher."""
    u = r.uniform
    ways = {"quick": (-u(0.04, 0.15), u(0, 0.25)), "weak": (u(-0.08, 0.08), -u(0.15, 0.4)), "plain": (0.0, 0.0)}
    return ways[usual if r.random() < 0.8 else "plain"]


def heights(r: np.random.Generator, rider: Rider, pumps: Pumps, t: Array) -> Array:
    """Vertical specific force above 1 g [g] at t [s]."""
    over, ends = np.zeros(len(t)), pumps.ends
    for k, (period, height, share) in enumerate(zip(pumps.periods, pumps.heights, pumps.shares, strict=True)):
        begins, until = np.searchsorted(t, ends[k : k + 2])
        over[begins:until] = _one(r, rider, (t[begins:until] - ends[k]) / period, height, share)
    return over


def _one(r: np.random.Generator, rider: Rider, u: Array, height: float, share: float) -> Array:
    """A pump at u from 0 to 1: mean 0, no higher nor lower than a body can."""
    vary, pushing = np.exp(r.normal(0, 0.05, 5)), u < share
    push = push_shape(u[pushing] / share, rider, vary, min(0.4, 0.1 / max(height, LEAST)))
    glide = glide_shape((u[~pushing] - share) / (1 - share), rider, vary)
    high = np.clip(height, LEAST, MOST) / push.max() * 1.03  # the body rounds off 3 %
    deep = high * push.sum() / glide.sum()
    over = np.concatenate([high * push, -deep * glide])
    scale = min(1.0, LOWEST_GLIDE / deep, LEGS / _travel(over))
    if deep * scale < DEEP_ENOUGH:
        scale = min(DEEP_ENOUGH / deep, HIGHEST / high)
    return over * scale


def _travel(over: Array) -> float:
    """[m] from the lowest to the highest point of one cycle."""
    v = np.cumsum(over) / FS
    v -= v.mean()
    return np.ptp(np.cumsum(v) * GRAVITY / FS)
