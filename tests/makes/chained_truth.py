"""What is true of an outing of `chained`, read off the clean vertical: what the body feels, before pouch and phone."""

from __future__ import annotations

from typing import Any

import numpy as np

from .chained_piece import FS, GRAVITY, Attempt, Meant
from .drawn_motion import Array

FLIGHT = 3
"""Pumps that make a try a flight."""


def truth_of(up: Array, attempts: list[Attempt]) -> dict[str, Any]:
    """up [g]. Pumps and flights as truth.json has them, and each try's `onsets_s`, those of no flight too. An onset is
    the upward crossing of 1 g nearest to where the rider meant it, a push end the downward one."""
    rises, falls = _crossings(up, 1), _crossings(up, -1)
    truth: dict[str, Any] = {"pumps": [], "flights": [], "attempts": []}
    for tried in attempts:
        pumps = [_pump(up, rises, falls, meant) for meant in tried.pumps]
        onsets = [p["onset_s"] for p in pumps]
        truth["attempts"].append({"onsets_s": onsets})
        if len(pumps) < FLIGHT:
            continue
        over = onsets[-1] + float(tried.pumps[-1].period)
        for p, ends in zip(pumps, [*onsets[1:], over], strict=True):
            p["travel_m"] = round(_travel(up, p["onset_s"], ends), 4)
        truth["pumps"] += pumps
        truth["flights"].append({
            "start_s": onsets[0], "end_s": float(np.round(over, 4)), "pumps": len(pumps),
            "started_by": tried.started_by, "ended_by": tried.ended_by,
        })  # fmt: skip
    return truth


def _crossings(up: Array, way: int) -> Array:
    """When [s] it goes through 1 g upward (way 1) or downward (-1)."""
    k = np.flatnonzero(np.diff((up >= 1).astype(int)) == way)
    return np.asarray((k + (1 - up[k]) / (up[k + 1] - up[k])) / FS)


def _pump(up: Array, rises: Array, falls: Array, meant: Meant) -> dict[str, float]:
    onset = rises[np.argmin(abs(rises - meant.onset))]
    later = falls[falls > onset + 0.3 * meant.push]
    end = later[np.argmin(abs(later - meant.onset - meant.push))]
    push = np.arange(int(np.ceil(onset * FS)), int(end * FS) + 1)
    top = push[np.argmax(up[push])]
    before, here, after = up[top - 1 : top + 2]
    bend = before - 2 * here + after
    beside = 0.5 * (before - after) / bend if bend < 0 else 0.0  # samples to the top of the parabola through the three
    return {
        "onset_s": round(float(onset), 5), "peak_s": round(float(top + np.clip(beside, -1, 1)) / FS, 5),
        "push_end_s": round(float(end), 5), "peak_g": round(float(here - 0.25 * (before - after) * beside), 4),
    }  # fmt: skip


def _travel(up: Array, begins: float, ends: float) -> float:
    """[m] from the lowest to the highest of the body, which ends as high and as fast as it began."""
    t, step = np.linspace(begins, ends, 401), (ends - begins) / 400
    n = np.interp(t, np.arange(len(up)) / FS, up)
    a = GRAVITY * (n - n.mean())
    v = _summed(a, step)
    v -= (v[:-1] + v[1:]).mean() / 2
    z = _summed(v, step)
    return float(z.max() - z.min())


def _summed(x: Array, step: float) -> Array:
    """Integral from the first value on, by trapezoids."""
    return np.concatenate([[0.0], np.cumsum((x[1:] + x[:-1]) / 2) * step])
