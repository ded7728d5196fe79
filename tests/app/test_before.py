"""Before you go, by touch: what starts an outing, and what does not."""

from __future__ import annotations

import json

import pytest

from tests.app.driver import Driver
from tests.app.pages import GOING
from tests.app.test_outing import stop, tick_all


@pytest.fixture
def app(tmp_path):
    with Driver(tmp_path / "home", sound="silent") as app:
        yield app


def engine_was_asked(app):
    return (app.home / "engine.log").exists()


@pytest.mark.parametrize("kind", ["here", "coming"])
def test_beside_an_outing_none_is_started_and_its_page_is_offered(app, kind):
    """A start that the engine would refuse looked like one: the outing that went on was taken for the new one."""
    app.tap("home.ride")
    app.tap("start.rope")
    tick_all(app, "rope")
    app.line(kind, **(GOING if kind == "here" else {}))  # it begins while the page is open
    app.until(lambda: any(text.startswith("An outing goes on") for text in app.texts()), 5)
    app.tap("before.go", hold=2.0)
    assert app.page == "before" and not engine_was_asked(app)
    app.tap("before.riding")
    assert app.page == "water" and not engine_was_asked(app)


def test_beside_a_training_its_own_page_is_offered(app):
    app.tap("home.ride")
    app.line("coming")
    app.until(lambda: "You are riding" in app.texts(), 5)  # which of the two, only its first word tells
    app.line("here", phase="going", land={"over": False})
    app.until(lambda: "You are training" in app.texts(), 5)


def test_no_outing_begins_with_a_piece_of_a_limit_that_is_refused(app):
    """Each key makes a number: 90 stood there on the way to 90000."""
    app.tap("home.ride")
    tick_all(app, "dock")
    app.write("before.turn_back", "200 m")
    app.write("before.time_limit", "90000")
    app.tap("before.go", hold=2.0)
    assert app.page == "before" and not engine_was_asked(app)
    app.tap("back")
    app.tap("home.ride")  # nor does it come back as one that was chosen
    typed = {f["name"]: f["text"] for f in app.facts()["facts"] if f["name"].startswith("before.t") and f["text"]}
    assert typed == {"before.turn_back": "200 m", "before.time_limit": "90000"}
    assert len([text for text in app.texts() if text.startswith("Give a number")]) == 2
    tick_all(app, "dock")
    assert "Hold to start" not in app.texts()
    app.write("before.turn_back", "90")
    app.write("before.time_limit", "")
    app.tap("before.go", hold=2.0)
    try:
        told = json.loads(app.until(lambda: (plan := app.home / "riding.json").exists() and plan.read_text()))
        assert told["settings"]["turn_back_m"] == 90 and told["settings"]["time_limit_s"] is None
    finally:
        stop(app.home)


def test_once_it_has_ended_the_next_one_can_start(app):
    app.line("here", **GOING)
    app.go("before")
    tick_all(app, "dock")
    assert any(text.startswith("An outing goes on") for text in app.texts())
    app.line("none")
    app.until(lambda: "Hold to start" in app.texts(), 5)
