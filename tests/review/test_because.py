"""The coach's reasons in the page's words: what the core says of a rider who is off, in both languages."""

from __future__ import annotations

import tomllib

import attrs
import pytest

from cadence_coach.core import events as ev
from cadence_coach.core.cuebook import CORRECTIONS, FAULT_CUES, GUARD
from cadence_coach.core.events import AttemptEnded, Fault, FlightEnded, Impact, SpeedFix, Still
from cadence_coach.core.guard import Call, Guard
from cadence_coach.core.looks import Looks
from cadence_coach.core.settings import Settings
from cadence_coach.review.because import because
from cadence_coach.review.figures import look
from cadence_coach.review.report import report_html
from cadence_coach.review.say import LANGUAGES, say, signed, tell
from cadence_coach.review.words import Words
from cadence_coach.sound import speech
from tests.core.test_looks import pump, see
from tests.review.build import Plan, make
from tests.review.test_outing import flies


@pytest.mark.parametrize(
    ("pumps", "kind", "en", "de"),
    [
        ([pump(1.0)] * 12, "quicker", "60 a minute, under 72", "60 pro Minute, unter 72"),
        ([pump(0.5)] * 12, "slower_bigger", "120 a minute, over 96", "120 pro Minute, über 96"),
        (
            [pump(1 / 1.4, size=0.3)] * 12,
            "bigger",
            "size 30 % of weight, needed 60 %",
            "Größe 30 % des Gewichts, nötig 60 %",
        ),
    ],
)
def test_a_correction_is_told_in_the_pages_words(pumps, kind, en, de):  # type: ignore[no-untyped-def]
    reason = next(f.reason for found in see(Looks(), pumps) for f in found if f.kind == kind)
    assert (because(reason, Words("en")), because(reason, Words("de"))) == (en, de)


def calls() -> list[Call | None]:
    """Every call the guard can make."""
    far, tired, ended = (Guard(Settings(goal_seconds=12.5)) for _ in range(3))
    far.fix(SpeedFix(1.0, 1.0, 4.0, 47.0, 8.0, None, None))
    far.attempt_began(3.0)
    out = [far.fix(SpeedFix(9.0, 9.0, 4.0, 47.01, 8.0, None, None)), far.pump(13.0, 5)]
    out.append(Guard(Settings(goal_pumps=10)).pump(6.0, 10))
    for pumps in (20, 20, 20, 2, 2, 2):
        out.append(tired.attempt_over(AttemptEnded(9.0, 9.0, 0, 1.0, pumps, "step", None, None, "fall", None)))
    ended.begin(0.0)
    ended.flight_over(FlightEnded(40.0, 41.0, 0, 10.0, 9, 40, 1.5, 0.4, 0.6, 0.03, "step", "fall", 0.0, ()))
    ended.impact(Impact(50.0, 50.0, 16.0, True))
    out += ended.due(1e6)
    out.append(tired.still(Still(30.0, 30.0)))
    return [*out, *(Guard(Settings()).fault(Fault(9.0, 9.0, kind, 2)) for kind in FAULT_CUES)]


def test_each_call_of_the_guard_is_told_in_the_pages_words():
    made = [call for call in calls() if call is not None]
    assert {kind for kind, _ in made} == {*GUARD, *FAULT_CUES.values()}
    told = {because(reason, Words("de")) for _, reason in made}
    assert not told & {reason for _, reason in made}, "told as it was kept"
    assert told >= {
        "12,5 s in diesem Flug",
        "10 Pumps in diesem Flug",
        "120 s Pause",
        "die letzten drei Versuche 8 Pumps, die besten drei 20",
        "ein Schlag von 16 g und mehr",
        "20 s keine Bewegung",
        "Akku fast leer",
    }


@pytest.mark.parametrize(
    ("kept", "de"),
    [
        ("shove 0.18 of the period against own 0.26 +-0.05", "Drücken 18 % des Pumps, sonst 26 %"),
        ("2.9 m/s: no feasible pumping at this speed (stall)", "2,9 m/s: zu langsam zum Pumpen"),
    ],
)
def test_lines_as_the_core_keeps_them(kept, de):
    assert because(kept, Words("de")) == de


@pytest.mark.parametrize("lang", LANGUAGES)
def test_a_correction_is_called_what_the_rider_hears(lang):
    heard = tomllib.loads((speech.folder() / lang / "texts.toml").read_text("utf-8"))["cues"]
    assert {kind: Words(lang).cue(kind) for kind in CORRECTIONS} == {kind: heard[kind] for kind in CORRECTIONS}


def test_lighter_says_where_a_size_alone_would_read_as_push_less():
    kept = "size 0.27 g, under 0.53 of 0.62 g"
    assert because(kept, Words(), "bigger") == because(kept, Words()) == "size 27 % of weight, needed 62 %"
    light = because(kept, Words(), "lighter")
    assert light == "not light enough after the push: size 27 % of weight, needed 62 %"
    assert because(kept, Words("de"), "lighter").startswith("nach dem Druck nicht leicht genug: ")
    page = report_html(look(attrs.evolve(make(Plan(flies([12]))), cues=[ev.Cue(33.0, 33.0, "lighter", kept)])))
    assert light in page.replace("\u00a0", " ")


def test_what_has_no_form_stays_as_it_was():
    assert because("three slaps", Words("de")) == "three slaps"
    assert because("153 m from the start, limit 150 m", Words("de")) == "153 m vom Start, Grenze 150 m"


@pytest.mark.parametrize(
    ("text", "set_in_print"),
    [("-3", "−3"), ("-0", "0"), ("+0.0", "0.0"), ("-0,00", "0,00"), ("+2", "+2"), ("-0.4", "−0.4"), ("0", "0")],
)
def test_a_minus_is_a_minus_and_nothing_has_no_sign(text, set_in_print):
    assert signed(text) == set_in_print


@pytest.mark.parametrize(("n", "en", "de"), [(1, "1 outing", "1 Ausfahrt"), (2, "2 outings", "2 Ausfahrten")])
def test_one_and_many(n, en, de):
    assert (tell(say("season_outings", n=n)), tell(say("season_outings", n=n), "de")) == (en, de)
