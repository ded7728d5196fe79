"""What happens in an outing: starts, flights and what lies between, for each kind of recording."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from cadence_coach.sim import foot, water
from cadence_coach.sim.aloft import Truth, fly
from cadence_coach.sim.craft import Craft
from cadence_coach.sim.ride import split
from cadence_coach.sim.style import draw_pumps, draw_style, glide_lead, half_push, landing_lead, step_lead
from cadence_coach.sim.track import Track
from cadence_coach.sim.waveform import DT, Pumps, h1

ENDS = ("fall", "coast_out", "touch_down")


class Outing:
    """One outing in the making: the track, its truth, the craft, and how hard the day is (`harsh` 0-1, `wild` 0-1)."""

    def __init__(self, rng: np.random.Generator, craft: Craft, *, harsh: float = 0.3, wild: float = 0.7) -> None:
        self.rng, self.craft, self.harsh, self.wild = rng, craft, harsh, wild
        self.track, self.truth = Track(rng), Truth()

    # ---- one attempt, from ashore to in the water ----

    def attempt(
        self, start: str, pumps: Pumps, *, end: str | None = None, gap: float | None = None,
        carried: bool | None = None, wades: bool = False,
    ) -> None:  # fmt: skip
        """start: run_up, dock, rope or step. end: one of ENDS, drawn by default. wades: off the board onto the feet."""
        rng, track, craft = self.rng, self.track, self.craft
        end = end or str(rng.choice(ENDS, p=[0.6, 0.22, 0.18]))
        stall = craft.stall
        target = stall * rng.uniform(1.42, 1.75)
        speed = max(target * rng.uniform(0.9, 1.15), stall * 1.5)
        extra: dict[str, Any] = {}
        if start in ("run_up", "dock"):
            sink = self._jump(start, speed)
            lead = landing_lead(rng, sink, gap if gap is not None else rng.uniform(0.22, 1.1), half_push(pumps))
            by = "run_up" if start == "run_up" else "step"
        elif start == "rope":
            water.towed(track, rng.uniform(2.5, 7), speed)
            lead, sink, by = glide_lead(rng, rng.uniform(1.2, 8.0), half_push(pumps)), 0.0, "rope"
            extra = {"landing": False, "rope": len(lead) * DT - rng.uniform(0.0, 1.0)}
        else:
            if rng.random() < 0.6:
                foot.run(track, int(rng.integers(2, 7)), rng.uniform(1.9, 2.9), rng.uniform(1.5, 4.0))
            lead, landed = step_lead(rng, half_push(pumps))
            sink, by = 0.0, "step"
            extra = {"landing": False, "landed": landed}
        if carried is None:
            carried = len(pumps) > 8 and self._too_weak(pumps, target)
        fly(
            track, self.truth, craft, pumps, started_by=by, ended_by=end, lead=lead,
            sink=sink, speed=speed, target=target,
            carried=carried, chop=self.harsh * rng.uniform(0, 0.06), **extra,
        )  # fmt: skip
        if wades:
            return
        if end == "fall" or (end == "coast_out" and rng.random() < 0.5):
            water.fall(track)
        else:
            water.fall(track, drop=rng.uniform(0.1, 0.2), tumble=rng.uniform(0, 0.8))

    def _jump(self, start: str, speed: float) -> float:
        rng, track = self.rng, self.track
        if start == "dock" and rng.random() < 0.6:
            if rng.random() < 0.5:
                foot.run(track, int(rng.integers(1, 3)), rng.uniform(1.8, 2.4), 1.5)
            return foot.leap(track, rng.uniform(0.22, 0.5), rng.uniform(0.2, 0.9), speed, deep=rng.uniform(0.3, 0.6))
        foot.run(track, int(rng.integers(3, 13)), rng.uniform(2.4, 3.2), min(speed, 5.0))
        return foot.leap(track, rng.uniform(0.15, 0.42), rng.uniform(0.0, 0.5), speed)

    def _too_weak(self, pumps: Pumps, target: float) -> bool:
        """Whether these pumps cannot carry the craft at the target speed: then a swell has to."""
        period, size = (
            float(np.median(pumps.period)),
            float(np.median(pumps.amplitude)) * h1(float(np.median(pumps.share))),
        )
        power = target * float(self.craft.drag(target)) * 1.12
        return split(self.craft, size, 1 / period, power)[2]

    def pumps(self, count: int, **fixed: float) -> Pumps:
        style = draw_style(self.rng, wild=self.wild)
        for key, value in fixed.items():
            setattr(style, key, value)
        return draw_pumps(self.rng, style, count)

    # ---- between ----

    def ashore(self, seconds: float = 8.0, *, bounces: float = 0.15) -> None:
        """Waiting, walking, now and then a hop or a knee bend."""
        rng, track = self.rng, self.track
        foot.stand(track, rng.uniform(0.3, 1.0) * seconds * 0.6)
        if rng.random() < 0.75:
            foot.walk(track, rng.uniform(0.4, 1.0) * seconds)
        if rng.random() < bounces:
            foot.hop(track, int(rng.integers(2, 7)))
        if rng.random() < bounces:
            foot.knee_bends(track, int(rng.integers(1, 5)))
        foot.stand(track, rng.uniform(0.6, 3.0), fidget=0.3)

    def back(self, *, far: float = 10.0, to: str = "shore") -> None:
        """From the water back to where the next start is."""
        rng, track = self.rng, self.track
        water.float_about(track, rng.uniform(1.5, 6))
        if rng.random() < 0.6:
            water.swim(track, rng.uniform(0.4, 1.0) * far, on_board=bool(rng.random() < 0.5))
        if rng.random() < 0.3:
            water.rest_afloat(track, rng.uniform(2, 10))
        if to == "shore":
            water.climb(track)

    def _between(self, start: str, last: bool) -> None:
        self.back(to="water" if start == "rope" and not last else "shore")
        if start == "rope" and self.rng.random() < 0.35:
            water.aboard(self.track, self.rng.uniform(6, 25))
        if start != "rope":
            self.ashore(6.0)


def _starts(out: Outing, plan: list[tuple[str, int]], **fixed: float) -> None:
    for i, (start, count) in enumerate(plan):
        out.attempt(start, out.pumps(count, **fixed))
        out._between(start, i == len(plan) - 1)


def _any_start(rng: np.random.Generator) -> str:
    return str(rng.choice(["run_up", "dock", "rope", "step"], p=[0.4, 0.15, 0.25, 0.2]))


def _calm(out: Outing) -> None:
    rng = out.rng
    out.ashore(8)
    _starts(out, [(_any_start(rng), int(rng.integers(6, 60))) for _ in range(rng.integers(1, 4))])


def _rough(out: Outing) -> None:
    rng = out.rng
    out.ashore(10, bounces=0.3)
    _starts(
        out, [(_any_start(rng), int(rng.choice([0, 1, 2, 4, 7, 15, 30, 60, 110]))) for _ in range(rng.integers(3, 6))]
    )


def _short(out: Outing) -> None:
    rng = out.rng
    out.ashore(8)
    _starts(out, [(_any_start(rng), int(rng.choice([0, 1, 2, 3, 4, 5, 6, 7, 8]))) for _ in range(rng.integers(4, 9))])


def _long(out: Outing) -> None:
    rng = out.rng
    out.ashore(8)
    _starts(out, [(_any_start(rng), int(rng.integers(110, 401)))])


def _only(start: str) -> Callable[[Outing], None]:
    def story(out: Outing) -> None:
        rng = out.rng
        out.ashore(8)
        _starts(out, [(start, int(rng.choice([1, 2, 4, 6, 10, 20, 40, 80]))) for _ in range(rng.integers(2, 5))])

    return story


def _swell(out: Outing) -> None:
    """Runs down swells: short bursts of pumping, long coasts without, pumping again."""
    rng = out.rng
    out.ashore(8)
    for i in range(n := int(rng.integers(1, 3))):
        bursts = [int(rng.integers(3, 14)) for _ in range(rng.integers(1, 5))]
        pumps = out.pumps(sum(bursts), rest_chance=0.0)
        for at in np.cumsum(bursts)[:-1]:
            pumps.rest[at - 1] = rng.uniform(2.6, 7.0)
            pumps.period[at] *= rng.uniform(0.95, 1.2)
        start = str(rng.choice(["rope", "run_up", "step"]))
        out.attempt(start, pumps, carried=True, end=str(rng.choice(["coast_out", "fall", "touch_down"])))
        out._between(start, i == n - 1)


def _beach(out: Outing) -> None:
    """Off a beach and back to it through chop: from a walk straight into the start, level glides of up to a period
    more, and off the board onto the feet, walking on at once."""
    rng, track, truth = out.rng, out.track, out.truth
    truth.steps += foot.walk(track, rng.uniform(5, 15))
    for _ in range(rng.integers(2, 5)):
        pumps = out.pumps(int(rng.integers(4, 50)), rest_chance=rng.uniform(0.03, 0.12))
        resting = pumps.rest > 0
        longest = np.minimum(1.2 * pumps.period, 1.5 - pumps.period)
        pumps.rest[resting] = (longest * rng.uniform(0.4, 1.0, len(pumps)))[resting].clip(0.1)
        out.attempt(str(rng.choice(["run_up", "step"])), pumps, end="touch_down", wades=True)
        truth.steps += foot.walk(track, rng.uniform(8, 30))


def _landwalk(out: Outing) -> None:
    """No flight at all: everything a body does ashore and in shallow water."""
    rng, track, truth = out.rng, out.track, out.truth
    foot.stand(track, rng.uniform(2, 6))
    for _ in range(rng.integers(6, 12)):
        what = rng.choice(["walk", "walk", "stand", "hop", "bends", "run", "swim", "leap", "climb", "float", "boat"])
        if what == "walk":
            truth.steps += foot.walk(track, rng.uniform(6, 25))
        elif what == "stand":
            foot.stand(track, rng.uniform(2, 10))
        elif what == "hop":
            foot.hop(track, int(rng.integers(2, 9)))
        elif what == "bends":
            foot.knee_bends(track, int(rng.integers(2, 7)))
        elif what == "run":
            foot.run(track, int(rng.integers(6, 40)), rng.uniform(2.3, 3.1), rng.uniform(2, 5))
        elif what == "leap":  # off the dock straight into the water: no board
            foot.leap(track, rng.uniform(0.25, 0.5), rng.uniform(0.3, 0.9), 1.0, deep=0.4)
            water.fall(track, drop=0.05)
            out.back(far=6)
        elif what == "swim":
            water.swim(track, rng.uniform(5, 20), on_board=bool(rng.random() < 0.5))
        elif what == "boat":
            water.aboard(track, rng.uniform(8, 30))
        elif what == "float":
            water.float_about(track, rng.uniform(3, 10))
        else:
            water.climb(track)
        if rng.random() < 0.5:
            foot.stand(track, rng.uniform(0.5, 3), fidget=0.5)


def _mixed(out: Outing) -> None:
    rng = out.rng
    out.ashore(12, bounces=0.3)
    for i in range(n := int(rng.integers(3, 6))):
        if rng.random() < 0.25:
            out.back(far=8)
            out.ashore(10, bounces=0.4)
        start = _any_start(rng)
        out.attempt(start, out.pumps(int(rng.choice([0, 1, 2, 3, 5, 8, 13, 25, 50, 90]))))
        out._between(start, i == n - 1)


KINDS: dict[str, tuple[Callable[[Outing], None], float, float]] = {
    "calm": (_calm, 0.1, 0.4), "rough": (_rough, 1.0, 1.0), "short": (_short, 0.4, 0.8), "long": (_long, 0.4, 0.7),
    "tow": (_only("rope"), 0.5, 0.8), "step": (_only("step"), 0.4, 0.8), "dock": (_only("dock"), 0.4, 0.8),
    "swell": (_swell, 0.5, 0.8), "landwalk": (_landwalk, 0.5, 0.8), "mixed": (_mixed, 0.7, 1.0),
    "beach": (_beach, 0.6, 0.7),
}  # fmt: skip
"""Kind: (story, how harsh the sensor and the water are 0-1, how far from the middle the rider's style may lie 0-1)."""

__all__ = ["ENDS", "KINDS", "Outing"]
