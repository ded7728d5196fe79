"""Looking back by touch: the list, an outing, a flight, focus, notes, corrections, the report; what is kept lies in the
files."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import matplotlib.image
import numpy as np
import pytest

from cadence_coach.palette import LIGHT
from cadence_coach.review.focus import next_focus
from cadence_coach.review.looking import open_looked
from cadence_coach.store.outing_file import load_outing, save_outing
from tests.app.driver import Driver
from tests.app.kept import PROFILE, outings
from tests.app.pages import GOING
from tests.review.build import Fly, Plan, make, steady


@pytest.fixture(scope="module")
def app(tmp_path_factory):
    os.environ["BROWSER"] = "true"  # a report that is shared opens nothing here
    home = tmp_path_factory.mktemp("home")
    outings(home)
    with Driver(home, sound="silent") as app:
        yield app


def read(app: Driver) -> list[str]:
    """The page once it is there, has read its files and lies as it stays."""
    return app.until(lambda: (texts := settled(app.texts())) == settled(app.texts()) and texts)


def settled(texts: list[str]) -> list[str]:
    """The texts, or none while they are those of a page that is left or still reads."""
    return [] if any("…" in text for text in texts) or "Cadence coach" in texts else texts


def to_the_outing(app: Driver) -> str:
    app.first_page()
    app.tap("home.outings")
    texts = read(app)
    path = str(outings(app.home)["water"])
    assert any("5 tries" in text and "pumps" in text for text in texts), texts
    assert sum("damaged, or no outing" in text for text in texts) == 1
    app.tap(f"open:{path}")
    read(app)
    return path


def test_newest_first_and_damaged_last(app):
    app.first_page()
    app.tap("home.outings")
    texts = read(app)
    days = [t for t in texts if "June 2026" in t]
    assert days[0].startswith("13 June") and days[-1].startswith("On land, 3 June")
    assert "Cannot be read" in texts[-2] and "damaged" in texts[-1]


def test_one_thing_to_work_on_becomes_the_focus(app):
    path = to_the_outing(app)
    texts = app.texts()
    assert "One thing to work on next" in texts and any("of your weight" in t for t in texts)
    app.tap("note")
    app.write("note", "Saw a seal")
    app.tap("focus")
    app.until(lambda: any("your focus for the next outing" in t for t in app.texts()))
    assert "Saw a seal" in app.texts()  # what is typed and not kept yet is still there
    taken = load_outing(path).tags["next_focus"]
    assert next_focus("", app.home) == taken == "size"


def test_a_note_is_kept_and_an_empty_one_is_refused(app):
    path = to_the_outing(app)
    before = len(load_outing(path).notes)
    app.tap("note")
    app.tap("keep_note")
    app.until(lambda: any("1 to 4000 characters" in t for t in app.texts()))
    app.write("note", "Tired from pump 30 on")
    app.tap("keep_note")
    app.until(lambda: "Tired from pump 30 on" in app.texts() and "Add a note" in app.texts())
    notes = load_outing(path).notes
    assert len(notes) == before + 1 and (notes[-1].text, notes[-1].who) == ("Tired from pump 30 on", "rider")


def test_a_flight_its_figures_and_its_corrections(app):
    path = to_the_outing(app)
    app.tap("open:1")
    texts = read(app)
    assert "Flight 2" in texts and "34" in texts
    found = open_looked(path).figures.flights[1].ended_by
    app.tap(f"ended.{found}")  # what is marked already is confirmed
    app.until(lambda: load_outing(path).tags.get("ended_by:1") == found)
    app.until(lambda: any("(by rider)" in t for t in app.texts()))
    app.tap("ended.touch_down")
    app.until(lambda: any("touch-down (by rider)" in t for t in app.texts()))
    app.tap("note")
    app.write("note", "Wind dropped")
    app.tap("started.step")
    app.until(lambda: any("· step · touch-down" in t for t in app.texts()))
    assert "Wind dropped" in app.texts()  # what is typed and not kept yet outlasts a correction
    app.tap("helped.swell")
    app.until(lambda: load_outing(path).tags.get("helped:1") == "swell")
    assert load_outing(path).tags["ended_by:1"] == "touch_down"
    assert load_outing(path).tags["started_by:1"] == "step"
    app.tap("keep_note")
    app.until(lambda: load_outing(path).notes[-1].text == "Wind dropped")
    assert load_outing(path).notes[-1].at_s == load_outing(path).flights[1].start
    app.size(640, 360)  # turned on its side, nothing is lost
    assert "Wind dropped" in app.texts()
    app.size(360, 640)
    app.tap("back")
    app.until(lambda: any("touch-down · helped" in t for t in app.texts()))


def test_the_report_is_shared_in_the_language_that_is_shown_and_without_place(app):
    path = to_the_outing(app)
    app.change(lang="de")
    read(app)
    app.tap("share")
    page = app.home / "shared" / (os.path.basename(path).removesuffix(".outing") + ".html")
    app.until(page.exists)
    app.until(lambda: page.read_text("utf-8").rstrip().endswith("</html>"))
    text = page.read_text("utf-8")
    assert '<html lang="de">' in text and "Weg über Grund" not in text
    app.change(lang="en")


def test_a_training_is_told_set_by_set(app):
    app.first_page()
    app.tap("home.outings")
    read(app)
    app.tap(f"open:{outings(app.home)['land']}")
    texts = read(app)
    assert "On land, 3 June 2026" in texts and sum(t.startswith("Set ") for t in texts) == 2
    assert texts.count("passed") == 2


def test_a_damaged_file_says_so_in_one_line(app):
    app.first_page()
    app.go("outing", path=str(outings(app.home)["damaged"]))
    texts = read(app)
    assert any("is no outing file" in t for t in texts)


def test_one_file_that_no_figure_can_be_made_of_hides_no_other(app):
    bad = altered(app, "bad", """update meta set value='{"rider": 5}' where key='profile'""")
    try:
        for page, there in (("outings", "5 tries"), ("season", "2 outings"), ("ladder", "Reached: 1 of 16")):
            app.first_page()
            app.go(page)
            assert any(there in t for t in read(app)), page
        app.go("outing", path=str(bad))
        assert any("is damaged (" in t for t in read(app))
    finally:
        bad.unlink()


@pytest.mark.parametrize(
    ("figures", "told"), [('[["seconds", "x"]]', "is damaged ("), ('[["cadence_early_per_min", 98]]', "98 › –")]
)
def test_whatever_a_file_says_of_a_flight_its_page_tells_something(app, figures, told):
    bad = altered(app, "told", f"update summaries set figures='{figures}'")
    try:
        app.first_page()
        app.go("flight", path=str(bad), number=2)
        assert any(told in t for t in read(app))
    finally:
        bad.unlink()


def test_a_page_whose_work_fails_says_so_and_the_app_goes_on(app):
    """As when what was kept for a quicker look holds something that nobody wrote there."""
    app.first_page()
    app.go("outings")
    read(app)
    cached = next(p for p in (app.home / "cache" / "season").glob("*.json") if p.name.startswith("water-one"))
    whole = cached.read_text("utf-8")
    told = json.loads(whole)
    told["row"]["best_s"] = "x"
    cached.write_text(json.dumps(told), "utf-8")
    try:
        for page in ("outings", "season"):  # the list fails when it is drawn, the season when it is worked out
            app.first_page()
            app.go(page)
            assert any("Something went wrong on this page" in t for t in read(app)), page
    finally:
        cached.write_text(whole, "utf-8")


def test_an_outing_that_goes_on_is_shown_as_far_as_it_has_come_and_said_to_go_on(app):
    """All that is written while it is recorded lies beside its file, in the log."""
    live = altered(app, "live", "DELETE FROM notes")
    with closing(sqlite3.connect(live, isolation_level=None)) as writing:
        writing.execute("PRAGMA journal_mode = WAL")
        writing.execute("BEGIN")
        writing.execute("SELECT * FROM meta").fetchall()  # held open as the engine does: nothing leaves the log
        try:
            app.first_page()
            app.line("here", **{**GOING, "file": str(live)})
            app.go("outings")
            assert sum("Still going on" in t for t in read(app)) == 1
            app.tap(f"open:{live}")
            assert any(t.startswith("Still going on") for t in read(app))
            app.tap("note")
            app.write("note", "Wind turned at ten")
            app.tap("keep_note")
            app.until(lambda: "Wind turned at ten" in app.texts(), 10)
        finally:
            app.line("none")
    live.unlink()
    app.first_page()
    app.go("outings")
    assert not any("Still going on" in t for t in read(app))


def altered(app, name, sql):
    """A copy of an outing, with something else in it."""
    path = outings(app.home)["water"]
    other = shutil.copy(path, path.with_name(f"2026-05-01T09-00-00Z-{name}.outing"))
    with closing(sqlite3.connect(other)) as db, db:
        db.execute("update meta set value=? where key='uuid'", (f'"{name}"',))
        db.execute(sql)
    return Path(other)


def test_ladder_and_season_tell_of_the_same_outings(app):
    app.first_page()
    app.tap("home.ladder")
    texts = read(app)
    assert any("Reached: 1 of 16" in t for t in texts) and "Your next rung" in texts
    app.tap("rung:land_beat")
    assert any("Squats to the click" in t for t in app.texts())
    app.tap("rung:land_beat")
    app.first_page()
    app.tap("home.season")
    texts = read(app)
    assert any(t.startswith("2 outings") for t in texts) and any("cannot" in t or "curve" in t for t in texts)
    app.tap("share")
    app.until((app.home / "shared" / "season.html").exists)


def test_the_drawn_line_lies_in_the_drawn_band_as_often_as_the_figure_says(app, tmp_path):
    """From the pixels: in each column, whether the rider's ink lies between the edges of the band's."""
    quicker = Fly(20.0, steady(92.0, 60, seed=6, drift=0.5))  # from inside the band to far over it
    path = save_outing(make(Plan([quicker], profile=PROFILE)), tmp_path / "a.outing")
    looked = open_looked(path)
    assert 0.3 < looked.figures.flights[0].in_band < 0.7
    app.first_page()
    app.change(theme="sun", lang="en", scale=1.0)
    app.size(1280, 1280)  # all of the chart is in sight
    app.go("flight", path=str(path), number=0)
    read(app)
    app.shot(tmp_path / "a.png")
    app.size(360, 640)
    pixels = (matplotlib.image.imread(tmp_path / "a.png")[..., :3] * 255).round().astype(int)
    band = near(pixels, LIGHT["band"])
    columns = np.flatnonzero(band.sum(axis=0) > 30)
    assert len(columns) > 400  # a column of text is at most 640 wide
    rows = np.flatnonzero(band.any(axis=1))
    field = slice(rows.min() - 60, rows.max() + 60)  # the chart, and nothing of the next one
    rider = near(pixels, LIGHT["rider"])
    inside = seen = 0
    for x in columns:
        line = np.flatnonzero(rider[field, x]) + field.start
        edges = np.flatnonzero(band[field, x]) + field.start
        if len(line):
            seen += 1
            inside += edges.min() <= np.median(line) <= edges.max()
    assert seen > 0.9 * len(columns)
    assert inside / seen == pytest.approx(
        looked.figures.flights[0].in_band, abs=0.07
    )  # two of 60 pumps at the ends, dots


def rows(app: Driver) -> dict[str, int]:
    """The rows of a made-up list from top to bottom, and which widget each is."""
    return {f["text"]: f["id"] for f in app.facts()["facts"] if f["name"].startswith("row:")}


def test_a_long_list_does_not_hold_the_screen(app):
    """The screen answers while rows are still to come: the first are there first, and all come."""
    app.first_page()
    app.go("outings")
    read(app)
    many = [f"Row {n}" for n in range(500)]
    app.rows(many)
    shown = list(rows(app))
    assert 0 < len(shown) < 500 and shown == many[: len(shown)]
    app.rows([*many[:400], "New", *many[400:]])  # told anew while they come
    app.until(lambda: len(rows(app)) == 501)
    assert list(rows(app)) == [*many[:400], "New", *many[400:]]


def test_only_what_has_changed_is_made_anew(app):
    app.first_page()
    app.go("outings")
    read(app)
    app.rows(["a", "b", "c", "d"])
    before = app.until(lambda: len(found := rows(app)) == 4 and found)
    for names in (["a", "x", "y", "c", "d"], ["a", "d"], ["d"], [], ["a", "b"]):
        app.rows(names)
        app.until(lambda names=names: list(rows(app)) == names)
        if "d" in names:
            assert all(rows(app)[name] == before[name] for name in set(names) & {"a", "d"})


def near(pixels: np.ndarray, colour: str) -> np.ndarray:
    want = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)])
    return np.abs(pixels - want).max(axis=2) <= 12
