"""What is true of an outing of `strapped`: onsets, peaks, push ends, flights, from the clean motion of the body."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np

from .drawn_motion import Array
from .strapped_day import Try
from .strapped_rider import FS, GRAVITY

FLIGHT = 3
"""Pumps that a try must have to be a flight."""
MOVED = 0.12
"""[s] that an onset may lie from where it was meant to be."""


def truth_of(over: Array, tries: list[Try], kind: str) -> dict[str, Any]:
    """over: vertical specific force above 1 g [g] of the body, before strap and phone. `attempts` have the onsets of
    every try, those of no flight too."""
    truth: dict[str, Any] = {"kind": kind, "pumps": [], "flights": [], "attempts": []}
    for tried in tries:
        meant = [*tried.onsets, tried.until]
        pumps = [_pump(over, begins, until) for begins, until in pairwise(meant)]
        onsets = [p["onset_s"] for p in pumps]
        truth["attempts"].append({"onsets_s": onsets})
        if len(pumps) < FLIGHT:
            continue
        end = onsets[-1] + float(np.mean(np.diff(onsets)[-4:]))
        for pump, (begins, until) in zip(pumps, pairwise([*onsets, end]), strict=True):
            pump["travel_m"] = round(_travel(over[int(begins * FS) : int(until * FS)]), 4)
        truth["pumps"] += pumps
        truth["flights"].append({
            "start_s": onsets[0], "end_s": round(end, 5), "pumps": len(pumps), "started_by": tried.started_by,
            "ended_by": tried.ended_by,
        })  # fmt: skip
    return truth


def _pump(over: Array, begins: float, until: float) -> dict[str, Any]:
    """Its onset is the crossing of 1 g nearest to where the pump was meant to begin [s], its end the first one down
    after the peak."""
    rises = _crossings(over, int((begins - MOVED) * FS), int((begins + MOVED) * FS), up=True)
    onset = rises[np.argmin(abs(rises - begins * FS))]
    first = int(onset) + 1
    top = first + int(np.argmax(over[first : int((begins + 0.75 * (until - begins)) * FS)]))
    end = _crossings(over, top, int((until + 0.1) * FS), up=False)[0]
    beside, peak = _vertex(over[top - 1 : top + 2])
    return {
        "onset_s": _seconds(onset), "peak_s": _seconds(top + beside), "push_end_s": _seconds(end),
        "peak_g": round(1 + peak, 4), "travel_m": None,
    }  # fmt: skip


def _seconds(samples: np.float64) -> float:
    return float(round(samples / FS, 5))


def _crossings(over: Array, first: int, until: int, *, up: bool) -> Array:
    """Between samples, in samples from the beginning on."""
    x = over[first:until]
    below = x < 0
    k = np.flatnonzero(below[:-1] & ~below[1:] if up else ~below[:-1] & below[1:])
    return first + k + x[k] / (x[k] - x[k + 1])


def _vertex(three: Array) -> tuple[np.float64, float]:
    """Of the parabola through three samples: samples from the middle one, and height."""
    a, b, c = three
    at = 0.5 * (a - c) / (a - 2 * b + c)
    return at, float(b - 0.25 * (a - c) * at)


def _travel(over: Array) -> float:
    """[m] from the lowest to the highest point of a pump."""
    v = np.cumsum(over) * GRAVITY / FS
    v -= v.mean()
    return float(np.ptp(np.cumsum(v) / FS))
