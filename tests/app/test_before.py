"""Before you go, by touch: what starts an outing, and what does not."""

from __future__ import annotations

import pytest

from cadence_coach import safety
from tests.app.driver import Driver
from tests.app.pages import GOING


@pytest.fixture
def app(tmp_path):
    with Driver(tmp_path / "home", sound="silent") as app:
        yield app


def tick_all(app, start):
    for key, _ in safety.points(start):
        app.tap(f"tick.{key}")
    app.tap("tick.volume")


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


def test_once_it_has_ended_the_next_one_can_start(app):
    app.line("here", **GOING)
    app.go("before")
    tick_all(app, "dock")
    assert any(text.startswith("An outing goes on") for text in app.texts())
    app.line("none")
    app.until(lambda: "Hold to start" in app.texts(), 5)
