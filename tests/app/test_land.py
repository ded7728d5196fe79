"""A training by touch: nothing starts before each point is ticked; it goes on when the screen dies; its sets are there
to look back on."""

from __future__ import annotations

import json
import re

import pytest

from cadence_coach.safety import points
from cadence_coach.store.outing_file import load_outing
from tests.app.driver import PAGE_S, Driver
from tests.app.pages import GOING


def test_ticked_started_killed_found_again_stopped_and_kept(tmp_path):
    with Driver(tmp_path, sound="silent") as app:
        app.tap("home.land")
        app.tap("mode.own")
        app.write("tempo", "120")
        app.tap("length.20")
        app.patience_s = 0.0  # what is not there shall not be there
        for key, _ in points("land"):
            with pytest.raises(AssertionError, match="nothing to touch is named 'start'"):
                app.tap("start")
            app.tap(f"point:{key}")
        app.patience_s = PAGE_S
        app.tap("start")
        app.until(lambda: "Stand ready" in app.texts(), 60)
        app.until(lambda: "Go with the click" in app.texts(), 60)
        app.until(lambda: moves(app) >= 4, 60)
        app.kill()
    with Driver(tmp_path, sound="silent") as app:
        app.until(lambda: app.page == "land", 20)
        before = moves(app)
        app.until(lambda: moves(app) > before or "Rest" in app.texts(), 30)
        app.until(lambda: "Rest" in app.texts(), 60)
        texts = app.texts()
        assert "passed" in texts and any("ahead of the click" in t for t in texts)
        app.tap("stop", hold=0.3)
        assert "Rest" in app.texts()  # a short touch ends nothing
        app.tap("stop", hold=2.0)
        app.until(lambda: "Done" in app.texts(), 30)
        app.tap("look")
        app.until(lambda: any(t.startswith("Set 1 of 1") for t in app.texts()), 30)
    (file,) = (tmp_path / "outings").glob("*.outing")
    outing = load_outing(file)
    assert outing.meta["ended"] == "stopped" and outing.settings["start"] == "land"
    assert set(outing.tags["ticked"].split()) == {key for key, _ in points("land")}
    kept = json.loads((tmp_path / "app.json").read_text())["kept"]["land"]
    assert kept == {"mode": "own", "tempo": "120", "set_s": 20.0, "push_tick": True}


def test_beside_an_outing_no_training_is_started_and_its_page_is_offered(tmp_path):
    with Driver(tmp_path / "home", sound="silent") as app:
        app.tap("home.land")
        for key, _ in points("land"):
            app.tap(f"point:{key}")
        app.line("here", **GOING)
        app.until(lambda: any(text.startswith("An outing goes on") for text in app.texts()), 5)
        app.patience_s = 0.0
        with pytest.raises(AssertionError, match="nothing to touch is named 'start'"):
            app.tap("start")
        app.patience_s = PAGE_S
        assert not (app.home / "engine.log").exists()
        app.tap("riding")
        assert app.page == "water"


def moves(app: Driver) -> int:
    """Movements that the page counts."""
    texts = app.texts()
    at = texts.index("movements") if "movements" in texts else 0
    return int(texts[at - 1]) if at and re.fullmatch(r"\d+", texts[at - 1]) else 0


def test_this_phone_keeps_what_is_chosen_and_tests_itself(tmp_path):
    with Driver(tmp_path, sound="silent") as app:
        app.tap("home.phone")
        app.tap("lang.de")
        assert "Dieses Telefon" in app.texts()
        app.tap("theme.dark")
        app.tap("scale.1.15")
        app.tap("loudness.18")
        app.tap("check_go")
        app.until(lambda: any(t.startswith("Prüft …") for t in app.texts()))
        app.tap("lang.en")  # it goes on, and no other test is offered beside it
        assert any(t.startswith("Testing …") for t in app.texts())
        assert not {"check_go", "speaker", "hear"} & {f["name"] for f in app.facts()["facts"]}
        app.until(lambda: any("Spoken parts" in t for t in app.texts()), 30)
        app.tap("lang.de")
        assert any("Gesprochene Teile" in t for t in app.texts())
        assert any(t.startswith("Letzte Prüfung") for t in app.texts())
        app.tap("hear")
        app.until(lambda: any("aus silent" in t for t in app.texts()), 30)
        app.tap("speaker")
        app.until(lambda: any(re.search(r"… [1-9]\d*-mal", t) for t in app.texts()), 30)
        app.tap("back")  # whoever leaves ends the measurement
        assert app.page == "home"
    kept = json.loads((tmp_path / "app.json").read_text())
    assert (kept["lang"], kept["theme"], kept["scale"], kept["kept"]["volume_db"]) == ("de", "dark", 1.15, -18.0)
    assert kept["kept"]["checked"]["passed"] is True
