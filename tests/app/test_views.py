"""What the pages show, from what they are given: no window, no clock."""

from __future__ import annotations

import tomllib

import attrs
import pytest

from cadence_coach.app.health import Health
from cadence_coach.app.link import Line
from cadence_coach.app.views import before, gear, home, land, water
from cadence_coach.app.words import Words
from cadence_coach.core.guard import time_limit_s, turn_back_m
from cadence_coach.core.settings import Settings
from cadence_coach.foil.band import band_table
from cadence_coach.foil.profile import NUMBERS, demo_profile, profile_from
from cadence_coach.live.snapshot import Snapshot
from cadence_coach.safety import points
from tests.app.pages import BAND, FLIGHT, GOING, SHORT, TOLD, TRAINS

EN, DE = Words("en"), Words("de")


# ---- on the water ----


def shown(kind="here", words=EN, **snapshot):
    return water.make(Line(kind, Snapshot(**snapshot) if snapshot else None), words)


@pytest.mark.parametrize(
    ("cadence", "place", "standing"),
    [
        (BAND["lo"], -1.0, "in the band"),
        (BAND["hi"], 1.0, "in the band"),
        ((BAND["lo"] + BAND["hi"]) / 2, 0.0, "in the band"),
        (1.19, None, "under the band"),
        (1.94, None, "over the band"),
        (0.2, -2.0, "under the band"),
        (9.0, 2.0, "over the band"),
    ],
)
def test_the_mark_stands_where_the_cadence_is(cadence, place, standing):
    view = shown(**{**FLIGHT, "cadence_hz": cadence})
    assert view.standing == standing and view.cadence == f"{60 * cadence:.0f}"
    if place is not None:
        assert view.place == pytest.approx(place)


def test_a_flight_in_words():
    view = shown(**FLIGHT)
    assert (view.mood, view.word, view.timer, view.pumps) == ("flight", "Flight 12", "1:23", "131")
    assert view.band == "band 72 to 116 a minute" and view.cue == ""
    assert shown(**{**FLIGHT, "band": {**BAND, "lo": None, "hi": None}}).place is None
    assert shown(**{**FLIGHT, "cadence_hz": None}).cadence == "–"


def test_a_cue_is_shown_for_a_moment_as_it_was_said():
    said = {"kind": "slower_bigger", "reason": "", "t_s": 597.0}
    assert shown(**{**FLIGHT, "last_cue": said}).cue == "slower, bigger"
    assert shown(words=DE, **{**FLIGHT, "last_cue": said}).cue == "langsamer, größer"
    assert shown(**{**FLIGHT, "last_cue": {**said, "t_s": 590.0}}).cue == ""


@pytest.mark.parametrize(
    ("mood", "kind", "snapshot"),
    [
        ("coming", "none", {}),
        ("coming", "coming", {}),
        ("armed", "here", {**GOING, "phase": "armed"}),
        ("shore", "here", GOING),
        ("trying", "here", {**GOING, "motion": "attempt"}),
        ("paused", "here", {**GOING, "phase": "paused"}),
        ("deaf", "here", {**GOING, "sensor": "silent"}),
        ("deaf", "here", {**FLIGHT, "sensor": "stuck"}),
        ("flight", "here", {**FLIGHT, "sensor": "rate_halved"}),
        ("rest", "here", {**GOING, "last_flight_s": 5.0}),
        ("ended", "here", {**GOING, "phase": "ended"}),
        ("ended", "ended", GOING),
        ("gone", "gone", FLIGHT),
        ("gone", "gone", {}),
        ("failed", "failed", {}),
    ],
)
def test_each_state_has_its_mood_and_its_own_word(mood, kind, snapshot):
    view = shown(kind, **snapshot)
    assert view.mood == mood and view.word
    assert view.can_rescue == (mood == "gone") and view.can_look == (mood == "ended")


def test_states_are_told_apart_by_words():
    states = [("none", {}), ("gone", {}), ("failed", {}), ("ended", GOING), ("here", GOING), ("here", FLIGHT)]
    states += [("here", {**GOING, "phase": "paused"}), ("here", {**GOING, "sensor": "silent"})]
    words = {shown(kind, **snapshot).word for kind, snapshot in states}
    assert len(words) == 8


def test_five_figures_and_the_sentence():
    view = shown(**GOING, last_flight_s=83.4, summary=TOLD)
    assert [v for _, v in view.figures] == ["83 s best today", "131", "98 › 91", "61 % (66 %)", "4.7 › 4.4"]
    assert view.sentence == "The beat slipped. Rest longer, then hold it."
    view = shown(words=DE, **GOING, last_flight_s=4.1, summary=SHORT)
    assert [v for _, v in view.figures] == ["4 s", "6", "4 von 5", "105", "45 % (72 %)", "0,5 s"]
    for start, where in (("dock", "on your own"), ("rope", "on your own"), ("rope_drill", "on the rope")):
        view = shown(**(GOING | {"start": start}), last_flight_s=83.4, summary=TOLD)
        assert view.figures[0][0] == where
    assert shown(**GOING, last_flight_s=125.0, flight_pumps=200).figures[0][1] == "2:05 min"


@pytest.mark.parametrize("words", [EN, DE])
def test_an_outing_that_nobody_ended_says_why_it_did(words):
    over = {**GOING, "phase": "ended", "battery_percent": 7.6}
    assert shown("ended", words, **over, ended_by="stopped").notes == ""
    assert shown("ended", words, **over, ended_by="end_of_data").notes == ""
    told = {by: shown("ended", words, **over, ended_by=by).notes for by in ("battery", "error")}
    assert "8 %" in told["battery"] and told["error"] not in ("", told["battery"])
    lost = shown("ended", words, **over, ended_by="error", store="full")
    assert lost.notes.startswith(told["error"] + " ") and lost.word != shown("ended", words, **over).word
    trained = land.going(Line("ended", Snapshot(**over, ended_by="battery", land=TRAINS)), words)
    assert told["battery"] in [getattr(block, "text", "") for block in trained.blocks]


def test_notes_are_few_and_the_worst_comes_first():
    wrong = {"store": "full", "battery_percent": 9.0, "sensor": "rate_halved", "sink": "silent"}
    said = ["storage is in trouble", "battery 9 %", "sensor uneven", "no sound output", "no speed"]
    for first in range(len(said) - 1):
        now = dict(list(wrong.items())[first:])
        assert shown(**GOING | now).notes == " · ".join(said[first : first + 2])
    assert shown(**GOING | wrong | {"muted": True, "store": ""}).notes == "battery 9 % · sensor uneven"
    assert shown(**GOING, muted=True).notes == "muted · no speed"
    assert shown(**{**GOING, "speed_m_s": 4.0}).notes == ""


# ---- gear ----


def typed(**more):
    return {**gear.typed_of(None), "rider.mass_kg": "72", "foil.wing_area_m2": "1650", "foil.span_m": "128", **more}


def test_three_numbers_make_a_profile():
    profile, trouble = gear.profile_of(typed(), EN)
    assert trouble == "" and profile.setup.mass == 72 and profile.setup.area == pytest.approx(0.165)
    assert profile.setup.span == pytest.approx(1.28)


def test_what_was_typed_comes_back_from_the_file():
    given = typed(**{"rider.height_m": "181,5", "rider.name": 'Mika "Sand" \\ (erfunden)', "water.temperature_c": "11"})
    profile, _ = gear.profile_of(given, EN)
    again = profile_from(tomllib.loads(gear.toml(gear.tables_of(given))))
    assert again.table == profile.table and again.rider == 'Mika "Sand" \\ (erfunden)'
    back = gear.typed_of(again)
    assert back["rider.height_m"] == "181.5" and back["foil.span_m"] == "128" and back["foil.cl_max"] == ""
    assert gear.profile_of(back, EN)[0].table == profile.table


def test_every_number_of_a_profile_has_a_field_with_a_unit_and_a_name():
    view = gear.make(typed(), True, DE)
    names = {f"{s}.{k}" for s, keys in NUMBERS.items() for k in keys}
    assert names <= set(view.fields)
    assert all(f.label for f in view.fields.values())
    assert view.fields["foil.mast_length_m"].hint == "75" and view.fields["foil.mast_length_m"].unit == "cm"


@pytest.mark.parametrize("text", ["7", "abc", "1e9", "nan", "-72", "72 kg", "--"])
def test_a_bad_value_is_told_with_its_range_and_loses_nothing(text):
    given = typed(**{"rider.height_m": text})
    view = gear.make(given, True, EN)
    assert "120" in view.fields["rider.height_m"].trouble and "220 cm" in view.fields["rider.height_m"].trouble
    profile, _ = gear.profile_of(given, EN)
    assert profile.setup.mass == 72 and "rider.height_m" in profile.assumed
    assert gear.profile_of(typed(**{"rider.mass_kg": text}), EN) == (None, "")


@pytest.mark.parametrize("name", ["rider.name", "foil.name"])
@pytest.mark.parametrize("text", ["M" * 101, "Mi\x7fka"])
def test_a_name_that_is_none_is_told_at_its_field_and_loses_nothing(name, text):
    for words in (EN, DE):
        view = gear.make(typed(**{name: text}), True, words)
        assert view.fields[name].trouble == words("gear.bad_name") and view.trouble == ""
        profile, _ = gear.profile_of(typed(**{name: text}), words)
        assert profile.setup.mass == 72 and name in profile.assumed
    assert gear.profile_of(typed(**{name: "M" * 100}), EN)[0].table[name.split(".")[0]]["name"] == "M" * 100


def kept(before, at, text):
    """What is written down when `text` stands in the field `at` of what was there before; "": nothing is."""
    tables = gear.to_keep({**before, at: text}, before, at, EN)
    return gear.typed_of(profile_from(tables)) if tables else ""


def test_of_a_value_that_is_refused_no_piece_is_kept():
    """75 stands there on the way to 750, 128 on the way to 1280."""
    before = typed(**{"water.temperature_c": "8"})
    assert kept(before, "rider.mass_kg", "75")["rider.mass_kg"] == "75"
    assert kept(before, "rider.mass_kg", "750") == kept(before, "rider.mass_kg", "") == before
    assert kept(before, "water.temperature_c", "80") == before
    assert kept(before, "water.temperature_c", "")["water.temperature_c"] == ""
    assert kept(before, "foil.tail_span_m", "16") == before  # not together with the tail's area
    fresh = {**typed(), "foil.span_m": ""}
    assert kept(fresh, "foil.span_m", "128") == typed()
    assert kept(fresh, "foil.span_m", "1280") == ""  # as little as before it was typed


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"foil.span_m": "60", "foil.wing_area_m2": "3900"}, "Span and area do not fit"),
        ({"foil.tail_span_m": "16"}, "tail"),
        ({"foil.immersed_depth_m": "90"}, "deeper"),
        ({"foil.mast_thickness_m": "40", "foil.mast_chord_m": "60"}, "Thickness and chord"),
    ],
)
def test_values_that_do_not_fit_together_are_told(change, words):
    profile, trouble = gear.profile_of(typed(**change), EN)
    assert profile is None and words in trouble
    assert gear.profile_of(typed(**change), DE)[1] not in ("", trouble)


def test_the_picture_of_the_band_is_the_band():
    table = band_table(demo_profile().setup)
    view = gear.band(table, EN)
    assert all(0 <= v <= 1 for point in view.body for v in point)
    assert all(lo < hi for _, lo, hi in view.body)
    cruise = table.at(None)
    assert f"{60 * cruise.lo:.0f} to {60 * cruise.hi:.0f}" in view.said
    low, high = (int(t.split()[0]) for t in (view.y_from, view.y_to))
    assert low + view.cruise[1] * (high - low) == pytest.approx(60 * cruise.target)


def test_a_rider_whom_the_model_does_not_carry_is_asked_and_not_told():
    """45 kg on 1800 cm2 and 0.95 m: no speed by the model, within its +-30 %."""
    setup = profile_from({"rider": {"mass_kg": 45.0}, "foil": {"wing_area_m2": 0.18, "span_m": 0.95}}).setup
    view = gear.band(band_table(setup), EN)
    assert view.body == () and view.said.startswith("By this estimate") and view.said.endswith("?")
    assert gear.band(band_table(setup), DE).said.startswith("Nach dieser Schätzung")


# ---- before, home ----


@pytest.mark.parametrize("start", before.STARTS)
def test_every_point_must_be_ticked(start):
    view = before.make(start, set(), None, "", EN)
    keys = {key for key, _ in view.points}
    assert view.left == len(keys) > 15 and {"leash", "pouch", "phone", "volume"} <= keys
    assert before.make(start, keys, None, "", EN).left == 0
    assert before.make(start, keys - {"leash"}, None, "", EN).left == 1
    assert ("kill_cord" in keys) == start.startswith("rope") and ("swimmers" in keys) == (start == "dock")


def test_nothing_is_ready_to_start_while_an_outing_goes_on():
    keys = {key for key, _ in before.make("dock", set(), None, "", EN).points}
    assert before.make("dock", keys, None, "", EN).ready
    view = before.make("dock", keys, None, "", EN, goes_on=True)
    assert not view.ready and view.go.startswith("An outing goes on")
    ticked = frozenset(key for key, _ in points("land"))
    acts = [[getattr(block, "act", "") for block in page.blocks]
            for page in (land.before(land.Chosen(), ticked, None, EN, goes_on=on) for on in (False, True))]  # fmt: skip
    assert land.START in acts[0] and land.RIDING not in acts[0]
    assert land.START not in acts[1] and land.RIDING in acts[1]


@pytest.mark.parametrize("name", ["turn_back_m", "time_limit_s"])
@pytest.mark.parametrize("text", ["200 m", "90000", "0", "-5", "nan", "x"])
def test_no_start_with_a_limit_that_is_refused(name, text):
    keys = {key for key, _ in before.make("dock", set(), None, "", EN).points}
    view = before.make("dock", keys, None, "", EN, limits={name: text})
    assert view.limits[name].trouble.startswith("Give a number") and not view.ready and "limit" in view.go
    assert before.limits_of({name: text}) == {}
    for good in ("", " ", "90", "90,5"):
        view = before.make("dock", keys, None, "", EN, limits={name: good})
        assert view.ready and view.limits[name].trouble == ""


@pytest.mark.parametrize("celsius", [None, 8.0, 14.9, 15.0, 22.0])
def test_the_hint_of_a_limit_is_what_the_guard_takes(celsius):
    view = before.make("dock", set(), None, "", EN, water_c=celsius)
    settings = Settings(water_temperature_c=celsius)
    assert view.limits["turn_back_m"].hint == f"{turn_back_m(settings):.0f}"
    assert view.limits["time_limit_s"].hint == f"{time_limit_s(settings) / 60:.0f}"
    cold = celsius is not None and celsius < 15
    assert (view.limits["turn_back_m"].hint, view.limits["time_limit_s"].hint) == (
        ("100", "25") if cold else ("150", "60")
    )


PLACE = ("android.permission.ACCESS_FINE_LOCATION", "android.permission.ACCESS_COARSE_LOCATION")
NOTES = "android.permission.POST_NOTIFICATIONS"


def test_health_in_words_and_marks():
    good = Health(80.0, 1 << 30, (), True, {"day": "2026-11-27", "passed": True})
    bad = Health(20.0, 10 << 20, (*PLACE, NOTES), False, {"day": "2026-11-27", "passed": False})
    assert {line.state for line in before.make("dock", set(), good, "", EN).health} == {"good"}
    lines = before.make("dock", set(), bad, "", DE).health
    assert {line.state for line in lines} == {"bad"} and len(lines) == 6
    for missing, keys in ((PLACE, {"speed"}), (PLACE[:1], {"speed"}), ((NOTES,), {"notes"})):
        lines = before.make("dock", set(), attrs.evolve(good, missing=missing), "", EN).health
        assert {line.key for line in lines if line.state == "bad"} == keys
    assert {line.key: line.state for line in before.make("dock", set(), Health(), "", EN).health}[
        "battery"
    ] == "unknown"


def test_the_first_row_leads_to_where_the_rider_is():
    assert home.top(Line("none"), EN)[0] == "before"
    assert {home.top(Line(kind), EN)[0] for kind in ("here", "coming", "gone", "failed", "ended")} == {"water"}
    assert len({home.top(Line(kind), EN)[1] for kind in ("none", "here", "gone", "failed", "ended")}) == 5


@pytest.mark.parametrize("words", [EN, DE])
def test_a_training_is_no_ride_on_the_first_page(words):
    ride, trains = Snapshot(**GOING), Snapshot(**GOING, land=TRAINS)
    for kind in ("here", "coming", "ended"):
        shown = home.top(Line(kind, trains), words)
        assert shown[0] == "land"
        assert shown[1] != home.top(Line(kind, ride), words)[1]
    assert home.top(Line("gone", trains), words) == home.top(Line("gone", ride), words)  # made whole on the water page
