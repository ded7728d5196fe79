"""What the answer hangs on: each uncertain input moved, the band worked out again.

sensitivity(setup, speed) -> rows     first the set-up as it is, then one row a change
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import attrs

from cadence_coach.foil.setup import Setup
from cadence_coach.foil.solve import solve
from cadence_coach.foil.water import water


def _scaled(name: str, factor: float) -> Callable[[Setup], Setup]:
    return lambda s: attrs.evolve(s, **{name: getattr(s, name) * factor})


def _set(name: str, value: Any) -> Callable[[Setup], Setup]:
    return lambda s: attrs.evolve(s, **{name: value})


CHANGES: tuple[tuple[str, Callable[[Setup], Setup]], ...] = (
    ("as it is", lambda s: s),
    ("rider +10 %", _scaled("mass", 1.1)),
    ("rider -10 %", _scaled("mass", 0.9)),
    ("wing area +10 %", _scaled("area", 1.1)),
    ("wing area -10 %", _scaled("area", 0.9)),
    ("span +10 %", _scaled("span", 1.1)),
    ("span -10 %", _scaled("span", 0.9)),
    ("wing 0.15 m deeper", lambda s: attrs.evolve(s, depth=s.depth + 0.15, mast_length=s.mast_length + 0.15)),
    ("wing 0.15 m higher", lambda s: attrs.evolve(s, depth=max(0.15, s.depth - 0.15))),
    ("profile drag x 1.3", _scaled("profile_factor", 1.3)),
    ("profile drag x 0.7", _scaled("profile_factor", 0.7)),
    ("air drag x 1.3", _scaled("drag_area", 1.3)),
    ("air drag x 0.7", _scaled("drag_area", 0.7)),
    ("headwind 3 m/s", _set("headwind", 3.0)),
    ("sea water 15 C", _set("water", water("sea", 15.0))),
    ("fresh water 5 C", _set("water", water("fresh", 5.0))),
    ("fresh water 25 C", _set("water", water("fresh", 25.0))),
    ("leg travel +20 %", _scaled("stroke", 1.2)),
    ("leg travel -20 %", _scaled("stroke", 0.8)),
    ("board and foil +4.5 kg", lambda s: attrs.evolve(s, gear_mass=s.gear_mass + 4.5)),
    ("size at most 0.7 g", _set("force_max", 0.7)),
    ("fast force costs half", _scaled("force_rate_cost", 0.5)),
    ("fast force costs double", _scaled("force_rate_cost", 2.0)),
    ("no elastic return", _set("elastic_return", 0.0)),
    ("elastic return 0.7", _set("elastic_return", 0.7)),
    ("no shed-vorticity loss", _set("shed_factor", 0.0)),
    ("lift-dependent profile drag 0", _set("lift_drag", 0.0)),
    ("lift-dependent profile drag x 2", _scaled("lift_drag", 2.0)),
)


def moved(setup: Setup, speed: float, name: str, change: Callable[[Setup], Setup]) -> dict[str, Any]:
    """One of CHANGES as a plain row: change, power_w, lo_hz, target_hz, hi_hz, hard_lo_hz, hard_hi_hz, reason."""
    solved = solve(change(setup), [speed])
    values = (solved.pump.power, solved.lo, solved.target, solved.hi, solved.hard_lo, solved.hard_hi)
    names = ("power_w", "lo_hz", "target_hz", "hi_hz", "hard_lo_hz", "hard_hi_hz")
    good = bool(solved.feasible[0])
    found = {n: float(v[0]) if good else None for n, v in zip(names, values, strict=True)}
    return {"change": name, **found, "reason": None if good else solved.reasons[0][0]}


def sensitivity(setup: Setup, speed: float) -> tuple[dict[str, Any], ...]:
    """The band at a speed [m/s] for the set-up as it is and for each of CHANGES; about 0.1 s each."""
    return tuple(moved(setup, speed, name, change) for name, change in CHANGES)
