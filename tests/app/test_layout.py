"""Every page at every size, in both themes and languages: what is read and touched fits, from the real layout.

The short form takes each page through a set of sizes, themes, languages and text scales in which every pair of values
of two of them comes up; CADENCE_COACH_LONG=1 takes all combinations.
"""

from __future__ import annotations

import os
from itertools import product

import pytest

from cadence_coach.app.theme import SCALES
from tests.app.driver import Driver
from tests.app.layout import off_the_picture, wrong
from tests.app.pages import PAGES

SIZES = ((320, 640), (360, 640), (412, 915), (640, 360), (1280, 800))
LONG = bool(os.environ.get("CADENCE_COACH_LONG"))
ALL = list(product(SIZES, ("sun", "dark"), ("en", "de"), SCALES))
SHORT = [
    ((320, 640), "sun", "de", 1.3),
    ((360, 640), "dark", "en", 1.0),
    ((412, 915), "sun", "en", 1.15),
    ((640, 360), "dark", "de", 1.3),
    ((1280, 800), "sun", "de", 0.9),
    ((320, 640), "dark", "en", 1.3),
]


@pytest.fixture(scope="module")
def app(tmp_path_factory):
    with Driver(tmp_path_factory.mktemp("home")) as app:
        yield app


@pytest.mark.parametrize("page", PAGES)
def test_everything_fits_and_can_be_read(app, page, tmp_path):
    bad = []
    PAGES[page](app)
    for (width, height), theme, lang, scale in ALL if LONG else SHORT:
        app.change(lang=lang, theme=theme, scale=scale)
        app.size(width, height)
        where = f"{page} {width}x{height} {theme} {lang} x{scale}"
        facts = app.facts()["facts"]
        assert facts, where
        found = wrong(facts, width, height, theme, page)
        app.scroll(1.0)
        picture = tmp_path / "a.png"
        app.shot(picture)
        found += off_the_picture(picture, app.facts()["facts"], theme)
        bad += [f"{where}: {line}" for line in found]
    assert not bad, "\n".join(bad)
