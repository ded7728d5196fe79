"""Profiles: a rider, a foil and the water in a TOML file, checked against ranges before anything is computed.

    load_profile(path) -> Profile       Refused with one line (file, key, value, range) for anything that is wrong
    profile_from(tables) -> Profile     the same from a mapping, as an outing keeps it
    demo_profile() -> Profile           an invented rider
    Profile.setup, .table (everything, with the defaults filled in; goes through JSON), .assumed (what was not given)

Only mass, wing area and span must be given. No range spans a factor of ten, so that a value in the wrong unit cannot
pass (the water's temperature apart).
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from importlib.resources import files
from pathlib import Path
from typing import Any

import attrs

from cadence_coach.errors import Refused
from cadence_coach.foil.setup import Setup
from cadence_coach.foil.water import SALINITY, water

Tables = dict[str, dict[str, Any]]
STROKE_BY_HEIGHT = 0.24
"""Most leg travel / body height: a deep but quick knee bend; an engineering value."""
DEMO = "demo_rider.toml"
_LARGEST = 100_000


@attrs.frozen
class Key:
    """One number of a profile: unit, range, and the default, made from what is there already; None if it must be
    given."""

    unit: str
    lo: float
    hi: float
    default: Callable[[Tables], float] | None
    into: str
    """name in Setup, or "" """


def _fixed(value: float) -> Callable[[Tables], float]:
    return lambda _: value


def _stroke(tables: Tables) -> float:
    return round(STROKE_BY_HEIGHT * float(tables["rider"]["height_m"]), 3)


def _depth(tables: Tables) -> float:
    return round(0.6 * float(tables["foil"]["mast_length_m"]), 3)


NUMBERS: dict[str, dict[str, Key]] = {
    "rider": {
        "mass_kg": Key("kg", 30, 160, None, "mass"),
        "height_m": Key("m", 1.2, 2.2, _fixed(1.75), ""),
        "leg_stroke_m": Key("m", 0.15, 0.7, _stroke, "stroke"),
        "drag_area_m2": Key("m2", 0.15, 1.2, _fixed(0.5), "drag_area"),
    },
    "foil": {
        "wing_area_m2": Key("m2", 0.05, 0.4, None, "area"),
        "span_m": Key("m", 0.5, 2.0, None, "span"),
        "thickness_ratio": Key("", 0.05, 0.25, _fixed(0.12), "thickness_ratio"),
        "cl_max": Key("", 0.6, 1.8, _fixed(1.2), "cl_max"),
        "tail_area_m2": Key("m2", 0.006, 0.05, _fixed(0.024), "tail_area"),
        "tail_span_m": Key("m", 0.15, 0.8, _fixed(0.42), "tail_span"),
        "fuselage_area_m2": Key("m2", 0.015, 0.14, _fixed(0.06), "fuselage_area"),
        "mast_chord_m": Key("m", 0.06, 0.25, _fixed(0.12), "mast_chord"),
        "mast_thickness_m": Key("m", 0.006, 0.04, _fixed(0.015), "mast_thickness"),
        "mast_length_m": Key("m", 0.3, 1.2, _fixed(0.75), "mast_length"),
        "immersed_depth_m": Key("m", 0.15, 1.1, _depth, "depth"),
        "board_and_foil_kg": Key("kg", 2.5, 20, _fixed(7.5), "gear_mass"),
    },
    "water": {"temperature_c": Key("C", 0, 40, _fixed(15.0), "")},
    "phone": {},
}
WORDS = {
    "rider": {"name": "rider"},
    "foil": {"name": "foil"},
    "water": {"kind": "fresh"},
    "phone": {"worn_at": "unknown"},
}
"""The keys that hold text, and their defaults."""
_SMALLER = {"m": ((1e-2, "cm"), (1e-3, "mm")), "m2": ((1e-4, "cm2"), (1e-6, "mm2")), "kg": ((1e-3, "g"),)}


@attrs.frozen
class Profile:
    """A checked profile. `table` holds sections and keys as in the file, defaults filled in; `assumed` names those as
    "section.key"; `path` is where it came from, "" if from no file."""

    setup: Setup
    table: Tables
    assumed: tuple[str, ...]
    path: str = ""

    @property
    def rider(self) -> str:
        return str(self.table["rider"]["name"])

    @property
    def foil(self) -> str:
        return str(self.table["foil"]["name"])

    @property
    def worn_at(self) -> str:
        return str(self.table["phone"]["worn_at"])

    def same_rider(self, other: Profile) -> bool:
        """By name and mass: with another mass one has another endurance."""
        return (self.rider, self.setup.mass) == (other.rider, other.setup.mass)

    def said(self) -> str:
        """One line that tells which numbers were not given and what was taken; "" when all were."""
        parts = []
        for name in self.assumed:
            section, key = name.split(".")
            if key in NUMBERS[section] or key == "kind":
                unit = NUMBERS[section][key].unit if key != "kind" else ""
                parts.append(f"{key} {self.table[section][key]}{' ' + unit if unit else ''}")
        return "not given, taken: " + ", ".join(parts) if parts else ""


def load_profile(path: str | Path) -> Profile:
    """The profile in a TOML file. Refused in one line when it cannot be read or anything in it is wrong."""
    path = Path(path)
    try:
        if path.stat().st_size > _LARGEST:
            raise Refused(f"{path}: too large for a profile; give a TOML file with [rider] and [foil]")
        text = path.read_bytes().decode("utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        why = error.strerror if isinstance(error, OSError) else "not UTF-8 text"
        raise Refused(
            f"{path}: cannot be read as a profile ({why}); give a TOML file with [rider] and [foil]"
        ) from None
    return _parse(text, str(path))


def demo_profile() -> Profile:
    """An invented rider on an invented foil."""
    return _parse(files("cadence_coach.foil").joinpath(DEMO).read_text("utf-8"), "")


def _parse(text: str, path: str) -> Profile:
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise Refused(f"{path or 'profile'}: not valid TOML: {str(error).splitlines()[0]}") from None
    return profile_from(tables, path)


def profile_from(tables: Mapping[str, Any], path: str = "") -> Profile:
    """The profile in a mapping of sections, as `Profile.table` or a parsed file has it."""
    where = path or "profile"
    for section, keys in tables.items():
        _known(where, section, keys)
    given: Tables = {section: dict(tables.get(section, {})) for section in NUMBERS}
    full: Tables = {section: {} for section in NUMBERS}
    assumed: list[str] = []
    for section, words in WORDS.items():
        for key, default in words.items():
            if key not in given[section]:
                assumed.append(f"{section}.{key}")
            full[section][key] = _word(where, section, key, given[section].get(key, default))
    for section, numbers in NUMBERS.items():
        for key, rule in numbers.items():
            if key in given[section]:
                full[section][key] = _number(where, section, key, given[section][key], rule)
            elif rule.default is None:
                raise Refused(f"{where}: [{section}] {key} is missing; give it in {rule.unit}, {_range(rule)}")
            else:
                full[section][key] = _number(where, section, key, rule.default(full), rule)
                assumed.append(f"{section}.{key}")
    _together(where, full["foil"])
    values = {
        rule.into: full[section][key] for section, keys in NUMBERS.items() for key, rule in keys.items() if rule.into
    }
    setup = Setup(**values, water=water(full["water"]["kind"], full["water"]["temperature_c"]))
    return Profile(setup, full, tuple(assumed), path)


def _known(where: str, section: str, keys: Any) -> None:
    """Refuses a section or key that does not exist, naming the nearest one that does."""
    if section not in NUMBERS:
        home = next((s for s in NUMBERS if section in NUMBERS[s] or section in WORDS[s]), None)
        if home:
            raise Refused(f"{where}: {section} stands outside a section; put it under [{home}]")
        raise Refused(f"{where}: no such section [{section}]{_nearest(section, list(NUMBERS))}")
    if not isinstance(keys, Mapping):
        raise Refused(f"{where}: {section} = {_short(keys)} must be a section: write [{section}] and its keys under it")
    for key in keys:
        here = [*WORDS[section], *NUMBERS[section]]
        if key not in here:
            home = next((s for s in NUMBERS if key in NUMBERS[s] or key in WORDS[s]), None)
            if home:
                raise Refused(f"{where}: {key} stands under [{section}]; it belongs under [{home}]")
            raise Refused(f"{where}: [{section}] has no key {key} (value {_short(keys[key])}){_nearest(key, here)}")


def _short(value: Any) -> str:
    """A value as a line can bear it."""
    text = f"a number of {value.bit_length()} bits" if isinstance(value, int) and abs(value) > 10**18 else repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _nearest(word: str, known: list[str]) -> str:
    from difflib import get_close_matches  # only a mistake needs it

    near = get_close_matches(word, known, 1, 0.55)
    return f"; did you mean {near[0]}?" if near else f"; there are {', '.join(known)}"


def is_name(value: Any) -> bool:
    """Whether it can be a name in a profile."""
    return isinstance(value, str) and bool(value.strip()) and len(value) <= 100 and value.isprintable()


def _word(where: str, section: str, key: str, value: Any) -> str:
    if not is_name(value):
        raise Refused(f"{where}: [{section}] {key} = {_short(value)} must be text of 1 to 100 characters")
    if key == "kind" and value not in SALINITY:
        raise Refused(f"{where}: [{section}] {key} = {_short(value)} must be one of {', '.join(SALINITY)}")
    return str(value).strip()


def _range(rule: Key) -> str:
    return f"{rule.lo:g} to {rule.hi:g}{' ' + rule.unit if rule.unit else ''}"


def _number(where: str, section: str, key: str, value: Any, rule: Key) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise Refused(f"{where}: [{section}] {key} = {_short(value)} must be a number, {_range(rule)}")
    if rule.lo <= value <= rule.hi:  # also false for NaN, and never too large for a float
        return float(value)
    hint = ""
    for factor, unit in _SMALLER.get(rule.unit, ()):
        if abs(value) < 1e12 and rule.lo <= value * factor <= rule.hi:
            hint = f"; if that was in {unit}, write {value * factor:.4g}"
    raise Refused(f"{where}: [{section}] {key} = {_short(value)} is outside {_range(rule)}{hint}")


def _together(where: str, foil: dict[str, Any]) -> None:
    """Values that are sane alone and absurd together."""
    for what, area, span, lo, hi in (
        ("span_m^2 / wing_area_m2", foil["wing_area_m2"], foil["span_m"], 3, 25),
        ("tail_span_m^2 / tail_area_m2", foil["tail_area_m2"], foil["tail_span_m"], 2, 25),
    ):
        if not lo <= span**2 / area <= hi:
            raise Refused(f"{where}: [foil] {what} = {span**2 / area:.3g} is outside {lo} to {hi}; check both values")
    depth, mast = foil["immersed_depth_m"], foil["mast_length_m"]
    if depth >= mast:
        raise Refused(f"{where}: [foil] immersed_depth_m = {depth} is outside 0.15 to {mast} m, the mast's length")
    ratio = foil["mast_thickness_m"] / foil["mast_chord_m"]
    if not 0.05 <= ratio <= 0.3:
        raise Refused(
            f"{where}: [foil] mast_thickness_m / mast_chord_m = {ratio:.3g} is outside 0.05 to 0.3; check both"
        )
