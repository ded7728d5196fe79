"""The figures of one flight. Definitions and units stand in `definitions.py`, which the report and the docs print."""

from __future__ import annotations

import math

import attrs
import numpy as np

from cadence_coach.core import events as ev
from cadence_coach.core import flown, rules
from cadence_coach.review import stats
from cadence_coach.review.pumps import Pumps
from cadence_coach.review.track import GOOD_FIXES, Track

EARLY = slice(rules.EARLY[0] - 1, rules.EARLY[1])
LATE = slice(-rules.LATE - rules.LATE_LEAVES, -rules.LATE_LEAVES)
"""The first three pumps are the start, the final two the end; the word after the flight takes the same windows."""

SLOPE_FROM = rules.TWO_CADENCES
"""Pumps from which a fade is given: over fewer the interval is wider than any rider's fade."""

LAG_FROM = 8
"""Pumps from which the carry-over from pump to pump is given."""

LAST = 10
"""Pumps whose change against the rest of the flight is shown."""

PUMPS_FOR_DISTANCE = 8
"""Metres per pump only as an average over this many: fixes know nothing faster than 0.5 Hz."""

SPEED_SETTLES_S = 2.5
"""Fixes of the first moments still carry the run-up or the rope: phone speed lags up to 2.2 s (Supej & Cuk 2014)."""

HELPED_COAST_S = 6.0
"""Coasting longer than a foil glides by itself: from 5.3 to 4.0 m/s level takes about 2 s (energy view of the drag
model), so three times that means that swell, wake or wind carried it."""

HELPED_SIZE = 0.6
"""Size below this share of what level flight needs, speed held all the same: something else carried part of it."""

HELPED_FADE = -0.02
"""Speed is held when it falls by less than this [m/s per s] over the flight."""

HOLE_SHARE = 0.02
"""A hole in the data that took no more of a flight than this costs a pump or two and changes no median."""

LEFT_OUT = ("drill", "helped", "holed")
"""Why a flight counts for no best, no advice and no rung: of a rope drill, carried by swell or wake, a large hole."""

POWER_UNCERTAINTY = 0.30
"""Estimated power is given as +-30 %: profile drag of real foils and the rider's phase are known no better."""


@attrs.frozen
class Part:
    """One of the four parts of a pump over a flight: medians, and the interquartile range of the share."""

    share: float
    seconds: float
    spread: float | None


@attrs.frozen
class LastPumps:
    """Median of the last LAST pumps minus the median of those before them; None where a value is not known."""

    cadence_per_min: float
    size_g: float
    push_share: float
    travel_m: float
    speed_m_s: float | None


@attrs.frozen
class FlightFigures:
    """A flight in figures; None where a figure is not known or not defined (`definitions.py` says when)."""

    flight: int
    attempt: int | None
    start_s: float
    end_s: float
    started_by: str
    ended_by: str
    ended_by_from: str
    landing_to_push_s: float | None
    first_periods_s: tuple[float, ...]
    pumps: int
    pumping_s: float
    coast_s: float
    rope_s: float
    own_s: float
    drill: bool
    helped: str | None
    gap_s: float
    cadence_hz: float | None
    cadence_early_hz: float | None
    cadence_late_hz: float | None
    push_share: float | None
    parts: dict[str, Part] | None
    peak_g: float | None
    lightness_g: float | None
    rise_s: float | None
    size_g: float | None
    size_needed_g: float | None
    size_ratio: float | None
    size_early_g: float | None
    travel_m: float | None
    steadiness: float | None
    rmssd_s: float | None
    lag1: float | None
    fade_cadence: stats.Slope | None
    fade_size: stats.Slope | None
    fade_share: stats.Slope | None
    speed_m_s: float | None
    speed_early_m_s: float | None
    speed_late_m_s: float | None
    distance_m: float | None
    m_per_pump: float | None
    in_band: float | None
    above_band: float | None
    below_band: float | None
    band_from: str | None
    lock: stats.Lock | None
    power_w: float | None
    last: LastPumps | None

    @property
    def aloft_s(self) -> float:
        return self.pumping_s + self.coast_s

    @property
    def on_own(self) -> bool:
        """Counts as the rider's own: not in a rope drill, not carried by swell or wake."""
        return not self.drill and self.helped is None

    @property
    def left_out(self) -> str | None:
        """Why it counts for nothing, one of LEFT_OUT; None where it counts."""
        if self.drill:
            return "drill"
        if self.helped is not None:
            return "helped"
        return "holed" if self.gap_s > HOLE_SHARE * self.own_s else None

    @property
    def drift(self) -> float | None:
        """Late cadence / early cadence - 1; None under rules.TWO_CADENCES pumps."""
        if self.cadence_early_hz is None or self.cadence_late_hz is None:
            return None
        return self.cadence_late_hz / self.cadence_early_hz - 1.0


def flight_figures(
    done: ev.FlightEnded,
    pumps: Pumps,
    gaps: np.ndarray,
    attempt: ev.AttemptEnded | None,
    track: Track,
    *,
    gap_s: float = 0.0,
    on_rope: bool = False,
    helped: str | None = None,
    ended_by: tuple[str, str] | None = None,
    locked: stats.Lock | None = None,
    power_w: float | None = None,
) -> FlightFigures:
    """All figures of one flight.

    `gaps`: from onset to onset [s], `pumps.gaps_of`. `on_rope`: an armed rope drill, none of it is the
    rider's own. `helped`: what the rider or coach said ("swell", "wake", "no" to overrule the figures). `ended_by`:
    ending and who said so, where it is not the detector's.
    """
    end = done.time + done.coast_s
    rope = max(0.0, done.start - attempt.start) if attempt is not None and done.started_by == "rope" else 0.0
    n = len(pumps)
    beats = np.array(flown.beats(gaps.tolist()))
    minutes = (pumps.onset - done.start) / 60.0
    two_ends = n >= rules.TWO_CADENCES
    size, needed = stats.middle(pumps.size_g), stats.middle(pumps.needed_g)
    t, speed = track.within(done.start + SPEED_SETTLES_S, done.time)
    has_speed = len(t) >= GOOD_FIXES
    distance = track.distance(done.start, done.time)
    weights = pumps.period
    banded = np.isfinite(pumps.lo)
    running = pumps.running_cadence

    def time_share(chosen: np.ndarray) -> float | None:
        return float(weights[chosen & banded].sum() / weights[banded].sum()) if banded.any() else None

    def slope(values: np.ndarray) -> stats.Slope | None:
        return stats.robust_slope(minutes, values) if n >= SLOPE_FROM else None

    ratio = size / needed if size is not None and needed else None
    fell = stats.straight_slope(t, speed) if has_speed else None
    if helped is None:
        helped = _helped(done, n, ratio, fell, banded_by_speed=bool(np.isfinite(pumps.speed).any()))
    elif helped == "no":
        helped = None
    return FlightFigures(
        flight=done.flight,
        attempt=attempt.attempt if attempt else None,
        start_s=done.start,
        end_s=end,
        started_by=done.started_by,
        ended_by=(ended_by or (done.ended_by, ""))[0],
        ended_by_from=(ended_by or ("", "detector"))[1],
        landing_to_push_s=attempt.landing_to_push_s if attempt else None,
        first_periods_s=tuple(float(p) for p in pumps.period[:3]),
        pumps=done.pumps,
        pumping_s=done.time - done.start,
        coast_s=done.coast_s,
        rope_s=(end - done.start + rope) if on_rope else rope,
        own_s=0.0 if on_rope or helped else end - done.start,
        drill=on_rope,
        helped=helped,
        gap_s=gap_s,
        cadence_hz=1.0 / float(np.median(gaps)) if len(gaps) else None,
        cadence_early_hz=1.0 / float(np.median(pumps.period[EARLY])) if two_ends else None,
        cadence_late_hz=1.0 / float(np.median(pumps.period[LATE])) if two_ends else None,
        push_share=stats.middle(pumps.push_share),
        parts=_parts(pumps),
        peak_g=stats.middle(pumps.peak_g),
        lightness_g=stats.middle(pumps.lowest_g),
        rise_s=stats.middle(pumps.peak - pumps.onset),
        size_g=size,
        size_needed_g=needed,
        size_ratio=ratio,
        size_early_g=stats.middle(pumps.size_g[:8]) if two_ends else None,
        travel_m=stats.middle(pumps.travel_m),
        steadiness=stats.variation(beats),
        rmssd_s=stats.rmssd(beats),
        lag1=stats.lag1(beats) if len(gaps) >= LAG_FROM - 1 else None,
        fade_cadence=slope(60.0 * pumps.cadence),
        fade_size=slope(pumps.size_g),
        fade_share=slope(pumps.push_share),
        speed_m_s=float(np.median(speed)) if has_speed else None,
        speed_early_m_s=float(np.median(speed[: len(speed) // 3])) if len(speed) >= 9 else None,
        speed_late_m_s=float(np.median(speed[-(len(speed) // 3) :])) if len(speed) >= 9 else None,
        distance_m=distance if has_speed else None,
        m_per_pump=distance / done.pumps if distance and has_speed and done.pumps >= PUMPS_FOR_DISTANCE else None,
        in_band=time_share(pumps.inside == 1.0),
        above_band=time_share(running > pumps.hi),
        below_band=time_share(running < pumps.lo),
        band_from=_band_from(pumps, banded),
        lock=locked,
        power_w=power_w,
        last=_last(pumps),
    )


def _parts(pumps: Pumps) -> dict[str, Part] | None:
    if not len(pumps):
        return None
    rows = zip(("catch", "shove", "ease", "gather"), pumps.parts, pumps.parts_s, strict=True)
    return {name: Part(float(np.median(s)), float(np.median(t)), stats.spread(s)) for name, s, t in rows}


def _last(pumps: Pumps) -> LastPumps | None:
    if len(pumps) < 2 * LAST:
        return None
    before, after = pumps.rows(slice(None, -LAST)), pumps.rows(slice(-LAST, None))

    def change(values: np.ndarray, others: np.ndarray) -> float | None:
        a, b = stats.middle(values), stats.middle(others)
        return None if a is None or b is None else b - a

    return LastPumps(
        cadence_per_min=60.0 / float(np.median(after.period)) - 60.0 / float(np.median(before.period)),
        size_g=change(before.size_g, after.size_g) or 0.0,
        push_share=change(before.push_share, after.push_share) or 0.0,
        travel_m=change(before.travel_m, after.travel_m) or 0.0,
        speed_m_s=change(before.speed, after.speed),
    )


def _band_from(pumps: Pumps, banded: np.ndarray) -> str | None:
    if not banded.any():
        return None
    known = np.isfinite(pumps.speed[banded]).mean()
    return "speed" if known >= 0.5 else "cruise"


def _helped(
    done: ev.FlightEnded, n: int, ratio: float | None, fell: float | None, *, banded_by_speed: bool
) -> str | None:
    if done.coast_s >= HELPED_COAST_S:
        return "long coast"
    held = fell is not None and fell >= HELPED_FADE
    if banded_by_speed and held and n >= 10 and ratio is not None and math.isfinite(ratio) and ratio < HELPED_SIZE:
        return "small pumps at held speed"
    return None
