"""Before you go: what is chosen, how the machine stands, and the list that is ticked by hand every time. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Set

import attrs

from cadence_coach import safety
from cadence_coach.app.health import Health, noteless, placeless
from cadence_coach.app.views.gear import number
from cadence_coach.app.words import Words
from cadence_coach.core.guard import time_limit_s, turn_back_m
from cadence_coach.core.settings import FOCI, LEADS, LEVELS, RANGES, Settings

STARTS = ("dock", "step", "rope", "rope_drill")
BATTERY_ENOUGH = 40.0
"""Percent: an outing of two hours costs some 15 (common practice, no source), and it stays the emergency phone."""
FREE_ENOUGH = 200 << 20
"""Bytes: an hour takes 5 to 20 MB."""
VOLUME = "volume"
LIMITS = {"turn_back_m": ("m", 1.0), "time_limit_s": ("min", 60.0)}
"""Fields of Settings that may be typed here: the unit they are typed in, and what one of it is."""


@attrs.frozen
class HealthLine:
    """state: good, bad, unknown; told by the mark and the words. leads_to: a page where it can be put right."""

    key: str
    text: str
    state: str
    leads_to: str = ""


@attrs.frozen
class LimitView:
    """hint: what the guard takes when nothing is typed. trouble: what is wrong with what is."""

    unit: str
    hint: str
    trouble: str


@attrs.frozen
class BeforeView:
    starts: tuple[tuple[str, str], ...]
    foci: tuple[tuple[str, str], ...]
    leads: tuple[tuple[str, str], ...]
    levels: tuple[tuple[str, str], ...]
    heading: str
    points: tuple[tuple[str, str], ...]
    left: int
    ready: bool
    """Nothing stands in the way of a start; else `go` says what does."""
    go: str
    health: tuple[HealthLine, ...]
    gear: str
    limits: dict[str, LimitView]


def make(
    start: str,
    ticked: Set[str],
    health: Health | None,
    gear: str,
    words: Words,
    *,
    goes_on: bool = False,
    limits: Mapping[str, str] | None = None,
    water_c: float | None = None,
) -> BeforeView:
    """goes_on: an outing does; beside it none can start. limits: as typed, by their names in LIMITS. water_c: as the
    outing's settings have it."""
    typed = dict(limits or {})
    shown = {name: _limit(name, typed.get(name, ""), Settings(water_temperature_c=water_c), words) for name in LIMITS}
    wrong = any(limit.trouble for limit in shown.values())
    points = (*safety.points(start, words.lang), (VOLUME, words("before.volume")))
    left = sum(key not in ticked for key, _ in points)
    return BeforeView(
        tuple((s, words(f"before.start_{s}")) for s in STARTS),
        (("none", words("before.focus_none")), *((f, words(f"before.focus_{f}")) for f in FOCI)),
        tuple((k, words(f"before.lead_{k}")) for k in LEADS),
        tuple((k, words(f"before.level_{k}")) for k in LEVELS),
        safety.heading(words.lang),
        points,
        left,
        not (left or wrong or goes_on),
        _go(left, wrong, goes_on, words),
        _health(health, words) if health is not None else (),
        gear,
        shown,
    )


def limits_of(typed: Mapping[str, str]) -> dict[str, float]:
    """What was typed, as Settings has it; what is refused or empty is left out."""
    out = {}
    for name, (_, factor) in LIMITS.items():
        value = number(typed.get(name, ""))
        lo, hi, _ = RANGES[name]
        if value is not None and lo <= value * factor <= hi:
            out[name] = value * factor
    return out


def _limit(name: str, text: str, settings: Settings, words: Words) -> LimitView:
    unit, factor = LIMITS[name]
    taken = {"turn_back_m": turn_back_m, "time_limit_s": time_limit_s}[name](settings)
    lo, hi = (words.number(v / factor) for v in RANGES[name][:2])
    bad = bool(text.strip()) and not limits_of({name: text})
    trouble = words("gear.range", lo=lo, hi=hi, unit=unit) if bad else ""
    return LimitView(unit, words.number(taken / factor), trouble)


def _go(left: int, wrong: bool, goes_on: bool, words: Words) -> str:
    if goes_on:
        return words("before.goes_on")
    if wrong:
        return words("before.bad_limit")
    if left:
        return words("before.left", n=left) if left > 1 else words("before.left_one")
    return words("before.hold")


def _health(h: Health, words: Words) -> tuple[HealthLine, ...]:
    out = []
    if h.battery_percent is None:
        out.append(HealthLine("battery", words("before.battery_unknown"), "unknown"))
    else:
        enough = h.battery_percent >= BATTERY_ENOUGH
        text = words("before.battery" if enough else "before.battery_low", percent=f"{h.battery_percent:.0f}")
        out.append(HealthLine("battery", text, "good" if enough else "bad"))
    if h.free_bytes is not None:
        enough = h.free_bytes >= FREE_ENOUGH
        room = f"{h.free_bytes / 1e9:.0f} GB" if h.free_bytes >= 1e9 else f"{h.free_bytes / 1e6:.0f} MB"
        text = words("before.storage" if enough else "before.storage_low", room=room)
        out.append(HealthLine("storage", text, "good" if enough else "bad"))
    if placeless(h.missing):
        out.append(HealthLine("speed", words("before.speed_missing"), "bad", "phone"))
    else:
        out.append(HealthLine("speed", words("before.speed"), "good"))
    if noteless(h.missing):
        out.append(HealthLine("notes", words("before.notes_missing"), "bad", "phone"))
    if not h.spared:
        out.append(HealthLine("saver", words("before.saver"), "bad", "phone"))
    if h.checked is None:
        out.append(HealthLine("sensor", words("before.sensor_unknown"), "unknown", "phone"))
    elif h.checked.get("passed"):
        out.append(HealthLine("sensor", words("before.sensor", day=str(h.checked.get("day", ""))), "good"))
    else:
        text = words("before.sensor_bad", day=str(h.checked.get("day", "")))
        out.append(HealthLine("sensor", text, "bad", "phone"))
    return tuple(out)
