"""Outings made by hand for the tests: the half-sine pump with a known share and size, and events that fit it
exactly."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from cadence_coach.core import events as ev
from cadence_coach.core.targets import Band, BandTable
from cadence_coach.core.units import G
from cadence_coach.store.outing import Note, Outing

RATE_HZ = 100.0


@dataclass
class Fly:
    """One try: `periods` [s] of its pumps; the rest is how it looks. Under three pumps it is a try and no flight."""

    start: float
    periods: Sequence[float]
    share: float | Sequence[float] = 0.45
    height: float | Sequence[float] = 0.8
    started_by: str = "run_up"
    ended_by: str = "fall"
    landing_to_push: float | None = 0.5
    coast: float = 0.0
    speed: float | None = None
    speed_end: float | None = None


@dataclass
class Plan:
    tries: list[Fly] = field(default_factory=list)
    length: float | None = None
    gaps: Sequence[tuple[float, float]] = ()
    cues: Sequence[tuple[float, str]] = ()
    clicks: Sequence[float] = ()
    notes: Sequence[tuple[str, float | None, str]] = ()
    tags: dict[str, str] = field(default_factory=dict)
    profile: dict | None = None
    settings: dict = field(default_factory=dict)
    uuid: str = "00000000-0000-4000-8000-000000000001"
    start_utc: str | None = "2026-06-13T09:00:00Z"
    place: tuple[float, float] | None = None


def steady(cadence_per_min: float, pumps: int, cv: float = 0.03, seed: int = 1, drift: float = 0.0) -> list[float]:
    """Periods around a cadence that changes by the share `drift` from first to last."""
    rng = np.random.default_rng(seed)
    cadence = cadence_per_min / 60.0 * (1.0 + drift * np.linspace(0.0, 1.0, pumps))
    return [float(p) for p in 1.0 / cadence * (1.0 + cv * rng.standard_normal(pumps).clip(-2.5, 2.5))]


def fundamental(share: float, height: float) -> float:
    """Once-per-pump amplitude of the half-sine pump: (4/pi) d cos(pi d) [1/(1-4d^2) + 1/(4(1-d)^2-1)] per unit
    height."""
    if abs(share - 0.5) < 1e-9:
        return height
    d = share
    return (
        height
        * 4.0
        / math.pi
        * d
        * math.cos(math.pi * d)
        * (1.0 / (1.0 - 4.0 * d * d) + 1.0 / (4.0 * (1.0 - d) ** 2 - 1.0))
    )


def pump_g(phase: np.ndarray, share: float, height: float) -> np.ndarray:
    """Vertical specific force [g]: half-sine of `height` over the share, half-sine below 1 g after it; its mean is
    1."""
    push = 1.0 + height * np.sin(np.pi * phase / share)
    glide = 1.0 - height * share / (1.0 - share) * np.sin(np.pi * (phase - share) / (1.0 - share))
    return np.where(phase < share, push, glide)


def make(plan: Plan) -> Outing:
    """The outing of a plan: accelerometer with gravity along a slanted axis, exact events."""
    last = max([f.start + sum(f.periods) + f.coast + 12.0 for f in plan.tries], default=30.0)
    t = np.arange(0.0, plan.length or last, 1.0 / RATE_HZ)
    g = np.ones_like(t)
    cycles: list[ev.CycleDone] = []
    attempts, starts, flights, fixes = [], [], [], []
    for n, fly in enumerate(plan.tries):
        onset = fly.start
        first = len(cycles)
        count = len(fly.periods)
        shares = np.broadcast_to(np.asarray(fly.share, float), (count,))
        heights = np.broadcast_to(np.asarray(fly.height, float), (count,))
        for period, share, height in zip(fly.periods, shares, heights, strict=True):
            inside = slice(*np.searchsorted(t, [onset, onset + period]))
            g[inside] = pump_g((t[inside] - onset) / period, share, height)
            push_end = onset + share * period
            size = fundamental(float(share), float(height))
            cycles.append(
                ev.CycleDone(
                    time=onset + period,
                    known=onset + period + 0.05,
                    number=len(cycles),
                    onset=onset,
                    peak=onset + share * period / 2.0,
                    push_end=push_end,
                    low=push_end + (1.0 - share) * period / 2.0,
                    peak_g=1.0 + float(height),
                    lowest_g=1.0 - float(height) * share / (1.0 - share),
                    size_g=size,
                    travel_m=2.0 * size * 9.81 * period**2 / (4.0 * math.pi**2),
                )
            )
            onset += period
        flown = count >= 3
        begun = fly.start - (fly.landing_to_push or 0.0)
        number = len(flights) if flown else None
        if flown:
            periods = np.array(fly.periods)
            starts.append(ev.FlightStarted(fly.start, fly.start + 2.0, len(flights), n, first, fly.started_by))
            flights.append(
                ev.FlightEnded(
                    time=onset,
                    known=onset + 2.0,
                    flight=len(flights),
                    start=fly.start,
                    last_cycle=len(cycles) - 1,
                    pumps=count,
                    cadence=1.0 / float(np.median(periods[:-1])),
                    push_share=float(np.median(shares)),
                    size_g=float(np.median([c.size_g for c in cycles[first:]])),
                    steadiness=float(np.std(periods[:-1], ddof=1) / periods[:-1].mean()),
                    started_by=fly.started_by,
                    ended_by=fly.ended_by,
                    coast_s=fly.coast,
                )
            )
        attempts.append(
            ev.AttemptEnded(
                time=onset + fly.coast,
                known=onset + fly.coast + 2.0,
                attempt=n,
                start=begun,
                pumps=count,
                started_by=fly.started_by,
                landing_g=2.2,
                landing_to_push_s=fly.landing_to_push if count else None,
                ended_by=fly.ended_by,
                flight=number,
            )
        )
        if fly.speed is not None:
            span = onset + fly.coast - fly.start
            for at in np.arange(math.ceil(fly.start), onset + fly.coast, 1.0):
                speed = fly.speed + ((fly.speed_end or fly.speed) - fly.speed) * (at - fly.start) / span
                lat, lon = plan.place or (math.nan, math.nan)
                fixes.append((at + 0.6, at, speed, lat, lon + 1e-5 * (at - fly.start), 3.0, 90.0, 1.0))
    axis = np.array([0.36, 0.48, 0.8])
    accel = np.column_stack([t, (g * G)[:, None] * axis])
    for start, end in plan.gaps:
        accel = accel[(accel[:, 0] <= start) | (accel[:, 0] >= end)]
    return Outing(
        uuid=plan.uuid,
        start_utc=plan.start_utc,
        meta={"versions": {"app": "test", "detector": "1", "coach": "1", "model": "1"}},
        profile=plan.profile,
        settings=plan.settings,
        accel=accel,
        gyro=None,
        fixes=np.array(fixes, float).reshape(-1, 8),
        cycles=cycles,
        attempts=attempts,
        flights=flights,
        flight_starts=starts,
        cues=[ev.Cue(at, at, kind, "made for a test") for at, kind in plan.cues],
        held=[],
        clicks=[ev.Click(at, at - 0.2, "click", 0.6, "rider") for at in plan.clicks],
        summaries=[],
        gaps=[ev.Gap(start, end, end) for start, end in plan.gaps],
        faults=[],
        notes=[Note(f"n{i}", who, "2026-06-13T12:00:00Z", at, text) for i, (who, at, text) in enumerate(plan.notes)],
        tags=dict(plan.tags),
    )


def table(lo: float = 1.2, target: float = 1.4, hi: float = 1.9, needed: float = 0.6) -> BandTable:
    """One band at every speed."""
    band = Band(4.5, lo, target, hi, 1.1, 2.8, 0.34, 0.5, 0.62, needed, 0.2)
    return BandTable((band,), cruise_speed=4.5)
