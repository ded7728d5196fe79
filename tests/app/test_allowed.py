"""Permissions: the app puts the phone's question before the first outing, says what is missing, and goes on."""

from __future__ import annotations

import pytest

from cadence_coach.app.words import Words
from tests.app.driver import Driver
from tests.app.test_views import NOTES, PLACE

EN = Words("en")


@pytest.fixture
def app(tmp_path):
    with Driver(tmp_path / "home", sound="silent") as app:
        yield app


def test_the_question_comes_before_the_first_outing_and_once(app):
    app.deny(names=[*PLACE, NOTES], gives=True)
    assert app.resume()["asked"] == 0
    app.tap("home.ride")
    app.until(lambda: app.resume()["asked"] == 1)
    app.until(lambda: EN("before.speed") in app.texts())
    assert EN("before.notes_missing") not in app.texts()


def test_what_is_denied_is_said_and_can_be_asked_for_again(app):
    app.deny(names=[NOTES], gives=False)
    app.tap("home.ride")
    app.until(lambda: EN("before.notes_missing") in app.texts())
    assert EN("before.speed") in app.texts() and EN("before.speed_missing") not in app.texts()
    app.tap("health.notes")
    assert app.page == "phone" and app.resume()["asked"] == 1
    app.tap("allow")
    assert app.resume()["asked"] == 2
    app.key(27)
    app.until(lambda: EN("before.notes_missing") in app.texts())
    assert app.resume()["asked"] == 2  # nobody is asked at every look
    app.deny(names=[], gives=True)
    app.resume()
    app.until(lambda: EN("before.notes_missing") not in app.texts())
