"""Truth of outings of `families`: pumps, flights and tries, read off the trunk's vertical before any phone."""

from __future__ import annotations

from typing import Any

import numpy as np

from cadence_coach.core.units import G

from .drawn_motion import Array
from .families_track import FLIGHT, FS, Try, samples

NEAR = 0.04
"""[s] that a crossing may be from where it was meant."""
DIP = 1.035
"""[g] that a push keeps above between two tops: well clear of 1 g, so that an onset has one reading."""


class Unclear(Exception):
    """An onset or a push end that could be read in two ways, or not at all."""


class Crossings:
    """Where the vertical [g] at FS crosses 1 g: samples before it rises, and before it falls, through it."""

    def __init__(self, up: Array) -> None:
        self.up, over = up, up > 1
        self.rises, self.falls = np.flatnonzero(over[1:] & ~over[:-1]), np.flatnonzero(~over[1:] & over[:-1])

    def time(self, i: int) -> float:
        """[s] of the crossing after sample i."""
        return float(i / FS + (1 - self.up[i]) / (self.up[i + 1] - self.up[i]) / FS)

    @staticmethod
    def nearest(crossings: Array, meant: Array) -> list[int]:
        """Of these, the one next to each time [s]."""
        return [int(crossings[np.argmin(abs(crossings / FS - at))]) for at in meant]

    def one_reading(self, rise: int, fall: int, next_rise: int) -> bool:
        """Whether a pump crosses 1 g but twice and does not nearly do so between."""
        rises, falls, inner = self.rises, self.falls, self.up[rise + 1 : fall + 1]
        more = (rises > rise) & (rises < next_rise)
        back = (falls > rise) & (falls < next_rise) & (falls != fall)
        dips = inner[1:-1][(inner[1:-1] < inner[:-2]) & (inner[1:-1] <= inner[2:])]
        return not more.any() and not back.any() and dips.min(initial=DIP) >= DIP


def _travel(up: Array) -> float:
    """[m] from top to bottom of a pump that ends as fast as it began."""
    a = up - 1
    v = np.cumsum((a - a.mean()) * G) / FS
    v -= v.mean()
    return float(np.ptp(np.cumsum(v) / FS))


def _flight(c: Crossings, t: Try) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """The flight and its pumps, to 0.01 ms. Raises Unclear."""
    rises, falls = c.nearest(c.rises, t.onsets), c.nearest(c.falls, t.push_ends)
    onsets, ends = [c.time(i) for i in rises], [c.time(i) for i in falls]
    for k, (onset, end) in enumerate(zip(onsets, ends, strict=True)):
        near = abs(onset - t.onsets[k]) <= NEAR and abs(end - t.push_ends[k]) <= NEAR
        next_rise = rises[k + 1] if k + 1 < len(rises) else falls[k] + 1
        if not (near and onset < end and c.one_reading(rises[k], falls[k], next_rise)):
            raise Unclear
    if (c.up[max(0, rises[0] - samples(0.1)) : rises[0]] > 1).any():
        raise Unclear
    over = onsets[-1] + float(np.median(np.diff(onsets)[-5:]))
    pumps = []
    for onset, end, rise, fall, until in zip(onsets, ends, rises, falls, [*onsets[1:], over], strict=True):
        push = c.up[rise + 1 : fall + 1]
        top = int(np.argmax(push))
        pumps.append({
            "onset_s": round(onset, 5), "peak_s": round((rise + 1 + top) / FS, 5), "push_end_s": round(end, 5),
            "peak_g": round(float(push[top]), 4),
            "travel_m": round(_travel(c.up[samples(onset) : samples(until)]), 4),
        })  # fmt: skip
    flight = {"start_s": pumps[0]["onset_s"], "end_s": round(over, 5), "pumps": len(pumps)}
    return flight | {"started_by": t.start, "ended_by": t.end}, pumps


def truth_of(up: Array, tries: list[Try]) -> dict[str, Any]:
    """`attempts` are all tries, each with the onsets of all its pumps. Raises Unclear where a flight's pumps have not
    one reading each."""
    c = Crossings(up)
    pumps, flights, attempts = [], [], []
    for one in tries:
        if len(one.onsets) < FLIGHT:
            onsets = [round(c.time(i), 5) for i in c.nearest(c.rises, one.onsets)]
        else:
            flight, its = _flight(c, one)
            flights.append(flight)
            pumps += its
            onsets = [p["onset_s"] for p in its]
        attempts.append({"onsets_s": onsets})
    return {"pumps": pumps, "flights": flights, "attempts": attempts}
