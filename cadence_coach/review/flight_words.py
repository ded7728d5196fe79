"""All figures of one flight as words, by what they are about: what the report lists below a flight's pictures."""

from __future__ import annotations

from cadence_coach.review import stats, words
from cadence_coach.review.flight import POWER_UNCERTAINTY, FlightFigures, LastPumps

Row = tuple[str, str, str]
"""Name, value, key of its definition."""

Group = tuple[str, tuple[Row, ...]]


def groups(f: FlightFigures) -> tuple[Group, ...]:
    """Title and rows of each group; unknown figures are dashes."""
    found = [
        ("Time", _time(f)),
        ("Beat", _beat(f)),
        ("Push", _push(f)),
        ("Timing", _timing(f)),
        ("Speed and power", _speed(f)),
    ]
    if f.last is not None:
        found.append(("Last ten pumps against those before", _last(f.last)))
    return tuple((title, tuple(rows)) for title, rows in found)


def _time(f: FlightFigures) -> list[Row]:
    ended = words.ENDED[f.ended_by] + ("" if f.ended_by_from == "detector" else f" (by {f.ended_by_from})")
    first = " · ".join(f"{p:.2f}" for p in f.first_periods_s)
    rows = [
        ("aloft", f"{f.aloft_s:.1f} s", "aloft_s"),
        ("coasting after the last pump", f"{f.coast_s:.1f} s", "coast_s"),
        ("on the rope", f"{f.rope_s:.1f} s", "rope_s"),
        ("landing to first push", words.number(f.landing_to_push_s, 2, "s"), "landing_to_push_s"),
        ("first three pumps", f"{first} s" if first else words.NONE, "first_periods_s"),
        ("ended by", ended, "ended_by"),
    ]
    if f.helped:
        rows.append(("helped", f.helped, "helped"))
    if f.gap_s:
        rows.append(("hole in the data", f"{f.gap_s:.1f} s", "gap_s"))
    return rows


def _beat(f: FlightFigures) -> list[Row]:
    return [
        ("cadence", f"{words.course(f)} a minute", "cadence_hz"),
        ("in the band", _band(f), "in_band"),
        ("steadiness", words.percent(f.steadiness, 1), "steadiness"),
        ("beat to beat", words.number(_times(f.rmssd_s, 1000.0), 0, "ms"), "rmssd_s"),
        ("fade of cadence", _slope(f.fade_cadence, " a minute per minute"), "fade_cadence"),
        ("lock to the click", words.NONE if f.lock is None else f"{f.lock.r:.2f} over {f.lock.n} pumps", "lock"),
    ]


def _push(f: FlightFigures) -> list[Row]:
    needed = words.percent(f.size_needed_g) + (" (estimate)" if f.size_needed_g else "")
    return [
        ("size", f"{words.percent(f.size_g)} of your weight", "size_g"),
        ("needed for level flight", needed, "size_needed_g"),
        ("peak, lightness", f"{words.number(f.peak_g, 2)} g, {words.number(f.lightness_g, 2)} g", "peak_g"),
        ("rise time", words.number(f.rise_s, 2, "s"), "rise_s"),
        ("travel of the body", words.number(_times(f.travel_m, 100.0), 0, "cm"), "travel_m"),
        ("fade of size", _slope(f.fade_size, " % per minute", 100.0), "fade_size"),
    ]


def _timing(f: FlightFigures) -> list[Row]:
    rows = [("push share", words.percent(f.push_share), "push_share")]
    for name, part in (f.parts or {}).items():
        spread = "" if part.spread is None else f", ±{50 * part.spread:.0f} %"
        rows.append((name, f"{100 * part.share:.0f} %, {part.seconds:.2f} s{spread}", "parts"))
    return [*rows, ("fade of push share", _slope(f.fade_share, " % per minute", 100.0), "fade_share")]


def _speed(f: FlightFigures) -> list[Row]:
    speed = words.NONE if f.speed_m_s is None else f"{f.speed_m_s:.1f} m/s ({3.6 * f.speed_m_s:.0f} km/h)"
    low, high = (_times(f.power_w, 1.0 + side * POWER_UNCERTAINTY) for side in (-1.0, 1.0))
    return [
        ("speed over ground", speed, "speed_m_s"),
        ("distance", words.number(f.distance_m, 0, "m"), "distance_m"),
        ("metres per pump", words.number(f.m_per_pump, 1, "m"), "m_per_pump"),
        ("estimated leg power", words.NONE if low is None else f"{low:.0f} to {high:.0f} W", "power_w"),
    ]


def _last(last: LastPumps) -> list[Row]:
    return [
        ("cadence", f"{last.cadence_per_min:+.0f} a minute", "last"),
        ("size", f"{100 * last.size_g:+.0f} % of weight", "last"),
        ("push share", f"{100 * last.push_share:+.0f} %", "last"),
        ("travel", f"{100 * last.travel_m:+.0f} cm", "last"),
        ("speed", words.NONE if last.speed_m_s is None else f"{last.speed_m_s:+.1f} m/s", "last"),
    ]


def _band(f: FlightFigures) -> str:
    if f.in_band is None:
        return words.NONE
    sides = ((f.below_band or 0.0, "under"), (f.above_band or 0.0, "over"))
    beside = ", ".join(f"{100 * share:.0f} % {side}" for share, side in sides if share >= 0.005)
    at = "at your cruise speed" if f.band_from == "cruise" else "at the speed ridden"
    return f"{words.percent(f.in_band)} of the time{f' ({beside})' if beside else ''}, {at}"


def _slope(s: stats.Slope | None, unit: str, scale: float = 1.0) -> str:
    if s is None:
        return words.NONE
    return f"{scale * s.slope:+.0f}{unit} ({scale * s.low:+.0f} to {scale * s.high:+.0f})"


def _times(value: float | None, factor: float) -> float | None:
    return None if value is None else factor * value
