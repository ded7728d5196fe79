"""Accuracy by condition on simulated riders of seeds that nothing was tuned on, ours beside the alternatives."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field

import numpy as np
from mir_eval.util import match_events

from cadence_coach.core.engine import Engine
from cadence_coach.sim import SimulatedOuting, simulate_outing
from cadence_coach.sources.simulated import rows_of
from cadence_coach.store.replay_json import Replayed

from .alternatives import Found, crossing, peaks
from .tables import table

FIRST_SEED = 734_000
OUTINGS = {
    "calm": 4, "rough": 4, "short": 4, "long": 1, "tow": 4, "step": 4, "dock": 4, "swell": 4, "landwalk": 4, "mixed": 2,
}  # fmt: skip
RATES = (50.0, 100.0, 200.0, 100.0)


def ours(o: SimulatedOuting, speed: bool = True) -> Found:
    engine, found = Engine(), Replayed(float(o.accel[0, 0]))
    for part in rows_of(o.accel, o.gyro, o.fixes if speed else None):
        engine.receive(part)
        found.take(engine.events())
    engine.end()
    found.take(engine.events())
    document = found.document()
    pumps = [c for c in document["cycles"] if c["flight"] is not None]

    def column(name: str) -> np.ndarray:
        return np.array([np.nan if p[name] is None else p[name] for p in pumps])

    flights = [(f["start_s"], f["end_s"]) for f in document["flights"]]
    times = (column("onset_s"), column("push_end_s"), column("known_s"))
    return Found(*times, column("travel_m"), column("size_g"), flights)


WAYS: dict[str, Callable[[SimulatedOuting], Found]] = {
    "ours": ours,
    "ours, no speed": lambda o: ours(o, speed=False),
    "find_peaks, whole recording": peaks,
    "sosfilt crossing, causal": crossing,
}


@dataclass
class Score:
    """Sums and errors [s] over outings."""

    true: int = 0
    found: int = 0
    hit50: int = 0
    hit25: int = 0
    onset: list[float] = field(default_factory=list)
    end: list[float] = field(default_factory=list)
    late: list[float] = field(default_factory=list)
    travel: list[float] = field(default_factory=list)
    size: list[float] = field(default_factory=list)
    flights: int = 0
    right: int = 0
    told: int = 0

    def add(self, o: SimulatedOuting, got: Found) -> None:
        truth = o.truth["pumps"]
        t = np.array([p["onset_s"] for p in truth])
        self.true += len(t)
        self.found += len(got.onset)
        if len(t) and len(got.onset):
            pairs = match_events(t, got.onset, 0.05)
            self.hit50 += len(pairs)
            self.hit25 += len(match_events(t, got.onset, 0.025))
            for i, j in pairs:
                self.onset.append(abs(got.onset[j] - t[i]))
                self.end.append(abs(got.push_end[j] - truth[i]["push_end_s"]))
                self.late.append(got.known[j] - t[i])
                if truth[i]["travel_m"]:
                    self.travel.append(abs(got.travel[j] / truth[i]["travel_m"] - 1.0))
                if truth[i].get("size_g"):
                    self.size.append(abs(got.size[j] / truth[i]["size_g"] - 1.0))
        self.flights += len(o.truth["flights"])
        self.told += len(got.flights)
        left = list(got.flights)
        for f in o.truth["flights"]:
            hit = next((g for g in left if abs(g[0] - f["start_s"]) < 1.0 and abs(g[1] - f["end_s"]) < 1.5), None)
            if hit:
                left.remove(hit)
                self.right += 1

    @property
    def f50(self) -> float:
        return 2 * self.hit50 / (self.true + self.found) if self.true + self.found else 1.0

    @property
    def f25(self) -> float:
        return 2 * self.hit25 / (self.true + self.found) if self.true + self.found else 1.0

    def cells(self) -> list[str]:
        def at(values: list[float], q: float, scale: float = 1e3) -> str:
            v = np.array(values)
            v = v[np.isfinite(v)]
            return f"{scale * np.percentile(v, q):.1f}" if len(v) else "-"

        return [
            f"{self.f50:.4f}", f"{self.f25:.4f}", f"{at(self.onset, 50)} / {at(self.onset, 95)}",
            f"{at(self.end, 50)} / {at(self.end, 95)}", at(self.late, 95), at(self.travel, 50, 100.0),
            at(self.size, 50, 100.0),
            f"{self.right} of {self.flights}, {self.told - self.right} wrong",
        ]  # fmt: skip


HEAD = ["F1 50 ms", "F1 25 ms", "onset ms", "push end ms", "known p95 ms", "travel %", "size %", "flights"]


def unseen() -> Iterator[tuple[str, SimulatedOuting]]:
    """The outings that are scored, each with its condition."""
    for kind, count in OUTINGS.items():
        for i in range(count):
            yield kind, simulate_outing(FIRST_SEED + i, kind, RATES[i % len(RATES)])


def measure(outings: Iterable[tuple[str, SimulatedOuting]], told: Callable[[str], None]) -> dict[str, dict[str, Score]]:
    """way -> condition -> Score; the condition "all" is the whole. told: hears each new condition."""
    scores: dict[str, dict[str, Score]] = {way: {"all": Score()} for way in WAYS}
    for kind, o in outings:
        if kind not in scores["ours"]:
            told(kind)
        for way, find in WAYS.items():
            got = find(o)
            for name in (kind, "all"):
                scores[way].setdefault(name, Score()).add(o, got)
    return scores


def rows(scores: dict[str, dict[str, Score]]) -> list[list[str]]:
    """Under HEAD: each way over the whole, then ours by condition."""
    whole = [[f"**{way}**", *by["all"].cells()] for way, by in scores.items()]
    return whole + [[kind, *s.cells()] for kind, s in scores["ours"].items() if kind != "all"]


def short_of(s: Score) -> list[str]:
    """Which goals the whole falls short of."""

    def at(values: list[float], q: float) -> float:
        v = np.array(values)
        return float(np.percentile(v[np.isfinite(v)], q))

    found = {
        f"F1 at 50 ms {s.f50:.4f}, goal 0.995": s.f50 >= 0.995,
        f"F1 at 25 ms {s.f25:.4f}, goal 0.99": s.f25 >= 0.99,
        f"onset median {1e3 * at(s.onset, 50):.1f} ms, goal 3.5": at(s.onset, 50) <= 0.0035,
        f"onset p95 {1e3 * at(s.onset, 95):.1f} ms, goal 11": at(s.onset, 95) <= 0.011,
        f"push end median {1e3 * at(s.end, 50):.1f} ms, goal 3.5": at(s.end, 50) <= 0.0035,
        f"push end p95 {1e3 * at(s.end, 95):.1f} ms, goal 11": at(s.end, 95) <= 0.011,
        f"known p95 {1e3 * at(s.late, 95):.0f} ms, goal 60": at(s.late, 95) <= 0.060,
        f"flights {s.right} of {s.flights}, {s.told - s.right} wrong; goal all, none": s.right == s.flights == s.told,
    }
    if s.travel:  # drawn outings have none
        found[f"travel {100 * at(s.travel, 50):.1f} %, goal 8"] = at(s.travel, 50) <= 0.08
    if s.size:
        found[f"size {100 * at(s.size, 50):.1f} %, goal 4"] = at(s.size, 50) <= 0.04
    return [text for text, met in found.items() if not met]


def report() -> tuple[str, list[str]]:
    scores = measure(unseen(), lambda kind: print(f"... {kind}", file=sys.stderr))
    text = f"Simulated riders, seeds from {FIRST_SEED}, 50/100/200 Hz; errors median / p95\n\n"
    return text + table(["", *HEAD], rows(scores)), short_of(scores["ours"]["all"])
