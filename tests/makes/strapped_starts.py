"""How flights begin in `strapped`: a run and a jump, a rope that is let go, a step onto the board.

Each ends in the countermovement before the first push, whose impulse is paid beforehand, and leaves its speed in the
day.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy.ndimage import gaussian_filter1d

from .drawn_motion import PI, Array
from .strapped_day import Day, blow, clock, haul, scaled
from .strapped_rider import FS, bump, half_sine, middles


def _countermovement(r: np.random.Generator) -> tuple[Array, float]:
    """[g], and how much it takes [s g]."""
    n, depth = int(r.uniform(0.15, 0.32) * FS), r.uniform(0.2, 0.5)
    sinks = bump(middles(n), 0.9, 0.6) * depth
    return -sinks, sinks.sum() / FS


def run_up(day: Day) -> None:
    """Steps, a jump, and the landing on the board, that pays for flight and countermovement; some wait then."""
    r, u, rider = day.r, day.r.uniform, day.rider
    fast = u(3.0, 4.2)
    day.stand(u(1.5, 5))
    day.run(u(1, 3), rider.run_hz, 0.5, fast)
    air = u(0.2, 0.35)
    takes_off = air * u(0.4, 0.55)
    jump = scaled(half_sine(int(takes_off * PI / 2 / u(0.9, 1.5) * FS)), takes_off)
    sinks, taken = _countermovement(r)
    landing = blow(air - takes_off + taken, u(1.0, 3.0), 0.8, 1.5)
    waits = np.zeros(int((u(0.25, 0.9) if r.random() < 0.25 else u(0, 0.08)) * FS))
    over = np.concatenate([jump, -np.ones(int(air * FS)), landing, waits, sinks])
    n, lands = len(over), len(jump) + int(air * FS)
    landed = lands + len(landing)
    fore, side = np.zeros(n), np.zeros(n)
    fore[lands:landed] = -landing * u(0.05, 0.25)
    side[lands:landed] = rider.side * landing * u(0, 0.2)
    day.speed = max(2.6, fast * 0.85 + 0.1 * rider.speed)
    nods = [0, u(-8, 8), u(-8, 8), u(0, 10), 0]
    day.add(
        over, fore=fore, side=side, nod=np.interp(np.arange(n), [0, len(jump), lands, landed, n], nods), chop=0.03,
        lean=rider.lean * 0.8, speed=np.interp(np.arange(n), [0, lands, n], [fast, fast, day.speed]),
    )  # fmt: skip


def rope(day: Day) -> None:
    """Out of the water and along behind a boat; the rope gone, a sway pays for the countermovement."""
    r, u, rider = day.r, day.r.uniform, day.rider
    day.add(np.zeros(int(u(2, 5) * FS)), chop=0.05, lean=u(20, 60), bank=u(-10, 10), speed=0.2, wet=0.5)
    n = int(u(1.8, 3) * FS)
    gets_up, part = np.zeros(n), np.arange(n) / n
    haul(r, gets_up, (0.5, 0.8), (0.15, 0.3))
    day.speed = max(3.0, rider.speed * u(0.9, 1.1))
    day.add(gets_up, fore=0.15, chop=0.05, lean=np.interp(part, [0, 1], [30, -4]), speed=day.speed * part, wet=0.4)
    t = clock(int(u(4, 10) * FS))
    back = u(-10, -2)
    day.add(
        np.zeros(len(t)), fore=0.02 * np.sin(2 * PI * u(0.3, 0.8) * t), chop=u(0.03, 0.05) + 0.03 * day.rough,
        lean=back, bank=u(-5, 5), speed=day.speed, wet=0.15, turn=r.normal(0, 4),
    )  # fmt: skip
    waits = np.zeros(int(u(0.2, 1.3) * FS))
    sinks, taken = _countermovement(r)
    sway = half_sine(int(u(0.25, 0.5) * FS))
    over = np.concatenate([waits, sway * taken * FS / sway.sum(), sinks])
    i = np.arange(len(over))
    day.add(
        over, fore=np.where(i < 150, -0.06, 0), chop=0.02 + 0.02 * day.rough,
        lean=np.interp(i, [0, len(over)], [back, rider.lean]), speed=day.speed, wet=0.1,
    )  # fmt: skip


def step_on(day: Day) -> None:
    """From a dock or from shallow water, the board held in place by shuffling; the standing leg pushes, the body drops
    onto the board."""
    r, u, rider = day.r, day.r.uniform, day.rider
    day.stand(u(2, 6))
    for _ in range(r.integers(0, 3)):
        n = int(u(0.5, 0.8) * FS)
        shuffle = np.sin(2 * PI * np.arange(n) / n) * u(0.06, 0.2)
        day.add(shuffle, side=0.1 * rider.side * shuffle, chop=0.015, lean=8, speed=0.4)
    dropping, depth = int(u(0.1, 0.22) * FS), u(0.3, 0.75)
    drop = -depth * bump(middles(dropping), 0.5, 0.4)
    push = half_sine(int(u(0.25, 0.4) * FS)) * u(0.1, 0.35)
    sinks, taken = _countermovement(r)
    owed = -drop.sum() / FS - push.sum() / FS + taken
    if owed < 0.04:  # pushed off too hard: there is nothing to land with
        push *= 0.3
        owed = max(0.03, -drop.sum() / FS - push.sum() / FS + taken)
    landing = blow(owed, u(0.4, 1.2), 0.9, 1.4)
    over = np.concatenate([push, drop, landing, np.zeros(int(u(0, 0.4) * FS)), sinks])
    day.speed = u(2.5, 3.2)
    fore = np.zeros(len(over))
    fore[: len(push)] = push * 0.8
    day.add(
        over, fore=fore, side=rider.side * 0.1 * gaussian_filter1d(over, 30), chop=0.02, lean=rider.lean,
        bank=rider.side * 3, speed=np.linspace(0.6, day.speed, len(over)), wet=0.1,
    )  # fmt: skip


STARTS: dict[str, Callable[[Day], None]] = {"run_up": run_up, "rope": rope, "step": step_on}
