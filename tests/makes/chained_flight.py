"""Tries in `chained`: the ways to get going, to end, and an attempt from one to the other.

A start ends where the feet are on the board and the body neither rises nor falls; it returns the speed [m/s] there.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .chained_ashore import run, sit, stand
from .chained_piece import FS, GRAVITY, Attempt, Chain, Meant, along, hump
from .chained_pump import train
from .chained_rider import Rider
from .drawn_motion import PI


def run_up(c: Chain) -> float:
    if c.r.random() < 0.6:
        stand(c, c.u(0.8, 3))
    speed, rate = c.u(3.0, 4.2), c.u(2.5, 3.0)
    run(c, c.u(1.0, 2.8), (rate * 0.97, min(rate * 1.03, 3.0)), (0.8, speed), c.u(0.60, 0.78))
    airborne, k = c.u(0.2, 0.35), int(c.u(0.20, 0.28) * FS)
    upward = GRAVITY * airborne * c.u(0.38, 0.5)
    height = upward / (GRAVITY * k / FS * 0.62)
    c.add(1 + height * hump(along(k), 0.2, 0.05), fore=0.1, lean=0.15, speed=speed)
    c.air(airborne, 0.04, lean=0.1, speed=speed)
    _land(c, c.u(1.1, 2.8), c.u(0.09, 0.16), speed)
    return speed


def step_on(c: Chain) -> float:
    stand(c, c.u(1, 4), sway=0.012)
    c.bump(c.u(0.25, 0.4), -c.u(0.08, 0.25), lean=0.12)
    c.bump(c.u(0.2, 0.35), c.u(0.1, 0.35), lean=0.15)
    c.air(c.u(0.08, 0.18), c.u(0.2, 0.5), lean=0.12, speed=1.0)
    _land(c, c.u(0.15, 0.8), c.u(0.14, 0.26), 1.8)
    return 1.8


def rope(c: Chain) -> float:
    """Pulled up by somebody, and onto the foil."""
    sit(c, c.u(2, 5))
    speed = c.u(3.2, 5.0)
    c.bump(c.u(0.5, 0.9), c.u(0.1, 0.3), lean=-0.15, speed=1.5, wet=1.0)
    k, chop = int(c.u(5, 14) * FS), c.u(0.025, 0.06) * (1 + 0.5 * c.rough)
    c.add(
        1 + c.band(k, 0.6, 4.0, chop), fore=0.06 + c.band(k, 0.3, 3, chop), left=c.band(k, 0.3, 2, 0.03), lean=-0.12,
        roll=c.band(k, 0.2, 0.8, 0.03), swing=c.band(k, 0.3, 1.5, 0.03),
        speed=np.minimum(speed, 1.5 + np.arange(k) / FS * 0.9), wet=0.5,
    )  # fmt: skip
    stand(c, c.u(0.4, 1.8), 0.05, speed, 0.012 + 0.01 * c.rough)
    return speed


STARTS: dict[str, Callable[[Chain], float]] = {"run_up": run_up, "rope": rope, "step": step_on}


def _land(c: Chain, height: float, seconds: float, speed: float) -> None:
    """Both feet on the board: a blow that stops the fall, now and then with a short tail as the knees give."""
    u = along(int(seconds * FS))
    c.kicks.append((c.now + 0.02, c.u(0.1, 0.4)))
    up = 1 + height * hump(u, c.u(0.3, 0.7))
    c.add(up, fore=-0.15, lean=0.12, swing=0.05 * np.sin(PI * u), speed=speed)
    if c.r.random() < 0.5:
        c.bump(c.u(0.06, 0.14), c.u(0.02, 0.12), lean=0.1, speed=speed)
    if c.r.random() < 0.45:
        stand(c, c.u(0.05, 0.5), 0.1, speed, 0.01)


# --- the ways to end, from a speed [m/s] on ---


def _fall(c: Chain, speed: float) -> None:
    if c.r.random() < 0.5:  # the foil gives way first
        k = int(c.u(0.12, 0.3) * FS)
        up = c.u(0.75, 0.95) + 0.1 * np.sin(np.arange(k) / k * 3)
        c.add(up, fore=-0.1, left=0.1, lean=0.2, roll=0.1, speed=speed)
    side, k, tip = int(c.r.choice([-1, 1])), int(c.u(0.2, 0.35) * FS), c.u(0.3, 0.9)
    c.add(
        np.full(k, c.u(0.06, 0.2)), fore=-0.05, left=0.05 * side, lean=np.linspace(0.2, tip, k),
        roll=np.linspace(0.1, 0.6, k) * side, speed=speed * 0.8,
    )  # fmt: skip
    c.kicks.append((c.now + 0.02, c.u(0.3, 0.9)))
    c.bump(
        c.u(0.06, 0.14), c.u(1.2, 3.6), skew=0.5, fore=-c.u(0.3, 1.2), left=0.5 * side, lean=tip, roll=0.6 * side,
        speed=speed * 0.4, wet=4.0,
    )  # fmt: skip
    k = int(c.u(0.8, 1.8) * FS)
    calms = np.exp(-np.arange(k) / FS / 0.4)
    c.add(
        1 + c.band(k, 0.6, 4, 0.14) * calms, fore=c.band(k, 0.6, 4, 0.2) * calms, left=c.band(k, 0.6, 4, 0.2) * calms,
        lean=c.u(0.4, 1.1), roll=c.band(k, 0.2, 1.0, 0.3), speed=0.3, wet=4.0,
    )  # fmt: skip


def _touch_down(c: Chain, speed: float) -> None:
    """The hull touches, the board stops, the rider steps off."""
    seconds = c.u(0.16, 0.32)
    c.kicks.append((c.now + 0.03, c.u(0.1, 0.4)))
    c.bump(seconds, c.u(0.12, 0.65), skew=0.4, fore=-c.u(0.2, 0.45), lean=0.12, speed=speed * 0.8, wet=1.0)
    k = int(c.u(0.4, 0.9) * FS)
    brakes = -0.2 * np.exp(-np.arange(k) / FS / 0.25)
    c.add(1 + c.band(k, 0.8, 4, 0.04), fore=brakes, lean=0.08, speed=speed * 0.5, wet=0.8)
    stand(c, c.u(0.4, 1.6), 0.06, speed * 0.3, 0.015)
    c.air(c.u(0.12, 0.22), 0.3, lean=0.1, speed=0.5)
    c.bump(c.u(0.1, 0.2), c.u(0.5, 1.4), lean=0.15, speed=0.4, wet=3.0)
    stand(c, c.u(0.8, 2.5), 0.1, 0.3, 0.03, 1.0)


def _stall(c: Chain, speed: float) -> None:
    """Pumping stops, the board glides on and sinks under the rider."""
    stand(c, c.u(0.6, 2.6), 0.1, speed * 0.8, 0.02)
    _fall(c, speed * 0.7)


def _soft(c: Chain, speed: float) -> None:
    stand(c, c.u(0.4, 2.0), 0.05, speed * 0.9, 0.012)
    _touch_down(c, speed)


def _coast_out(c: Chain, speed: float) -> None:
    k = int(c.u(2.0, 4.5) * FS)
    c.add(
        1 + c.band(k, 0.3, 2.0, 0.012 + 0.01 * c.rough), fore=-0.05, lean=0.04, roll=c.band(k, 0.2, 0.8, 0.02),
        swing=c.band(k, 0.2, 0.8, 0.03), speed=np.linspace(speed, 2.2, k), wet=0.2,
    )  # fmt: skip
    (_touch_down if c.r.random() < 0.6 else _fall)(c, 2.2)


TO_REST: dict[str, Callable[[Chain, float], None]] = {"coast_out": _coast_out, "soft": _soft, "stall": _stall}
ENDS = TO_REST | {"fall": _fall, "touch_down": _touch_down}
"""Those before which the rider comes to rest on the board, and all."""


def attempt(c: Chain, rider: Rider, started_by: str, count: int, ended_by: str) -> None:
    """A try of so many pumps, none or more; ended_by: fall, touch_down or coast_out, the first two in two ways."""
    speed, end = STARTS[started_by](c), ended_by
    pumps: list[Meant] = []
    if ended_by == "touch_down" and c.r.random() < 0.8:
        end = "soft"
    if count >= 3 and ended_by == "fall" and c.r.random() < 0.6:
        end = "stall"
    if count:
        pumps, speed = train(c, rider, count, speed, to_rest=end in TO_REST)
    ENDS[end](c, speed)
    c.attempts.append(Attempt(pumps, started_by, ended_by))
