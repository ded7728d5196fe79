"""Me and my gear: what was typed becomes a profile, checked value by value, and the band it leads to. Pure."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping

import attrs

from cadence_coach.app.words import Words
from cadence_coach.core.targets import BandTable
from cadence_coach.errors import Refused
from cadence_coach.foil.profile import NUMBERS, Profile, Tables, demo_profile, is_name, profile_from
from cadence_coach.foil.water import SALINITY

WORN_AT = ("lower back", "hip", "upper back", "chest")
KINDS = tuple(SALINITY)

SHOWN: dict[str, tuple[str, float]] = {
    "height_m": ("cm", 100.0),
    "leg_stroke_m": ("cm", 100.0),
    "drag_area_m2": ("m²", 1.0),
    "wing_area_m2": ("cm²", 1e4),
    "span_m": ("cm", 100.0),
    "tail_area_m2": ("cm²", 1e4),
    "tail_span_m": ("cm", 100.0),
    "fuselage_area_m2": ("cm²", 1e4),
    "mast_chord_m": ("mm", 1e3),
    "mast_thickness_m": ("mm", 1e3),
    "mast_length_m": ("cm", 100.0),
    "immersed_depth_m": ("cm", 100.0),
    "mass_kg": ("kg", 1.0),
    "board_and_foil_kg": ("kg", 1.0),
    "temperature_c": ("°C", 1.0),
    "thickness_ratio": ("", 1.0),
    "cl_max": ("", 1.0),
}
"""The unit a value is typed in, as makers print it, and how many of it are one of the profile's."""

FIRST = (("rider", "mass_kg"), ("foil", "wing_area_m2"), ("foil", "span_m"))
"""What has no default of its own."""
NAMES = (("rider", "name"), ("foil", "name"))
MORE = tuple(
    (section, key) for section, keys in NUMBERS.items() for key in keys if (section, key) not in FIRST
)  # fmt: skip

Typed = Mapping[str, str]
"""section.key -> text as typed; "" for not given."""


@attrs.frozen
class FieldView:
    name: str
    label: str
    unit: str
    hint: str
    trouble: str


@attrs.frozen
class GearView:
    fields: dict[str, FieldView]
    trouble: str
    """What is wrong with values together."""
    notice: str
    """Whose gear this is while it is not the rider's own."""


@attrs.frozen
class BandView:
    """The picture: `body` and `target` are points with both coordinates in 0 to 1 (speed to the right, cadence up)."""

    body: tuple[tuple[float, float, float], ...]
    """(x, lower edge, upper edge)"""
    target: tuple[tuple[float, float], ...]
    cruise: tuple[float, float] | None
    said: str
    x_from: str
    x_to: str
    y_from: str
    y_to: str


def typed_of(profile: Profile | None) -> dict[str, str]:
    """What the fields show for a profile: only what was given."""
    out = {f"{s}.{k}": "" for s, k in (*NAMES, *FIRST, *MORE)} | {"water.kind": "fresh", "phone.worn_at": WORN_AT[0]}
    if profile is None:
        return out
    for section, keys in profile.table.items():
        for key, value in keys.items():
            if f"{section}.{key}" not in profile.assumed:
                out[f"{section}.{key}"] = value if isinstance(value, str) else _shown(key, float(value))
    return out


def _shown(key: str, value: float) -> str:
    return f"{value * SHOWN[key][1]:.6g}"


def number(text: str) -> float | None:
    """A number with a point or a comma; None for none."""
    try:
        value = float(text.strip().replace(",", "."))
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def tables_of(typed: Typed, without: frozenset[str] = frozenset()) -> Tables:
    """The profile's sections from what was typed; fields in `without` are left out as if they were empty."""
    tables: Tables = {"rider": {}, "foil": {}, "water": {}, "phone": {}}
    for name, text in typed.items():
        section, key = name.split(".")
        if not text.strip() or name in without:
            continue
        if key in SHOWN:
            value = number(text)
            tables[section][key] = text if value is None else value / SHOWN[key][1]
        else:
            tables[section][key] = text.strip()
    return tables


def troubles(typed: Typed, words: Words) -> dict[str, str]:
    """One line for each field whose value is none or out of range."""
    names = [name for section, key in NAMES if (name := f"{section}.{key}") and typed.get(name, "").strip()]
    out = {name: words("gear.bad_name") for name in names if not is_name(typed[name].strip())}
    for section, key in (*FIRST, *MORE):
        name = f"{section}.{key}"
        text = typed.get(name, "")
        rule, (unit, factor) = NUMBERS[section][key], SHOWN[key]
        value = number(text)
        if text.strip() and (value is None or not rule.lo <= value / factor <= rule.hi):
            lo, hi = (words.number(v * factor, 2 if v * factor < 3 else 0) for v in (rule.lo, rule.hi))
            out[name] = words("gear.range", lo=lo, hi=hi, unit=unit).strip()
    return out


def profile_of(typed: Typed, words: Words) -> tuple[Profile | None, str]:
    """The profile, or None with what is wrong with the values together ("" while something is not given yet). Single
    bad values are left out: what is right is kept all the same."""
    bad = frozenset(troubles(typed, words))
    if any(not typed.get(f"{s}.{k}", "").strip() or f"{s}.{k}" in bad for s, k in FIRST):
        return None, ""
    try:
        return profile_from(tables_of(typed, bad)), ""
    except Refused as error:
        said = str(error)
        for part in ("tail_span", "span_m", "immersed_depth", "mast_thickness"):
            if part in said:
                return None, words(f"gear.together_{part}")
        return None, said


def settled(typed: Typed, name: str, words: Words) -> bool:
    """Whether what stands in a field may be kept by itself: no piece of it is missing or refused."""
    needed = name in {f"{s}.{k}" for s, k in FIRST}
    return bool(typed[name].strip() or not needed) and name not in troubles(typed, words)


def to_keep(typed: Typed, before: Typed, at: str, words: Words) -> Tables | None:
    """The sections to write down; None where they make no profile yet. before: each field as it was when another one
    was touched; it holds where a value is refused, or where that in the field `at` does not go with the others: each
    key makes a number, and the one on the way to a refused one was given by nobody. Raises Refused where no value
    goes with the others."""
    taken = {name: text if settled(typed, name, words) else before[name] for name, text in typed.items()}
    profile, together = profile_of(taken, words)
    if profile is None and together:
        taken[at] = before[at]
        profile, together = profile_of(taken, words)
        if together:
            raise Refused(together)
    return tables_of(taken, frozenset(troubles(taken, words))) if profile is not None else None


def make(typed: Typed, own: bool, words: Words) -> GearView:
    """own: the rider's own profile is kept already."""
    bad = troubles(typed, words)
    profile, together = profile_of(typed, words)
    taken = (profile or demo_profile()).table
    fields = {}
    for section, key in (*NAMES, *FIRST, *MORE):
        name = f"{section}.{key}"
        needed = (section, key) in FIRST
        hint = "" if needed or key not in SHOWN else words.number(float(taken[section][key]) * SHOWN[key][1], 3)
        fields[name] = FieldView(
            name, words(f"gear.{section}_{key}"), SHOWN.get(key, ("", 1))[0], _trimmed(hint), bad.get(name, "")
        )
    return GearView(fields, together, "" if own or profile else words("gear.invented"))


def _trimmed(hint: str) -> str:
    return hint.rstrip("0").rstrip(".,") if "," in hint or "." in hint else hint


def toml(tables: Tables) -> str:
    """The sections as a TOML file. (JSON's strings are TOML's basic strings; floats are written in full.)"""
    lines = []
    for section, keys in tables.items():
        if keys:
            lines.append(f"[{section}]")
            lines += [f"{k} = {json.dumps(v, ensure_ascii=False)}" for k, v in keys.items()]
    return "\n".join(lines) + "\n"


def in_a_line(profile: Profile | None, words: Words) -> str:
    """Rider and foil, for a row that leads here."""
    shown = profile or demo_profile()
    text = f"{shown.rider}, {shown.foil}"
    return text if profile is not None else words("gear.not_yet")


def no_band(words: Words) -> BandView:
    """In place of a band while the values make no profile."""
    return BandView((), (), None, words("gear.band_lacks"), "", "", "", "")


def band(table: BandTable, words: Words) -> BandView:
    """The band over the speeds where pumping is feasible."""
    rows = [(b.speed, table.at(b.speed)) for b in table.bands]
    good = [(v, b) for v, b in rows if b.lo is not None and b.hi is not None and b.target is not None]
    if not good:
        return BandView((), (), None, words("gear.no_band"), "", "", "", "")
    first, last = good[0][0], good[-1][0]
    low = math.floor(min(60 * b.lo for _, b in good) / 10) * 10
    high = math.ceil(max(60 * b.hi for _, b in good) / 10) * 10

    def across(v: float) -> float:
        return (v - first) / max(1e-9, last - first)

    def up(hz: float) -> float:
        return (60 * hz - low) / (high - low)

    cruise = table.at(None)
    said, mark = words("gear.no_band"), None
    if cruise.lo is not None and cruise.hi is not None and cruise.target is not None:
        said = words(
            "gear.band",
            lo=f"{60 * cruise.lo:.0f}",
            hi=f"{60 * cruise.hi:.0f}",
            target=f"{60 * cruise.target:.0f}",
            speed=words.number(cruise.speed, 1),
        )
        mark = (across(cruise.speed), up(cruise.target))
    return BandView(
        tuple((across(v), up(b.lo), up(b.hi)) for v, b in good),
        tuple((across(v), up(b.target)) for v, b in good),
        mark,
        said,
        f"{words.number(first, 1)} m/s",
        f"{words.number(last, 1)} m/s",
        words("gear.per_minute", n=low),
        words("gear.per_minute", n=high),
    )
