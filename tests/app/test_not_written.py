"""A disk that takes nothing: what is chosen holds, a line says that it could not be written down, and the app lives."""

from __future__ import annotations

import json
import tomllib

import pytest

from cadence_coach.app.words import Words
from tests.app.driver import Driver
from tests.app.layout import wrong
from tests.app.test_layout import SHORT


@pytest.fixture
def app(tmp_path):
    with Driver(tmp_path / "home", sound="silent") as app:
        yield app


def told(app: Driver, lang: str) -> bool:
    """Whether the line is on the page. (A folder in the way of the new file stands for the disk.)"""
    return Words(lang)("app.not_written", why="Is a directory") in app.texts()


def test_a_choice_that_cannot_be_written_down_holds_all_the_same(app):
    (app.home / "app.json.new").mkdir()
    app.tap("home.phone")
    app.tap("lang.de")
    app.until(lambda: told(app, "de"))
    for (width, height), theme, lang, scale in SHORT:
        facts = app.look(width=width, height=height, lang=lang, theme=theme, scale=scale)["facts"]
        assert not wrong(facts, width, height, theme, "phone"), (width, height)
        assert told(app, lang)
    (app.home / "app.json.new").rmdir()
    app.tap("lang.en")
    app.until(lambda: not told(app, "en") and not told(app, "de"))
    assert json.loads((app.home / "app.json").read_text())["lang"] == "en"


def test_a_profile_that_cannot_be_written_down(app):
    (app.home / "me.toml.new").mkdir()
    app.tap("home.gear")
    for name, text in (("rider.mass_kg", "72"), ("foil.wing_area_m2", "1650"), ("foil.span_m", "128")):
        app.write(f"gear.{name}", text)
    app.until(lambda: told(app, "en"))
    assert not (app.home / "me.toml").exists()
    (app.home / "me.toml.new").rmdir()
    app.write("gear.rider.mass_kg", "73")
    app.until(lambda: not told(app, "en"))
    assert tomllib.loads((app.home / "me.toml").read_text())["rider"]["mass_kg"] == 73
