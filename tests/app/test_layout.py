"""Every page at every size, in both themes and languages: what is read and touched fits, from the real layout.

The short form takes each size once, with themes, languages and the largest letters spread over them;
CADENCE_COACH_LONG=1 takes all combinations.
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
    ((360, 640), "dark", "en", 1.3),
    ((412, 915), "sun", "en", 1.0),
    ((640, 360), "dark", "de", 1.3),
    ((1280, 800), "sun", "de", 0.9),
]


@pytest.fixture(scope="module")
def app(tmp_path_factory):
    with Driver(tmp_path_factory.mktemp("home")) as app:
        yield app


@pytest.fixture(scope="module")
def app_in_large(tmp_path_factory):
    """On a phone whose own text size is the largest that Android has."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("KIVY_METRICS_FONTSCALE", "2.0")
        app = Driver(tmp_path_factory.mktemp("home"))
    with app:
        yield app


LARGE = [((360, 640), "de", 1.0), ((640, 360), "en", 1.3)]
LARGE_ON_WATER = [*LARGE, ((320, 568), "en", 1.3), ((568, 320), "de", 1.3)]


@pytest.mark.parametrize("page", PAGES)
def test_everything_fits_in_the_phone_s_own_largest_letters(app_in_large, page):
    PAGES[page](app_in_large)
    on_water = page.startswith("water")
    bad = []
    for (width, height), lang, scale in LARGE_ON_WATER if on_water else LARGE:
        facts = app_in_large.look(width=width, height=height, lang=lang, theme="sun", scale=scale)["facts"]
        bad += [f"{width}x{height} {lang}: {f}" for f in wrong(facts, width, height, "sun", page.partition(":")[0])]
        if not on_water:
            assert min(f["font_sp"] for f in facts if "font_sp" in f) >= 2 * 14
    assert not bad, "\n".join(bad)


@pytest.mark.parametrize("page", PAGES)
def test_everything_fits_and_can_be_read(app, page, tmp_path):
    bad = []
    PAGES[page](app)
    picture = tmp_path / "a.png"
    for n, ((width, height), theme, lang, scale) in enumerate(ALL if LONG else SHORT):
        drawn = LONG or n < 2  # one in the sun, one in the dark
        choices = {"lang": lang, "theme": theme, "scale": scale}
        facts = app.look(width=width, height=height, path=str(picture) if drawn else None, **choices)["facts"]
        where = f"{page} {width}x{height} {theme} {lang} x{scale}"
        assert facts, where
        found = wrong(facts, width, height, theme, page.partition(":")[0])
        if drawn:
            found += off_the_picture(picture, facts, theme)
        bad += [f"{where}: {line}" for line in found]
    assert not bad, "\n".join(bad)
