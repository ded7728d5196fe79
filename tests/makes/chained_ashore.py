"""What people do in `chained` when they do not fly: on foot, at rest, in the water. Each adds a piece to the chain."""

from __future__ import annotations

import numpy as np

from .chained_piece import FS, Chain, along, hump
from .drawn_motion import PI, Array


def _turning(c: Chain, rate: float, count: int, high: float, uneven: float) -> Array:
    """[rad] at each sample, rate [Hz] wandering by that share, slower than high [Hz]."""
    return 2 * PI * np.cumsum(rate * (1 + c.band(count, 0.1, high, uneven))) / FS


def stand(
    c: Chain, seconds: float, lean: float = 0.06, speed: float = 0.0, sway: float = 0.008, wet: float = 0.0
) -> None:
    """Ashore or on the board; sway [g]."""
    k = int(seconds * FS)
    c.add(
        1 + c.band(k, 0.3, 2.5, sway), fore=c.band(k, 0.3, 2.0, sway), left=c.band(k, 0.3, 2.0, sway), lean=lean,
        swing=c.band(k, 0.1, 0.8, 0.02), speed=speed, wet=wet,
    )  # fmt: skip


def walk(c: Chain, seconds: float) -> None:
    rate, k = c.u(1.6, 2.2), int(seconds * FS)
    size = c.u(0.08, 0.15) * (rate / 1.9) ** 2
    steps = _turning(c, rate, k, 1.0, 0.03)
    twice, later = c.u(0.25, 0.5), c.u(0, 6.28)
    up = 1 + size * np.sin(steps) + size * twice * np.sin(2 * steps + later)
    up = up + size * 0.25 * np.sin(3 * steps + 1.3 * later)
    heel = np.maximum(0, np.sin(steps - 0.4)) ** 12
    up += c.u(0.02, 0.10) * (heel - heel.mean())
    c.add(
        up, fore=0.10 * np.sin(steps + 1.2), left=0.09 * np.sin(steps / 2), lean=c.u(0.03, 0.12),
        roll=0.04 * np.sin(steps / 2 + 0.5), swing=0.03 * np.sin(steps + 0.4), speed=c.u(0.8, 1.5),
    )  # fmt: skip


def run(c: Chain, seconds: float, rate: tuple[float, float], speed: tuple[float, float], duty: float) -> None:
    """Steps of a contact and a short time in the air, duty being the contact's share; mean 1 g over each. rate [Hz]
    and speed [m/s] go from the first value to the second."""
    (rate_from, rate_to), steps, t = rate, [], 0.0
    while t < seconds:
        hz = rate_from + (rate_to - rate_from) * min(1, t / max(seconds, 0.5))
        period = 1 / hz / (1 + 0.03 * c.r.standard_normal())
        u = along(max(int(period * FS), 50))
        contact = np.clip(duty + 0.03 * c.r.standard_normal(), 0.5, 0.85)
        force = np.where(u < contact, hump(np.clip(u / contact, 0, 1), 0.25, 0.05), 0.0)
        steps.append(0.04 + force * 0.96 / force.mean())
        t += period
    up = np.concatenate(steps)
    turn = np.arange(len(up)) / FS * 2 * PI * hz
    c.add(
        up, fore=0.22 * np.sin(turn + 1), left=0.12 * np.sin(turn / 2), lean=c.u(0.12, 0.25),
        roll=0.05 * np.sin(turn / 2), swing=0.05 * np.sin(turn), speed=np.linspace(*speed, len(up)),
    )  # fmt: skip


def knee_bends(c: Chain, seconds: float) -> None:
    rate, k = c.u(0.45, 0.75), int(seconds * FS)
    bends = _turning(c, rate, k, 0.4, 0.05)
    size = c.u(0.12, 0.35)
    up = 1 + size * np.sin(bends) + 0.3 * size * np.sin(2 * bends + 1)
    c.add(up, fore=0.05 * np.sin(bends), lean=0.15, swing=0.15 * np.sin(bends + 0.6))


def rig(c: Chain, seconds: float) -> None:
    """Fetching, lifting, turning the board round: slow and aimless."""
    k = int(seconds * FS)
    c.add(
        1 + c.band(k, 0.3, 3.0, 0.06), fore=c.band(k, 0.3, 2.0, 0.07), left=c.band(k, 0.3, 2.0, 0.07), lean=0.25,
        roll=c.band(k, 0.1, 0.6, 0.08), swing=c.band(k, 0.1, 0.8, 0.12), speed=0.4, wet=0.4,
        turn=c.band(k, 0.05, 0.4, 0.5),
    )  # fmt: skip


# --- in the water ---


def swim(c: Chain, seconds: float) -> None:
    rate, k, size = c.u(0.5, 1.05), int(seconds * FS), c.u(0.06, 0.16)
    strokes = _turning(c, rate, k, 0.6, 0.08)
    c.add(
        1 + size * np.sin(strokes) + 0.4 * size * np.sin(2 * strokes + 1) + c.band(k, 0.5, 4, 0.04),
        fore=c.u(0.05, 0.15) * np.sin(strokes + 1), left=c.band(k, 0.3, 3, 0.05), lean=c.u(0.9, 1.35),
        roll=c.u(0.1, 0.4) * np.sin(strokes / 2), speed=c.u(0.3, 0.9), wet=1.2,
    )  # fmt: skip


def sit(c: Chain, seconds: float) -> None:
    """On the board, afloat."""
    k = int(seconds * FS)
    c.add(
        1 + c.band(k, 0.25, 1.2, 0.015 + 0.02 * c.rough), fore=c.band(k, 0.2, 1.0, 0.02),
        left=c.band(k, 0.2, 1.0, 0.03), lean=-0.25, roll=c.band(k, 0.15, 0.6, 0.06), speed=0.2, wet=0.4,
    )  # fmt: skip
