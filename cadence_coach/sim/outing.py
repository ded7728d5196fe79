"""One simulated outing: motion, sensor, satellite and truth, from one seed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from cadence_coach.sim.craft import random_craft
from cadence_coach.sim.demo import demo_sensor, demo_story
from cadence_coach.sim.gear import profile_text
from cadence_coach.sim.satellite import fixes
from cadence_coach.sim.sensor import Sensor, draw_sensor, sample
from cadence_coach.sim.story import KINDS, Outing

RINGS = (("peak_s",), ("push_end_s",), ("peak_s", "push_end_s"), ("onset_s", "push_end_s"))
"""At what moments of a pump a pouch is set ringing, one of these for an outing."""


@dataclass(frozen=True)
class SimulatedOuting:
    """accel [n, 4] (t_s, m/s2), gyro [n, 4] (t_s, rad/s) or None, fixes [m, 6] or None as `store.recordings` writes
    them, truth as in truth.json, meta as in meta.json, profile as in a profile's file, where one is known."""

    accel: np.ndarray
    gyro: np.ndarray | None
    fixes: np.ndarray | None
    truth: dict[str, Any]
    meta: dict[str, Any]
    profile: str | None = None


def simulate_outing(
    seed: int,
    kind: str = "mixed",
    rate_hz: float | None = None,
    *,
    harsh: float | None = None,
    sensor: Sensor | None = None,
) -> SimulatedOuting:
    """An outing of a kind in KINDS. rate_hz: 50, 100, 200 or 400, drawn when None. harsh: 0-1 instead of the kind's
    own. sensor: a sensor of your own instead of one drawn. The same arguments give the same outing, to the last
    bit."""
    if kind == "demo":
        return demo_outing(seed, rate_hz)
    if kind not in KINDS:
        raise ValueError(f"kind {kind!r}: there is {', '.join(KINDS)}")
    story, usual, wild = KINDS[kind]
    motion, senses, sky = (np.random.default_rng([seed, i]) for i in range(3))
    harsh = usual if harsh is None else harsh
    out = Outing(motion, random_craft(motion), harsh=harsh, wild=wild)
    story(out)
    chosen = sensor or draw_sensor(senses, harsh, rate_hz)
    return finish(out, kind, seed, chosen, senses, sky, no_speed=bool(sky.random() < 0.2 + 0.2 * harsh))


def demo_outing(seed: int = 1, rate_hz: float | None = None) -> SimulatedOuting:
    """About ten minutes with a story: walking down, three tries that fail, short flights, one long one. The rider is
    the invented one of `foil.profile.demo_profile`."""
    motion, senses, sky = (np.random.default_rng([seed, i]) for i in range(3))
    sensor = demo_sensor() if rate_hz is None else replace(demo_sensor(), rate=rate_hz)
    return finish(demo_story(motion), "demo", seed, sensor, senses, sky, no_speed=False)


def finish(
    out: Outing, kind: str, seed: int, sensor: Sensor, senses: np.random.Generator, sky: np.random.Generator, *,
    no_speed: bool,
) -> SimulatedOuting:  # fmt: skip
    """Sample a finished story."""
    when = RINGS[int(senses.integers(len(RINGS)))]
    blows = out.track.blows + [(p[k], 0.8) for p in out.truth.pumps for k in when]
    ends = [a["end_s"] for a in out.truth.attempts]
    accel, gyro, figures = sample(out.track, sensor, senses, sorted(blows), ends)
    t0, t1 = float(accel[0, 0]), float(accel[-1, 0])
    truth = {
        "format": "cadence-coach-truth/1", "kind": kind, "pumps": _rounded(out.truth.pumps),
        "flights": _rounded(out.truth.flights), "attempts": _rounded(out.truth.attempts),
        "from_s": round(t0, 6), "to_s": round(t1, 6),
    }  # fmt: skip
    if kind == "landwalk" or out.truth.steps:
        truth |= {"steps_s": [round(s, 6) for s in out.truth.steps], "tolerance_s": 0.1}
    setup = out.craft.setup
    meta = {
        "format": "cadence-coach-recording/1", "start_utc": "2026-06-01T08:00:00Z", "worn_at": "simulated pouch",
        "device": f"simulated, invented rider, kind {kind}, seed {seed}",
        "sensor": {k: (round(v, 6) if isinstance(v, float) else v) for k, v in figures.items()},
        "rider": {"mass_kg": round(setup.mass, 2)},
        "foil": {
            "wing_area_m2": round(setup.area, 5), "span_m": round(setup.span, 4),
            "board_and_foil_kg": round(setup.gear_mass, 2),
        },
    }  # fmt: skip
    placed = fixes(out.track, sky, none=no_speed, poor=out.harsh)
    return SimulatedOuting(accel, gyro, placed, truth, meta, profile_text(setup, seed))


def _rounded(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    def plain(v: Any) -> Any:
        if isinstance(v, list):
            return [plain(x) for x in v]
        return round(float(v), 6) if isinstance(v, float | np.floating) else v

    return [{k: plain(v) for k, v in row.items()} for row in rows]


__all__ = ["KINDS", "SimulatedOuting", "demo_outing", "simulate_outing"]
