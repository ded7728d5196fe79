"""Synthetic riders at the level of events: what the detector would say about someone pumping, with its delays and
its measuring spread.

Made for tests of beat and coach. Seeds 0 to 99 are for tests; the rules were tuned on seeds from 1000.
"""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any

from cadence_coach.core.coach import Coach
from cadence_coach.core.cuebook import CORRECTIONS, CUE_KINDS
from cadence_coach.core.events import (
    AttemptEnded,
    AttemptStarted,
    Calm,
    Cue,
    CycleDone,
    Event,
    FlightEnded,
    FlightStarted,
    Onset,
    PushEnd,
    SpeedFix,
    Stirred,
)
from cadence_coach.core.settings import Settings
from cadence_coach.core.targets import Band, BandTable

LO, TARGET, HI = 1.22, 1.40, 1.62
MEASURING = 0.003
"""SD of a measured onset [s]."""
LATENCY = 0.055
"""From an onset to its being known [s]."""


def table(
    lo: float = LO, target: float = TARGET, hi: float = HI, needed: float = 0.6, q: float | None = None
) -> BandTable:
    """Feasible from 3.3 m/s up; the same at every speed."""
    none = Band(3.0, None, None, None, None, None, None, None, None, None, None, "stall")
    rows = [Band(v, lo, target, hi, 1.0, 2.2, 0.36, 0.5, 0.62, needed, 0.2) for v in (3.3, 7.0)]
    return BandTable((none, *rows), 4.5, q)


def periods(n: int, cadence: Callable[[int], float], cv: float, rng: random.Random, motor: float = 0.0) -> list[float]:
    """True periods [s]. `motor`: share of their variance that is motor noise about a timekeeper (0: independent
    periods)."""
    mean = 1.0 / cadence(0)
    own, late = cv * mean * math.sqrt(1.0 - motor), cv * mean * math.sqrt(0.5 * motor)
    shifts = [rng.gauss(0.0, late) if late else 0.0 for _ in range(n + 1)]
    return [1.0 / cadence(k) + rng.gauss(0.0, own) + shifts[k + 1] - shifts[k] for k in range(n)]


@dataclass
class Flight:
    """One flight of a rider; functions take the number of the pump in it."""

    pumps: int
    cadence: Callable[[int], float] = lambda k: TARGET
    cv: float = 0.04
    motor: float = 0.0
    size: Callable[[int], float] = lambda k: 0.62
    share: Callable[[int], float] = lambda k: 0.48
    shove: Callable[[int], float] = lambda k: 0.24
    depth: Callable[[int], float] = lambda k: 0.9
    """Glide as a share of the push."""
    travel: Callable[[float], float] = lambda t: 0.2
    speed: Callable[[float], float] | None = None
    """Of time in the flight; None: no satellite."""
    started_by: str = "run_up"
    ended_by: str = "fall"
    landing_to_push: float | None = 0.4
    coast: float = 0.0
    missed: tuple[int, ...] = ()
    """Pumps whose onset the detector does not see."""
    place: Callable[[float], tuple[float, float]] | None = None


@dataclass
class Outing:
    """Events of an outing as it grows; `onsets` are the true ones."""

    seed: int = 0
    t: float = 5.0
    events: list[Event] = field(default_factory=list)
    onsets: list[float] = field(default_factory=list)
    lengths: list[float] = field(default_factory=list)
    """True periods [s]."""
    starts: list[float] = field(default_factory=list)
    ends: list[float] = field(default_factory=list)
    number: int = 0
    flights: int = 0
    attempts: int = 0

    def __post_init__(self) -> None:
        self.rng = random.Random(self.seed)

    def wait(self, seconds: float, *, calm: bool = True) -> Outing:
        """In the water; calm 3 s after it began."""
        if calm and seconds > 3.0:
            self.events.append(Calm(self.t, self.t + 3.0))
        self.t += seconds
        return self

    def fly(self, f: Flight) -> Outing:
        rng = self.rng
        self.events.append(Stirred(self.t, self.t))
        self.events.append(AttemptStarted(self.t, self.t + 0.2, self.attempts, f.started_by, 3.0))
        began = self.t
        start = self.t + (f.landing_to_push or 0.5)
        lengths = periods(f.pumps, f.cadence, f.cv, rng, f.motor)
        true = [start]
        for length in lengths:
            true.append(true[-1] + length)
        seen = [t + rng.gauss(0.0, MEASURING) for t in true]
        kept = [k for k in range(f.pumps) if k not in f.missed]  # the last entry is the end of the last period
        made: list[Event] = []
        first = self.number
        done = []
        for i, k in enumerate(kept):
            number = self.number + i
            on = seen[k]
            made.append(Onset(on, on + LATENCY, number))
            nxt = seen[kept[i + 1]] if i + 1 < len(kept) else seen[-1]
            end = on + f.share(k) * lengths[k] + rng.gauss(0.0, MEASURING)
            made.append(PushEnd(end, end + LATENCY, number))
            size = f.size(k) * (1.0 + rng.gauss(0.0, 0.04))
            peak = end - f.shove(k) * lengths[k] + rng.gauss(0.0, 0.008)
            last = i + 1 == len(kept)
            done.append(
                CycleDone(
                    nxt,
                    nxt + (1.0 if last else LATENCY),
                    number,
                    on,
                    peak,
                    end,
                    0.5 * (end + nxt),
                    1.0 + 1.2 * size,
                    1.0 - 1.2 * size * f.depth(k),
                    size,
                    f.travel(on - start),
                    not last,
                )
            )
        made += done
        claimed = made[0].known if len(kept) < 3 else seen[kept[2]] + LATENCY
        flew = len(kept) >= 3
        if flew:
            made.append(FlightStarted(seen[0], claimed, self.flights, self.attempts, first, f.started_by))
        if f.speed is not None:
            t = began
            while t < true[-1]:
                lat, lon = f.place(t - began) if f.place is not None else (None, None)
                made.append(SpeedFix(t, t + 0.9, f.speed(t - began), lat, lon, 0.4, None))
                t += 1.0
        end = seen[-1]
        known = seen[kept[-1]] + max(1.6, 2.5 * lengths[-1])
        if flew:
            ps = [b - a for a, b in itertools.pairwise(seen)]
            mean = sum(ps) / len(ps)
            spread = math.sqrt(sum((p - mean) ** 2 for p in ps) / max(1, len(ps) - 1))
            sizes = sorted(d.size_g for d in done)
            made.append(
                FlightEnded(
                    end,
                    known,
                    self.flights,
                    seen[0],
                    first + len(kept) - 1,
                    len(kept),
                    1.0 / sorted(ps)[len(ps) // 2],
                    f.share(0),
                    sizes[len(sizes) // 2],
                    spread / mean,
                    f.started_by,
                    f.ended_by,
                    f.coast,
                )
            )
        over = end + f.coast
        made.append(
            AttemptEnded(
                over,
                max(known, over + 0.3),
                self.attempts,
                began,
                len(kept),
                f.started_by,
                3.0,
                f.landing_to_push,
                f.ended_by,
                self.flights if flew else None,
            )
        )
        made.sort(key=lambda e: e.known)  # stable: an onset before what follows from it
        self.events += made
        self.onsets += true[:-1]
        self.lengths += lengths
        self.starts.append(start)
        self.ends.append(over)
        self.number += len(kept)
        self.flights += flew
        self.attempts += 1
        self.t = max(known, over + 0.3) + 0.1
        return self


def run(events: Iterable[Event], settings: Settings | None = None, band: BandTable | None = None) -> list[Event]:
    """What the coach says to these events, to their end and two minutes on."""
    coach = Coach(settings or Settings(), band)
    out: list[Event] = []
    now = 0.0
    for event in events:
        now = max(now, event.known)
        coach.receive(event)
        out += coach.events()
    coach.advance(now + 120.0)
    coach.end()
    return out + coach.events()


def cues(out: list[Event], kinds: Any = CUE_KINDS) -> list[Cue]:
    return [e for e in out if isinstance(e, Cue) and e.kind in kinds]


def corrections(out: list[Event]) -> list[Cue]:
    return cues(out, CORRECTIONS)


def fly(
    seed: int, pumps: int, *, band: BandTable | None = None, chosen: Settings | None = None, **how: Any
) -> tuple[Outing, list[Event]]:
    outing = Outing(seed).fly(Flight(pumps, **how)).wait(30)
    return outing, run(outing.events, chosen, band or table())


def step(to: float, at: int = 40, before: float = TARGET) -> Callable[[int], float]:
    return lambda k: before if k < at else to
