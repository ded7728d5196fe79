"""Profiles: what is right is taken, what is wrong is one line with key, value and range."""

from __future__ import annotations

import copy
import json
import math
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cadence_coach.errors import Refused
from cadence_coach.foil.profile import NUMBERS, WORDS, demo_profile, load_profile, profile_from

LEAST: dict[str, dict[str, Any]] = {"rider": {"mass_kg": 75}, "foil": {"wing_area_m2": 0.16, "span_m": 1.26}}
EVERY = [(section, key) for section, keys in NUMBERS.items() for key in keys]


def with_(section: str, key: str, value: Any) -> dict[str, Any]:
    tables = copy.deepcopy(LEAST)
    tables.setdefault(section, {})[key] = value
    return tables


def refusal(tables: dict[str, Any]) -> str:
    with pytest.raises(Refused) as caught:
        profile_from(tables)
    text = str(caught.value)
    assert "\n" not in text and len(text) < 300
    return text


def test_three_numbers_are_enough_and_the_rest_is_said() -> None:
    profile = profile_from(LEAST)
    assert profile.setup.mass == 75 and profile.setup.area == 0.16 and profile.setup.span == 1.26
    assert profile.setup.stroke == pytest.approx(0.24 * 1.75)
    assert profile.setup.depth == pytest.approx(0.6 * 0.75)
    said = profile.said()
    for _, key in EVERY:
        assert (f" {key} " in said) == (key not in ("mass_kg", "wing_area_m2", "span_m"))
    assert "temperature_c 15.0 C" in said and "leg_stroke_m 0.42 m" in said


@pytest.mark.parametrize("section, key", [("rider", "mass_kg"), ("foil", "wing_area_m2"), ("foil", "span_m")])
def test_what_must_be_given(section: str, key: str) -> None:
    tables = copy.deepcopy(LEAST)
    del tables[section][key]
    assert f"[{section}] {key} is missing" in refusal(tables)
    assert "is missing" in refusal({})


BAD = [0, -1, math.nan, math.inf, "12", True, None, [1], 10**400, -(10**30), 1e300]


@pytest.mark.parametrize(
    "section, key, bad",
    [(*where, bad) for where in EVERY for bad in BAD if (where[1], repr(bad)) != ("temperature_c", "0")],
)
def test_a_bad_value_names_key_value_and_range(section: str, key: str, bad: Any) -> None:
    rule = NUMBERS[section][key]
    text = refusal(with_(section, key, bad))
    assert key in text and f"{rule.lo:g} to {rule.hi:g}" in text
    assert (repr(bad) in text) or "bits" in text


@pytest.mark.parametrize("section, key", [e for e in EVERY if e[1] != "temperature_c"])
@pytest.mark.parametrize("factor", [10, 100, 1000, 10_000, 0.1, 0.01, 0.001])
def test_a_wrong_unit_cannot_pass(section: str, key: str, factor: float) -> None:
    """Whatever is allowed is refused when it is ten or more times larger or smaller: no range spans a factor of ten."""
    rule = NUMBERS[section][key]
    assert rule.hi / rule.lo < 10
    middle = math.sqrt(rule.lo * rule.hi)
    assert key in refusal(with_(section, key, middle * factor))


@pytest.mark.parametrize(
    "section, key, value, hint",
    [
        ("foil", "wing_area_m2", 1600, "if that was in cm2, write 0.16"),
        ("foil", "span_m", 126, "if that was in cm, write 1.26"),
        ("foil", "mast_thickness_m", 15, "if that was in mm, write 0.015"),
        ("rider", "mass_kg", 75_000, "if that was in g, write 75"),
        ("water", "temperature_c", 59, "0 to 40 C"),
        ("water", "temperature_c", 288, "0 to 40 C"),
    ],
)
def test_the_likely_unit_is_named(section: str, key: str, value: float, hint: str) -> None:
    assert hint in refusal(with_(section, key, value))


@pytest.mark.parametrize(
    "section, key, words",
    [
        ("rider", "mas_kg", "did you mean mass_kg?"),
        ("foil", "wingarea_m2", "did you mean wing_area_m2?"),
        ("foil", "spann_m", "did you mean span_m?"),
        ("rider", "span_m", "belongs under [foil]"),
        ("water", "zzz", "there are kind, temperature_c"),
        ("riders", "mass_kg", "did you mean rider?"),
        ("boat", "length", "there are rider, foil, water, phone"),
    ],
)
def test_an_unknown_key_names_the_nearest(section: str, key: str, words: str) -> None:
    text = refusal(with_(section, key, 7))
    assert words in text


@pytest.mark.parametrize(
    "changes, words",
    [
        ({"span_m": 0.6}, "span_m^2 / wing_area_m2 = 2.25 is outside 3 to 25"),
        ({"immersed_depth_m": 0.8}, "the mast's length"),
        ({"tail_span_m": 0.8, "tail_area_m2": 0.008}, "tail_span_m^2"),
        ({"mast_thickness_m": 0.04, "mast_chord_m": 0.07}, "mast_thickness_m / mast_chord_m"),
    ],
)
def test_values_that_are_absurd_together(changes: dict[str, float], words: str) -> None:
    tables = copy.deepcopy(LEAST)
    tables["foil"].update(changes)
    assert words in refusal(tables)


@pytest.mark.parametrize(
    "part, area, span, taken",
    [("", 0.16, 0.694, True), ("", 0.16, 0.692, False), ("", 0.12, 1.731, True), ("", 0.12, 1.733, False),
     ("tail_", 0.02, 0.201, True), ("tail_", 0.02, 0.199, False), ("tail_", 0.012, 0.547, True),
     ("tail_", 0.012, 0.548, False)],
)  # fmt: skip
def test_how_slender_a_wing_may_be(part: str, area: float, span: float, taken: bool) -> None:
    """Aspect ratio: span^2 / area (textbook definition, from memory). The bounds are ours: 3 or, for tails, 2 to 25."""
    tables = copy.deepcopy(LEAST)
    tables["foil"].update({f"{part or 'wing_'}area_m2": area, f"{part}span_m": span})
    if taken:
        profile_from(tables)
    else:
        assert f"{part}span_m^2" in refusal(tables)


@pytest.mark.parametrize("mass, taken", [(30, True), (29.9, False), (160, True), (160.1, False)])
def test_how_heavy_a_rider_may_be(mass: float, taken: bool) -> None:
    if taken:
        assert profile_from(with_("rider", "mass_kg", mass)).setup.mass == mass
    else:
        assert "30 to 160 kg" in refusal(with_("rider", "mass_kg", mass))


@pytest.mark.parametrize("value", ["", "  ", 5, "a\nb", "x" * 101])
def test_bad_words(value: Any) -> None:
    assert "name" in refusal(with_("rider", "name", value))
    assert "must be one of fresh, brackish, sea" in refusal(with_("water", "kind", "salty"))


def test_what_is_no_section() -> None:
    assert "must be a section" in refusal({**LEAST, "water": "sea"})
    assert "put it under [rider]" in refusal({**LEAST, "mass_kg": 75})


def test_a_profile_survives_its_own_table() -> None:
    """What an outing keeps gives the same profile back, through JSON."""
    profile = demo_profile()
    again = profile_from(json.loads(json.dumps(profile.table)))
    assert again.setup == profile.setup and again.assumed == ()


def test_demo_is_complete_and_marked_as_invented() -> None:
    profile = demo_profile()
    assert profile.assumed == () and profile.said() == ""
    assert "invented" in profile.rider and "invented" in profile.foil
    assert set(profile.table) == set(NUMBERS) == set(WORDS)


def test_files(tmp_path: Path) -> None:
    path = tmp_path / "me.toml"
    path.write_text('[rider]\nname = "Ada Wave (invented)"\nmass_kg = 60\n[foil]\nwing_area_m2 = 0.14\nspan_m = 1.2\n')
    profile = load_profile(path)
    assert profile.rider == "Ada Wave (invented)" and profile.path == str(path)
    path.write_text("[rider\n")
    for bad, words in (
        (path, "not valid TOML"),
        (tmp_path / "none.toml", "cannot be read"),
        (tmp_path, "cannot be read"),
    ):
        with pytest.raises(Refused, match=words) as caught:
            load_profile(bad)
        assert str(bad) in str(caught.value) and "\n" not in str(caught.value)
    path.write_bytes(b"\xff\xfe\x00\x01")
    with pytest.raises(Refused, match="UTF-8"):
        load_profile(path)
    path.write_bytes(b"#" * 200_000)
    with pytest.raises(Refused, match="too large"):
        load_profile(path)


@given(data=st.data())
def test_any_profile_inside_the_ranges_is_a_setup(data: st.DataObject) -> None:
    """Whatever is drawn is either a setup, or refused for one reason in one line."""
    tables: dict[str, Any] = {s: {} for s in NUMBERS}
    for section, key in EVERY:
        rule = NUMBERS[section][key]
        tables[section][key] = data.draw(st.floats(rule.lo, rule.hi))
    try:
        profile = profile_from(tables)
    except Refused as refused:
        assert "\n" not in str(refused) and "[foil]" in str(refused)
    else:
        assert profile.setup.heave_limit >= 0 and profile.setup.mu > 0
