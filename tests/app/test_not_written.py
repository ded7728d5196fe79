"""A disk that takes nothing, a machine that cannot: what is chosen holds, a line says what could not be done, and the
app lives."""

from __future__ import annotations

import json
import tomllib

import pytest

from cadence_coach.app.words import Words
from tests.app.driver import Driver
from tests.app.kept import outings
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


def test_what_cannot_be_shared_is_told_on_its_page(app):
    outings(app.home)
    app.go("outing", path=str(outings(app.home)["water"]))
    app.host("share", fails="no such app")
    app.tap("share")
    app.until(lambda: "Not shared: RuntimeError: no such app" in app.texts())
    app.host("share")
    app.tap("share")
    app.until(lambda: not any(text.startswith("Not shared") for text in app.texts()))
    for page in (app.home / "shared").iterdir():
        page.unlink()
    (app.home / "shared").rmdir()
    (app.home / "shared").write_text("in the way")
    app.tap("share")
    app.until(lambda: "Not shared: File exists" in app.texts())
    app.go("season")
    app.tap("share")
    app.until(lambda: "Not shared: File exists" in app.texts())
    app.change(lang="de")
    app.until(lambda: "Nicht geteilt: File exists" in app.texts())


def test_a_focus_that_cannot_be_kept_is_told(app):
    path = outings(app.home)["water"]
    app.go("outing", path=str(path))
    app.until(lambda: any("One thing to work on" in text for text in app.texts()))
    path.unlink()
    app.tap("focus")
    app.until(lambda: any(text.startswith("Not kept: ") and "water" in text for text in app.texts()))


def test_a_phone_without_a_list_for_its_battery_saver(app):
    app.host("spared", gives=False)
    app.go("phone")
    app.host("open_battery_settings", fails="No Activity found")
    app.tap("saver")
    app.until(lambda: Words("en")("phone.saver_none") in app.texts())
    app.host("open_battery_settings")
    app.tap("saver")
    app.until(lambda: Words("en")("phone.saver_none") not in app.texts())


def test_what_the_phone_cannot_do_is_told_in_the_riders_language(app):
    app.change(lang="de")
    app.go("phone")
    line = "phone: no sound output opened; end a call or another app that holds it"
    for does, touched in (("sink", "hear"), ("tapping", "speaker"), ("check", "check_go")):
        app.host(does, could_not=line)
        app.tap(touched)
        app.until(lambda n=touched: sum("Kein Tonausgang ließ sich öffnen" in text for text in app.texts()) == TURN[n])


TURN = {"hear": 1, "speaker": 2, "check_go": 3}


def marked(app: Driver) -> list[str]:
    return [f["name"] for f in app.facts()["facts"] if f["name"].startswith("ended.") and f["ticked"]]


def test_a_correction_that_cannot_be_kept_is_told_and_is_not_marked(app):
    """Twice the same: the second time nothing on the page changes by it."""
    path = outings(app.home)["water"]
    app.go("flight", path=str(path), number=2)
    app.until(lambda: marked(app) == ["ended.coast_out"])
    held = path.with_name("held")
    path.rename(held)
    for _ in range(2):
        app.tap("ended.fall")
        app.until(lambda: any(t.startswith("Not kept: ") and "water" in t for t in app.texts()))
        app.until(lambda: marked(app) == ["ended.coast_out"])
    held.rename(path)
    app.tap("ended.fall")
    app.until(lambda: marked(app) == ["ended.fall"] and not any(t.startswith("Not kept") for t in app.texts()))
