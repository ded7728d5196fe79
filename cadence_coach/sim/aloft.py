"""Attempts and flights: what the rider means to do, flown by `ride`, and the truth read from what came out."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import numpy as np

from cadence_coach.core.units import G
from cadence_coach.sim.craft import Craft
from cadence_coach.sim.ride import Ride, ride
from cadence_coach.sim.style import lighter
from cadence_coach.sim.track import Track, bump, wander
from cadence_coach.sim.waveform import DT, Pumps, smooth

LIGHT = 0.96
"""[g] a rider gets at least this light before the first push, so that it has an onset."""


@dataclass
class Truth:
    """Times in s from the start of the outing, before the sensor's clock. Lists of plain dicts, ready for JSON."""

    pumps: list[dict[str, Any]] = field(default_factory=list)
    flights: list[dict[str, Any]] = field(default_factory=list)
    attempts: list[dict[str, Any]] = field(default_factory=list)
    steps: list[float] = field(default_factory=list)


def fly(
    track: Track,
    truth: Truth,
    craft: Craft,
    pumps: Pumps,
    *,
    started_by: str,
    ended_by: str,
    lead: np.ndarray,
    sink: float,
    speed: float,
    target: float,
    landed: float = 0.0,
    landing: bool = True,
    rope: float = 0.0,
    carried: bool = False,
    chop: float = 0.0,
) -> Ride:
    """Fly one attempt on the track and note its truth. landed: where in the lead the attempt starts [s]."""
    rng = track.rng
    tail, touch = _tail(rng, ended_by)
    if len(pumps) > 1:
        pumps.open_end = ended_by != "fall"
    for _ in range(5):
        r = ride(
            craft, pumps, speed=speed, target=target, lead=lead, tail=tail, sink=sink, rope=rope, carried=carried,
            touch=touch,
        )  # fmt: skip
        if not len(pumps) or r.n[max(len(lead) - 150, 0) : len(lead)].min() < LIGHT:
            break
        lead = lighter(lead)  # or landing and first push would be one
    end = len(r.n)
    if ended_by == "fall" and len(pumps):
        share, period = pumps.share[-1], pumps.period[-1]
        end = min(end, round((r.onsets[-2] + (share + (1 - share) * rng.uniform(0.35, 0.95)) * period) / DT))
    if r.stalled is not None and r.stalled < end:
        end = max(r.stalled, len(lead) + 1)
        if ended_by == "coast_out" and end * DT < r.onsets[-1]:
            ended_by = "touch_down"  # too slow to go on pumping; a coast that ends there is a coast all the same
    start = _onto(track, r, end, chop, pumps)
    _note(truth, track, r, pumps, start, end, started_by, ended_by, landed, landing)
    return r


def _tail(rng: np.random.Generator, ended_by: str) -> tuple[np.ndarray, float]:
    if ended_by == "fall":
        return np.zeros(round(rng.uniform(0.1, 0.5) / DT)), 0.0
    if ended_by == "coast_out":
        seconds = rng.uniform(1.8, 5.5)
        t = np.arange(round(seconds / DT)) * DT
        u = rng.uniform(0.005, 0.03) * wander(rng, len(t), rng.uniform(0.7, 2.0)) * smooth(t / 0.5)
        return u - rng.uniform(0.0, 0.03), 0.0
    seconds = rng.uniform(0.9, 2.2)
    t = np.arange(round(seconds / DT)) * DT
    at = rng.uniform(0.15, 0.5)
    u = rng.uniform(0.2, 1.1) * bump(t, at, rng.uniform(0.08, 0.25)) - rng.uniform(0.05, 0.3) * bump(t, 0, at)
    return u + 0.03 * wander(rng, len(t), 0.15), rng.uniform(80, 260)


def _onto(track: Track, r: Ride, end: int, chop: float, pumps: Pumps) -> float:
    """The ride as a piece: leaning trunk that nods with the pumping, fore-aft acceleration from the speed, chop."""
    from cadence_coach.sim.water import rough

    rng = track.rng
    lean = np.radians(rng.uniform(2, 28))
    p = track.piece(0, pitch=lean, roll=rng.normal(0, 0.08), size=end, blend=rng.uniform(0.6, 1.6))
    p.n[:] = r.n[:end]
    p.height[:] = r.body[:end]
    p.speed[:] = track.speed + (r.speed[:end] - track.speed) * smooth(p.t / 0.6)
    p.fore += np.gradient(r.speed, DT)[:end].clip(-8, 8) / G
    on = (
        smooth((p.t - (r.onsets[0] - 0.3)) / 0.5) * smooth((r.onsets[-1] + 0.3 - p.t) / 0.5)
        if len(pumps)
        else 0.0 * p.t
    )
    nod = np.radians(rng.choice([rng.uniform(0, 8), rng.uniform(5, 25)]))
    late = rng.normal(0, 0.6)
    theta = r.theta[:end]
    p.pitch += on * nod * (np.cos(theta - np.pi * 0.7 + late) + 0.2 * np.cos(2 * theta + late))
    p.roll += on * nod * rng.uniform(0, 0.4) * np.cos(theta / rng.choice([1, 2]) + rng.uniform(-3, 3))
    p.fore += on * rng.uniform(0, 0.3) * np.cos(theta + rng.uniform(-3, 3)) + 0.02 * wander(rng, end, 0.3)
    p.side += on * rng.uniform(0, 0.15) * np.cos(theta + rng.uniform(-3, 3)) + 0.02 * wander(rng, end, 0.3)
    p.turn += 0.12 * wander(rng, end, 2.5)
    p.shake += chop * rough(rng, end, 3, 14, 1.0) if chop else 0.0
    return track.add(p, pose=(lean, 0.0))


def _crossings(n: np.ndarray, a: int, b: int, up: bool) -> np.ndarray:
    """Interpolated indices in a..b where n goes through 1 upward or downward."""
    y = n[a : b + 1] - 1.0
    i = np.flatnonzero((y[:-1] < 0) & (y[1:] >= 0)) if up else np.flatnonzero((y[:-1] >= 0) & (y[1:] < 0))
    return a + i + y[i] / (y[i] - y[i + 1])


def measure(r: Ride, pumps: Pumps, end: int | None = None) -> list[dict[str, Any]]:
    """Onset, peak and push end of each pump from the force itself [s from the start of the ride], peak [g], travel
    [m], size [g].

    The onset is the first upward crossing of 1 g after the low of the glide before: a landing shoulder above 1 g
    belongs to the push. Travel and size of the last pump are taken over its planned period, and are None where the ride
    ends within it."""
    n, out, periods = r.n, [], []
    end = len(n) if end is None else end
    for k in range(len(pumps)):
        planned, period = r.onsets[k], pumps.period[k]
        before = 0.45 * pumps.period[k - 1] if k else min(0.25, 0.5 * planned)
        a = max(round((planned - before) / DT), 0)
        low = a + int(np.argmin(n[a : round((planned + 0.04) / DT) + 1]))
        b = min(round((planned + (pumps.share[k] + 0.12) * period) / DT), end)
        if b <= low or planned >= end * DT:
            break
        top = low + int(np.argmax(n[low:b]))
        ups = _crossings(n, low, top, True)
        downs = _crossings(n, top, min(top + round(period / DT), end - 1), False)
        if not len(ups) or not len(downs):
            break
        out.append({"onset_s": ups[0] * DT, "peak_s": top * DT, "push_end_s": downs[0] * DT, "peak_g": float(n[top])})
        periods.append(period)
    for k, pump in enumerate(out):
        until = out[k + 1]["onset_s"] if k + 1 < len(out) else pump["onset_s"] + periods[k]
        a, b = round(pump["onset_s"] / DT), round(until / DT)
        whole = b < end
        pump["travel_m"] = float(np.ptp(r.body[a : b + 1])) if whole else None
        pump["size_g"] = _once_per_pump(n[a:b]) if whole else None
    return out


def _once_per_pump(n: np.ndarray) -> float:
    """Amplitude [g] of the fundamental of one whole pump."""
    turns = np.arange(len(n)) / len(n)
    return float(2.0 * abs(np.mean((n - 1.0) * np.exp(-2j * np.pi * turns))))


def _note(
    truth: Truth, track: Track, r: Ride, pumps: Pumps, start: float, end: int, started_by: str, ended_by: str,
    landed: float, landing: bool,
) -> None:  # fmt: skip
    found = measure(r, pumps, end)
    for pump in found:
        for key in ("onset_s", "peak_s", "push_end_s"):
            pump[key] += start
    lead_end = round((found[0]["onset_s"] - start) / DT) if found else min(len(r.n), round(r.onsets[0] / DT) or 1)
    began = start + landed
    attempt: dict[str, Any] = {
        "start_s": began, "end_s": start + end * DT, "pumps": len(found), "started_by": started_by,
        "landing_g": float(r.n[round(landed / DT) : max(lead_end, round(landed / DT) + 1)].max()) if landing else None,
        "landing_to_push_s": found[0]["onset_s"] - began if found and landing else None, "ended_by": ended_by,
        "onsets_s": [p["onset_s"] for p in found], "speed_m_s": float(np.mean(r.speed[:end])), "flight": None,
    }  # fmt: skip
    truth.attempts.append(attempt)
    for group, by, how in _groups(found, started_by, ended_by):
        if len(group) < 3:
            continue
        onsets = np.array([p["onset_s"] for p in group])
        period = float(np.median(np.diff(onsets)[-5:]))
        flight_end = onsets[-1] + period
        if attempt["flight"] is None:
            attempt["flight"] = len(truth.flights)
        truth.flights.append({
            "start_s": onsets[0], "end_s": flight_end, "pumps": len(group), "started_by": by, "ended_by": how,
            "coast_s": max(0.0, start + end * DT - flight_end) if how == ended_by and how != "fall" else 0.0,
        })  # fmt: skip
        truth.pumps += group


def _groups(found: list[dict[str, Any]], started_by: str, ended_by: str) -> list[tuple[list[dict[str, Any]], str, str]]:
    """The pumps of one attempt, cut where no onset came for max(1.6 s, 2.5 periods)."""
    if not found:
        return []
    onsets = np.array([p["onset_s"] for p in found])
    gaps = np.diff(onsets)
    period = float(np.median(gaps)) if len(gaps) else 0.6
    cuts = [0, *(np.flatnonzero(gaps > max(1.6, 2.5 * period)) + 1), len(found)]
    return [
        (found[a:b], started_by if a == 0 else "unknown", ended_by if b == len(found) else "coast_out")
        for a, b in pairwise(cuts)
    ]
