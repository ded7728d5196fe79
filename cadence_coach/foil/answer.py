"""The whole answer for a profile as plain values that go through JSON: what table, picture and programs read.

    answer(profile, speeds, effort, owns) -> dict     keys as below, units in their names, None for what is not known
    REASONS, WHOSE                                    limits, and sources of the endurance, in words
    assumed_effort(mass) -> Endurance                 taken where a rider's own flights are not given, and marked so

Keys: profile, assumed (keys that were not given), estimate, lowest_speed_m_s, highest_speed_m_s (where pumping is
feasible, None if nowhere), stall_speed_m_s (carrying the weight, no push), least_drag_speed_m_s,
least_effort_speed_m_s, cruise_speed_m_s, q (own / model cadence, None if unknown), rows, same_stroke (heave_m,
active_g that its curve keeps), effort (source: "given", "own flights" or "assumed"), holds, less_drag, own, safety.

A row, one a speed: speed_m_s, feasible, reason ("stall", "force", "stroke" or None), reasons (all that are in the
way), lo_hz, target_hz, hi_hz (effort within 3 % of its least), outer_lo_hz, outer_hi_hz (8 %), hard_lo_hz,
hard_hi_hz, coach_lo_hz, coach_target_hz, coach_hi_hz (leaned to the rider, never narrower than +-10 %), share_lo,
share, share_hi (effort within 10 %), size_needed_g and travel_m (the least that level flight needs at the target, and
its body travel), size_g, body_travel_m, leg_travel_m, heave_m (the pump of least effort at the target), drag_n,
drag_parts_n, power_w with power_lo_w and power_hi_w, drag_share (of the power that a lift without swing would need),
strouhal, same_stroke_hz, lasts_lo_s, lasts_hi_s (None: no end). What cannot be where pumping is not feasible is None
there; drag is given at every speed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import attrs
import numpy as np

from cadence_coach.core.targets import BandTable, replace
from cadence_coach.foil.band import band_table, least_drag_speed
from cadence_coach.foil.drag import stall_speed, steady_drag
from cadence_coach.foil.endurance import UNSURE, Endurance
from cadence_coach.foil.own import Own, own_ratio, to_plain
from cadence_coach.foil.profile import Profile
from cadence_coach.foil.pumping import same_stroke_cadence
from cadence_coach.foil.setup import Setup
from cadence_coach.foil.solve import feasible_speeds, solve

WHOSE = {"given": "as given", "own flights": "from your own flights", "assumed": "an assumed fit rider"}
"""The sources of `effort` in words."""
REASONS = {
    "stall": "too slow: the wing stalls in the push",
    "force": "the push would lift the feet",
    "stroke": "legs or mast too short",
}
SAFETY = (
    "Estimates: cadence +-20 %, powers +-30 %; times follow from powers and range widely. Not medical advice; stop "
    "with chest pain, dizziness or faintness. Local rules and qualified instruction come first; water deep enough for "
    "the mast and a fall; not alone."
)
ESTIMATE = "powers +-30 %, cadence +-20 %; times follow from powers and range widely"
HOLDS = (60.0, 120.0, 180.0, 300.0, 600.0, 1200.0, 1800.0)
"""Durations [s] for "what power lasts so long"."""
LESS_DRAG = (0.05, 0.10, 0.15, 0.20, 0.25)


def assumed_effort(mass: float) -> Endurance:
    """A fit recreational rider: 3.1 W/kg and 220 J/kg at 75 kg (typical published cycling values 200-260 W and 12-22
    kJ, from memory). Other masses [kg] by (mass / 75)^0.75: aerobic power goes with mass^0.67 to 0.75 (allometry, from
    memory); that the work above it does so too is taken."""
    scale = (mass / 75.0) ** 0.75
    return Endurance(3.1 * 75.0 * scale, 220.0 * 75.0 * scale)


def answer(
    profile: Profile,
    speeds: Sequence[float],
    effort: Endurance | None = None,
    owns: Sequence[Own] = (),
    table: BandTable | None = None,
    source: str = "given",
) -> dict[str, Any]:
    """The answer at speeds [m/s], above 0. `effort` is the rider's own power-duration model where there is one,
    `source` where that comes from; `table` the band with the rider's own cruise speed."""
    setup = profile.setup
    table = band_table(setup) if table is None else table
    table = replace(table, q=own_ratio(table, owns))
    ends = feasible_speeds(setup)
    rider = effort or assumed_effort(setup.mass)
    cruise = solve(setup, [table.cruise_speed])
    held = {"heave_m": _number(cruise.pump.heave[0]), "active_g": _number(cruise.pump.active[0])}
    if not cruise.feasible[0]:
        held = {"heave_m": None, "active_g": None}
    return {
        "profile": profile.table,
        "assumed": list(profile.assumed),
        "estimate": ESTIMATE,
        "lowest_speed_m_s": ends[0] if ends else None,
        "highest_speed_m_s": ends[1] if ends else None,
        "stall_speed_m_s": stall_speed(setup),
        "least_drag_speed_m_s": least_drag_speed(setup),
        "least_effort_speed_m_s": band_table(setup).cruise_speed if ends else None,
        "cruise_speed_m_s": table.cruise_speed,
        "q": table.q,
        "rows": _rows(setup, speeds, table, rider, held),
        "same_stroke": held,
        "effort": {
            "source": source if effort else "assumed",
            "cp_w": rider.cp,
            "w_j": rider.w,
            "p_max_w": rider.p_max,
        },
        "holds": _holds(setup, rider, ends),
        "less_drag": _less_drag(rider, _number(cruise.pump.power[0]) if cruise.feasible[0] else None),
        "own": to_plain(owns),
        "safety": SAFETY,
    }


def _rows(
    setup: Setup, speeds: Sequence[float], table: BandTable, rider: Endurance, held: dict[str, float | None]
) -> list[dict[str, Any]]:
    solved = solve(setup, list(speeds))
    parts = {k: np.broadcast_to(v, solved.speed.shape) for k, v in steady_drag(setup, solved.speed).named().items()}
    if held["heave_m"] and held["active_g"]:
        same = same_stroke_cadence(setup, solved.speed, held["heave_m"], held["active_g"])
    else:
        same = np.full(solved.speed.shape, np.nan)
    rows = []
    for i, speed in enumerate(solved.speed):
        good, pump = bool(solved.feasible[i]), solved.pump
        coach, model = table.at(float(speed)), table.model_at(float(speed))
        power = float(pump.power[i]) if good else None
        lasts = rider.duration_range(power) if power is not None else (None, None)
        only = {
            "lo_hz": solved.lo,
            "target_hz": solved.target,
            "hi_hz": solved.hi,
            "outer_lo_hz": solved.outer_lo,
            "outer_hi_hz": solved.outer_hi,
            "hard_lo_hz": solved.hard_lo,
            "hard_hi_hz": solved.hard_hi,
            "size_needed_g": solved.size_needed,
            "travel_m": 2 * solved.size_needed * solved.gravity / (2 * np.pi * solved.target) ** 2,
            "size_g": pump.size,
            "body_travel_m": pump.travel,
            "leg_travel_m": pump.stroke,
            "heave_m": pump.heave,
            "drag_share": pump.drag / (pump.drag + pump.drag_swing),
            "strouhal": pump.strouhal,
            "same_stroke_hz": same,
        }
        rows.append(
            {
                "speed_m_s": float(speed),
                "feasible": good,
                "reason": None if good else solved.reasons[i][0],
                "reasons": list(solved.reasons[i]),
                **{k: _number(v[i]) if good else None for k, v in only.items()},
                "coach_lo_hz": coach.lo if good else None,
                "coach_target_hz": coach.target if good else None,
                "coach_hi_hz": coach.hi if good else None,
                "share_lo": model.share_lo if good else None,
                "share": model.share if good else None,
                "share_hi": model.share_hi if good else None,
                "drag_n": float(sum(v[i] for v in parts.values())),
                "drag_parts_n": {k: float(v[i]) for k, v in parts.items()},
                "power_w": power,
                "power_lo_w": None if power is None else power * (1 - UNSURE),
                "power_hi_w": None if power is None else power * (1 + UNSURE),
                "lasts_lo_s": _number(lasts[0]),
                "lasts_hi_s": _number(lasts[1]),
            }
        )
    return rows


def _holds(setup: Setup, rider: Endurance, ends: tuple[float, float] | None) -> list[dict[str, float | None]]:
    """For each of HOLDS: the power that lasts so long, and the fastest and slowest speed where pumping needs no
    more."""
    speeds = np.linspace(*ends, 40) if ends else np.array([1.0])
    solved = solve(setup, speeds)
    rows = []
    for duration in HOLDS:
        power, (low, high) = rider.power(duration), rider.power_range(duration)
        within = solved.feasible & (solved.pump.power <= power)
        rows.append(
            {
                "duration_s": duration,
                "power_w": power,
                "power_lo_w": low,
                "power_hi_w": high,
                "speed_lo_m_s": float(speeds[within][0]) if within.any() else None,
                "speed_hi_m_s": float(speeds[within][-1]) if within.any() else None,
            }
        )
    return rows


def _less_drag(rider: Endurance, power: float | None) -> list[dict[str, float | None]]:
    """At cruise speed: how long at the model's power and 30 % to either side, and with less drag, the same three."""
    if power is None:
        return []
    rows = []
    for share in (0.0, *LESS_DRAG):
        lo, hi = rider.duration_range(power * (1 - share))
        rows.append(
            {
                "less_drag": share,
                "power_w": power * (1 - share),
                "lasts_lo_s": _number(lo),
                "lasts_s": _number(rider.duration(power * (1 - share))),
                "lasts_hi_s": _number(hi),
            }
        )
    return rows


def _number(value: Any) -> float | None:
    """A float that JSON can hold; None for what is not finite."""
    return None if value is None or not math.isfinite(value) else float(value)


def plain(value: Any) -> Any:
    """attrs values as dicts, NaN and inf as None, all the way down."""
    if attrs.has(type(value)):
        return plain(attrs.asdict(value, recurse=False))
    if isinstance(value, dict):
        return {k: plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [plain(v) for v in value]
    return _number(value) if isinstance(value, float) else value
