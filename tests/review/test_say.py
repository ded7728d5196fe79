"""The texts of a review: every one there in every language, with the same values, and all that is asked for."""

from __future__ import annotations

import re
import string
from dataclasses import replace
from pathlib import Path

import attrs
import pytest

import cadence_coach
from cadence_coach.commands.flight_told import end_lines
from cadence_coach.core import events as ev
from cadence_coach.core.cuebook import CUE_KINDS
from cadence_coach.errors import Refused
from cadence_coach.foil.water import SALINITY
from cadence_coach.live.snapshot import Snapshot
from cadence_coach.review.advice import one_thing
from cadence_coach.review.definitions import DEFINITIONS, definitions
from cadence_coach.review.figures import look
from cadence_coach.review.plain import document
from cadence_coach.review.report import report_html
from cadence_coach.review.rungs import RUNGS
from cadence_coach.review.say import LANGUAGES, Said, from_plain, say, table, tell
from cadence_coach.review.season import season
from cadence_coach.review.season_page import season_html
from cadence_coach.review.words import Words
from tests.review.build import Plan, make
from tests.review.build import table as band
from tests.review.test_outing import flies
from tests.review.test_season import row

ROOT = Path(cadence_coach.__file__).parent


def values(text: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


def test_every_text_is_there_in_every_language_with_the_same_values() -> None:
    assert len(table()) > 250
    for key, texts in table().items():
        assert set(texts) == set(LANGUAGES), key
        assert values(texts["en"]) == values(texts["de"]), key
        assert all(text == text.strip() for text in texts.values()), key


def test_every_text_that_is_asked_for_is_there_and_no_other() -> None:
    """Keys as they stand in the sources; those put together from parts are listed by what they are made of."""
    files = [*(ROOT / "review").rglob("*.py"), *(ROOT / "review").rglob("*.html"), *(ROOT / "commands").rglob("*.py")]
    files += [*(ROOT / "app").rglob("*.py")]
    source = "\n".join(path.read_text("utf-8") for path in files)
    named = set(re.findall(r'"([a-z][a-z0-9_]+)"', source))
    for start in re.findall(r'(?:say|w|words|self)\(\s*"([a-z0-9_]+)"[,)]', source):
        assert start in table() or (ROOT / "app" / "texts.toml").read_text("utf-8").count(f"{start}]"), start
    heads = [*re.findall(r'f"([a-z_]+_)\{[^}"]*\}(?:_[a-z]+)?"', source), "in_", "season_"]
    tails = re.findall(r'f"\{[a-z_.]+\}(_[a-z_]+)"', source)
    spare = [
        key
        for key in table()
        if key not in named and not key.startswith(tuple(heads)) and not key.endswith((*tails, "_name", "_passes"))
    ]
    assert spare == []


@pytest.mark.parametrize("lang", LANGUAGES)
def test_what_is_put_together_from_parts_is_there(lang: str) -> None:
    words = Words(lang)
    for rung in RUNGS:
        assert all(words.tell(said) for said in (rung.name, rung.why, rung.practise, rung.passes))
    assert all(words.started(kind) for kind in ev.STARTED_BY) and all(words.ended(kind) for kind in ev.ENDED_BY)
    assert all(f"fault_{kind}" in table() for kind in ev.FAULTS)
    assert all(f"cue_{kind}" in table() for kind in CUE_KINDS)


def test_german_has_its_own_decimals_dates_and_words() -> None:
    words = Words("de")
    assert words.number(1.25, 2, "s") == "1,25 s" and words.percent(0.0512, 1) == "5,1 %"
    assert words("care_holes", n=2, seconds=6.04) == (
        "2 Lücken in den Daten, 6,0 s insgesamt; ein Flug, dem mehr als 2 % fehlen, wird nirgends gewertet."
    )
    assert words.when("2026-03-01T09:05:00Z") == "1. März 2026, 09:05 UTC"
    assert Words("en").when("2026-03-01T09:05:00Z") == "1 March 2026, 09:05 UTC"
    assert tell(say("size_why", seen=say("in_flights", n=2, all=3), has=54.2, needs=65.0), "de").startswith(
        "In 2 von 3 Flügen waren deine Pumps 54 % deines Gewichts"
    )


def test_an_unknown_language_is_refused_in_one_line() -> None:
    with pytest.raises(Refused, match="choose one of en, de"):
        Words("fr")


@pytest.mark.parametrize(
    ("seconds", "shown"),
    [
        (0.4, "0 s"), (99.4, "99 s"), (99.6, "1:40 min"), (116.6, "1:57 min"), (119.6, "2:00 min"),
        (157.0, "2:37 min"), (3599.6, "1:00 h"), (3710.0, "1:02 h"),
    ],
)  # fmt: skip
def test_a_length_of_time_is_spelt_one_way_everywhere(seconds, shown) -> None:
    """In a table, a sentence, the ladder, the season, and live."""
    assert Words.span(seconds) == tell(say("longest_s", n=seconds)).removeprefix("longest ") == shown
    assert f"longest flight {shown}." in Words()("season_line", n=1, pumps=2, best=seconds)
    assert f"zweiter {shown}" in tell(say("longest_and_second", longest="x", second=seconds), "de")
    assert end_lines(replace(Snapshot(), best_s=seconds))[0].endswith(f"longest {shown}.")


@pytest.mark.parametrize("kind", [*SALINITY, "muddy"])
def test_waters_are_named_as_a_profile_has_them(kind) -> None:
    assert Words().water(kind) == f"{kind} water"
    assert (kind in Words("de").water(kind)) is (kind == "muddy")


def test_words_of_a_person_are_never_read_as_a_template() -> None:
    assert Words()("note_line", who="{0}", text="{key!r} %s") == "Note of {0}: {key!r} %s"


def test_a_text_comes_back_from_plain_values() -> None:
    said = say("longest_and_flights", n=2, longest=say("longest_s", n=34.5))
    assert from_plain(attrs.asdict(said)) == said
    with pytest.raises(KeyError):
        from_plain({"key": "of another version", "values": {}})


def test_the_report_in_german_has_the_same_figures_and_no_english() -> None:
    looked = look(make(Plan(flies([2, 12, 30]), gaps=[(130.0, 133.0)], notes=[("Lea (invented)", None, "x")])), band())
    english, german = (report_html(looked, lang=lang) for lang in LANGUAGES)
    assert '<html lang="de">' in german and "Das Eine für das nächste Mal" in german
    plain = re.sub(r"(?s)<(style|title)[^>]*>.*?</\1>|<[^>]+>", " ", german)
    left = re.findall(r"\b(the|of|and|pumps a|flight|weight|your|tries|with|aloft|needed)\b", plain)
    assert left == []
    circles = [page.count("<circle") for page in (english, german)]
    assert circles[0] == circles[1] > 20


def test_the_season_in_german_has_no_english() -> None:
    page = season_html(season([row(i) for i in range(8)]), lang="de")
    plain = re.sub(r"(?s)<(style|title)[^>]*>.*?</\1>|<[^>]+>", " ", page)
    assert re.findall(r"\b(the|of|and|longest|your|tries|with|outings|needs)\b", plain) == []


def test_json_tells_its_sentences_in_the_language_asked_for() -> None:
    looked = look(make(Plan(flies([2, 12, 30]))), band())
    advice = one_thing(looked)
    for lang in LANGUAGES:
        body = document(looked, advice, (), lang)
        assert body["work_on"]["says"] == tell(advice.says, lang) and isinstance(body["work_on"]["why"][0], str)


def test_every_definition_is_there_in_german() -> None:
    german = definitions("de")
    assert [d.name for d in german] == [d.name for d in DEFINITIONS]
    assert all(d.title and d.says != e.says for d, e in zip(german, DEFINITIONS, strict=True))


def test_a_said_holds_no_language() -> None:
    assert tell((say("estimate", n="5 %"), Said("at_cruise")), "de") == "5 % (geschätzt) bei deinem Reisetempo"
