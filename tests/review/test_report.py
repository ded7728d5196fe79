"""The report: one file, nothing from outside, text as text, no place on request; and its pictures."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from xml.etree import ElementTree

import pytest

from cadence_coach import palette
from cadence_coach.review import pictures
from cadence_coach.review.definitions import DEFINITIONS
from cadence_coach.review.draw import Picture, clock_ticks, ticks
from cadence_coach.review.figures import look
from cadence_coach.review.pictures import part_rows
from cadence_coach.review.report import report_html
from cadence_coach.review.say import minutes
from cadence_coach.review.words import Words
from tests.review.build import Fly, Plan, make, table
from tests.review.test_outing import flies

EVIL = '<script>alert("x")</script><img src=x onerror=y>{{ 7 * 7 }}&'


def evil_plan(**changes):
    return Plan(
        flies([12, 40, 30], speed=4.5),
        profile={"rider": {"name": EVIL}, "foil": {"name": EVIL}, "water": {"kind": EVIL}},
        notes=[(EVIL, None, EVIL), (EVIL, 60.0, EVIL)],
        cues=[(60.0, EVIL)],
        place=(47.123456, 8.654321),
        **changes,
    )


class Tags(HTMLParser):
    """Element names, attributes, and whether every element that must close does."""

    VOID = ("meta", "br", "img", "link", "hr", "input")

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.open, self.seen, self.links = [], [], []
        self.text = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.seen.append(tag)
        self.links += [v for k, v in attrs if k in ("src", "href", "action", "data")]
        assert not any(k.startswith("on") for k, _ in attrs)
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.seen.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text.append(data)


def test_names_and_notes_with_html_in_them_are_text():
    page = Tags(report_html(look(make(evil_plan()), table())))
    assert not page.open
    assert not {"script", "img", "iframe", "object", "link", "form"} & set(page.seen)
    said = "".join(page.text)
    assert said.count(EVIL) >= 5 and said.count("{{ 7 * 7 }}") == said.count(EVIL)


def test_nothing_is_fetched_from_anywhere():
    text = report_html(look(make(evil_plan()), table()))
    page = Tags(text)
    assert all(link.startswith("#") for link in page.links)
    assert "url(" not in text and "@import" not in text
    assert set(re.findall(r"https?://[^\"' <]+", text)) <= {"http://www.w3.org/2000/svg"}  # a name, not an address


def test_place_is_left_out_on_request():
    looked = look(make(evil_plan()), table())
    with_place, without = report_html(looked), report_html(looked, place=False)
    assert "Way over ground" in with_place and "m north" in with_place
    assert "Way over ground" not in without and "m north" not in without
    for text in (with_place, without):
        assert "47.12" not in text and "8.65" not in text  # co-ordinates are in neither


def test_every_picture_is_well_formed_and_every_colour_has_a_name():
    text = report_html(look(make(evil_plan()), table()))
    pictures = re.findall(r"<svg.*?</svg>", text, flags=re.S)
    assert len(pictures) >= 10
    for one in pictures:
        root = ElementTree.fromstring(one)
        assert root.get("role") == "img" and root.get("aria-label")
        for element in root.iter():
            for name in (element.get("class") or "").split():
                kind, _, colour = name.partition("-")
                if kind in ("s", "f", "t"):
                    assert colour in palette.LIGHT or colour == "onpart", name
            for key in ("x", "y", "width", "height", "cx", "cy", "r"):
                assert element.get(key) is None or float(element.get(key)) >= -50.0
    assert set(palette.LIGHT) == set(palette.DARK)


def test_the_advice_comes_first_with_its_figures_and_a_picture():
    looked = look(make(Plan(flies([12, 40, 30], share=0.5, height=0.4))), table())
    text = report_html(looked)
    body = text[text.index("<main>") :]
    assert body.index("One thing to work on next") < body.index("How it went") < body.index("Flight by flight")
    first = body[: body.index("How it went")]
    assert "Push deeper, then get lighter." in first and "% of your weight" in first and "<svg" in first


def test_what_helped_flights_and_notes_have_their_own_place():
    tries = flies([12, 40, 30])
    tries[1].coast = 9.0
    text = report_html(
        look(make(Plan(tries, notes=[("Coach Ida (invented)", tries[2].start + 5, "Here, longer legs.")])), table())
    )
    assert "Helped by swell or wake" in text and "long coast" in text
    assert text.count("Here, longer legs.") >= 2  # in the timeline's list and with its flight


def test_long_outings_stay_small():
    looked = look(make(Plan(flies([30] * 60))), table())
    text = report_html(looked)
    assert len(text) < 2_000_000
    assert re.search(r"3[3-6] shorter flights are in the list without pictures", text)
    assert text.count('id="flight-') == 60


def test_definitions_cover_every_figure_of_a_flight():
    import attrs

    from cadence_coach.review.flight import FlightFigures

    named = " ".join(d.name for d in DEFINITIONS)
    not_figures = {"flight", "attempt", "start_s", "end_s", "started_by", "ended_by_from", "gap_s", "drill",
                   "above_band", "below_band", "band_from", "speed_early_m_s", "speed_late_m_s"}  # fmt: skip
    missing = {a.name for a in attrs.fields(FlightFigures)} - set(named.replace(",", " ").split()) - not_figures
    assert not missing


def test_ticks_are_round_and_inside():
    assert ticks(0.0, 10.0) == [0.0, 2.0, 4.0, 6.0, 8.0, 10.0]
    assert ticks(0.13, 0.52, 4) == [0.2, 0.3, 0.4, 0.5]
    assert clock_ticks(0.0, 3600.0) == [0.0, 600.0, 1200.0, 1800.0, 2400.0, 3000.0, 3600.0]
    assert minutes(59.6) == "1:00" and minutes(3723.0) == "1:02:03"


def test_a_line_breaks_where_a_value_is_not_known():
    svg = Picture((0, 4), (0, 1), "x").line([0, 1, 2, 3, 4], [0, 1, float("nan"), 1, 0], "rider").svg()
    assert svg.count("<polyline") == 2 and "nan" not in svg


@pytest.mark.parametrize("theme", [palette.LIGHT, palette.DARK])
def test_words_can_be_read_on_their_ground(theme):
    """Contrast of text against paper and card: 4.5 to 1, WCAG 2.2 criterion 1.4.3 (level AA)."""

    def luminance(colour):
        parts = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
        r, g, b = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
        return 0.2126 * r + 0.7152 * g + 0.0722 * b

    def contrast(a, b):
        high, low = sorted((luminance(a), luminance(b)), reverse=True)
        return (high + 0.05) / (low + 0.05)

    for word in ("ink", "muted", "target", "cue", "rider"):
        for ground in ("paper", "card"):
            assert contrast(theme[word], theme[ground]) >= 4.5, (word, ground)
    for part in ("catch", "shove", "ease", "gather"):
        assert contrast(theme["onpart"], theme[part]) >= 4.5, part


def test_names_of_the_four_parts_never_cover_one_another():
    """A name that is wider than its part stands above the shares, in the first row where there is room."""
    names = ["Auffangen", "Drücken", "Leicht", "Sammeln"]
    assert part_rows(names, [36, 130, 200, 270, 340]) == [0, 0, 0, 0]
    assert part_rows(names, [36, 130, 165, 250, 340]) == [0, 1, 0, 0]
    assert part_rows(names, [36, 66, 96, 126, 340]) == [1, 2, 1, 0]
    assert part_rows(names, [36, 46, 56, 66, 76]) == [1, 2, 3, 4]


def test_what_the_dashes_are_stands_above_the_data():
    looked = look(make(Plan(flies([40]))), table())
    picture = pictures.size(looked, 0, Words())
    (told,) = re.findall(r'<text class="t-target"[^>]*y="([0-9.]+)">- - needed \(estimate\)</text>', picture)
    lines = re.findall(r'points="([^"]+)"', picture)
    assert float(told) + 5.0 < min(float(p.split(",")[1]) for line in lines for p in line.split())


@pytest.mark.parametrize("needed", [True, False])
def test_a_size_says_what_it_is_a_share_of(needed):
    """Without rider and foil no size needed is known: the row says so, and no heading says otherwise."""
    page = report_html(look(make(Plan([Fly(30.0, [0.6] * 20, height=0.75)])), table() if needed else None))
    assert ("% of needed" in page) == needed and "size, of needed" not in page
    assert needed or "% of weight" in page
