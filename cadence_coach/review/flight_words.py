"""All figures of one flight as words, by what they are about: what the report lists below a flight's pictures."""

from __future__ import annotations

from cadence_coach.review import stats
from cadence_coach.review.flight import POWER_UNCERTAINTY, FlightFigures, LastPumps
from cadence_coach.review.say import signed
from cadence_coach.review.words import NONE, Words

Row = tuple[str, str, str]
"""Name, value, key of its definition."""

Group = tuple[str, tuple[Row, ...]]


def groups(f: FlightFigures, w: Words) -> tuple[Group, ...]:
    """Title and rows of each group; unknown figures are dashes."""
    found = [
        ("group_time", _time(f, w)),
        ("group_beat", _beat(f, w)),
        ("group_push", _push(f, w)),
        ("group_timing", _timing(f, w)),
        ("group_speed", _speed(f, w)),
    ]
    if f.last is not None:
        found.append(("group_last", _last(f.last, w)))
    return tuple((w(title), tuple(rows)) for title, rows in found)


def ending(f: FlightFigures, w: Words) -> str:
    """How it ended, and who says so where it is not the detector."""
    ended = w.ended(f.ended_by)
    return ended if f.ended_by_from == "detector" else w("said_by", what=ended, who=w(f"by_{f.ended_by_from}"))


def _time(f: FlightFigures, w: Words) -> list[Row]:
    first = " · ".join(w.number(p, 2) for p in f.first_periods_s)
    rows = [
        (w("row_aloft"), w.number(f.aloft_s, 1, "s"), "aloft_s"),
        (w("row_coast"), w.number(f.coast_s, 1, "s"), "coast_s"),
        (w("row_rope"), w.number(f.rope_s, 1, "s"), "rope_s"),
        (w("row_landing"), w.number(f.landing_to_push_s, 2, "s"), "landing_to_push_s"),
        (w("row_first"), f"{first} s" if first else NONE, "first_periods_s"),
        (w("row_ended"), ending(f, w), "ended_by"),
    ]
    if f.helped:
        rows.append((w("row_helped"), w.helped(f.helped), "helped"))
    if f.gap_s:
        rows.append((w("row_gap"), w.number(f.gap_s, 1, "s"), "gap_s"))
    return rows


def _beat(f: FlightFigures, w: Words) -> list[Row]:
    return [
        (w("row_cadence"), w("a_minute", n=w.course(f)), "cadence_hz"),
        (w("row_in_band"), _band(f, w), "in_band"),
        (w("row_steadiness"), w.percent(f.steadiness, 1), "steadiness"),
        (w("row_rmssd"), w.number(_times(f.rmssd_s, 1000.0), 0, "ms"), "rmssd_s"),
        (w("row_fade_cadence"), _slope(f.fade_cadence, "unit_cadence_slope", w), "fade_cadence"),
        (w("row_lock"), NONE if f.lock is None else w("over_pumps", r=f.lock.r, n=f.lock.n), "lock"),
    ]


def _push(f: FlightFigures, w: Words) -> list[Row]:
    needed = w("estimate", n=w.percent(f.size_needed_g)) if f.size_needed_g else NONE
    return [
        (w("row_size"), w("of_your_weight", n=w.percent(f.size_g)), "size_g"),
        (w("row_needed"), needed, "size_needed_g"),
        (w("row_peak"), w("g_and_g", a=w.number(f.peak_g, 2), b=w.number(f.lightness_g, 2)), "peak_g"),
        (w("row_rise"), w.number(f.rise_s, 2, "s"), "rise_s"),
        (w("row_travel"), w.number(_times(f.travel_m, 100.0), 0, "cm"), "travel_m"),
        (w("row_fade_size"), _slope(f.fade_size, "unit_percent_slope", w, 100.0), "fade_size"),
    ]


def _timing(f: FlightFigures, w: Words) -> list[Row]:
    rows = [(w("row_share"), w.percent(f.push_share), "push_share")]
    for name, part in (f.parts or {}).items():
        spread = "" if part.spread is None else f", ±{50 * part.spread:.0f} %"
        seconds = w.number(part.seconds, 2, "s")
        rows.append((w(f"part_{name}"), f"{100 * part.share:.0f} %, {seconds}{spread}", "parts"))
    return [*rows, (w("row_fade_share"), _slope(f.fade_share, "unit_percent_slope", w, 100.0), "fade_share")]


def _speed(f: FlightFigures, w: Words) -> list[Row]:
    speed = NONE if f.speed_m_s is None else f"{w.number(f.speed_m_s, 1)} m/s ({3.6 * f.speed_m_s:.0f} km/h)"
    low, high = (_times(f.power_w, 1.0 + side * POWER_UNCERTAINTY) for side in (-1.0, 1.0))
    return [
        (w("row_speed"), speed, "speed_m_s"),
        (w("row_distance"), w.number(f.distance_m, 0, "m"), "distance_m"),
        (w("row_m_per_pump"), w.number(f.m_per_pump, 1, "m"), "m_per_pump"),
        (w("row_power"), NONE if low is None else w("watts", low=low, high=high), "power_w"),
    ]


def _last(last: LastPumps, w: Words) -> list[Row]:
    speed = NONE if last.speed_m_s is None else w.point(signed(f"{last.speed_m_s:+.1f}")) + " m/s"
    return [
        (w("row_cadence"), w("last_cadence", n=last.cadence_per_min), "last"),
        (w("row_size"), w("last_size", n=100 * last.size_g), "last"),
        (w("row_share"), signed(f"{100 * last.push_share:+.0f}") + " %", "last"),
        (w("row_travel_short"), signed(f"{100 * last.travel_m:+.0f}") + " cm", "last"),
        (w("row_speed_short"), speed, "last"),
    ]


def _band(f: FlightFigures, w: Words) -> str:
    if f.in_band is None:
        return NONE
    sides = ((f.below_band or 0.0, "under_band"), (f.above_band or 0.0, "over_band"))
    beside = ", ".join(w(side, n=100 * share) for share, side in sides if share >= 0.005)
    at = w("at_cruise" if f.band_from == "cruise" else "at_ridden")
    return w("in_band_beside" if beside else "in_band", share=w.percent(f.in_band), beside=beside, at=at)


def _slope(s: stats.Slope | None, unit: str, w: Words, scale: float = 1.0) -> str:
    if s is None:
        return NONE
    middle, low, high = (signed(f"{scale * v:+.0f}") for v in (s.slope, s.low, s.high))
    return w("slope", middle=middle, unit=w(unit), low=low, high=high)


def _times(value: float | None, factor: float) -> float | None:
    return None if value is None else factor * value
