"""A whole outing, from the first start to the report, by touch alone: a simulated rider's recording drives the engine
in real time, in a process of its own. On the way the screen is turned, and its process is killed in the middle of a
flight: the outing goes on, and no sample is lost.
"""

from __future__ import annotations

import json
import os
import signal
import sqlite3
import time
from contextlib import closing
from pathlib import Path

import pytest

from cadence_coach import safety
from cadence_coach.app import state
from cadence_coach.errors import CouldNot
from cadence_coach.foil.profile import load_profile
from cadence_coach.live import Client
from cadence_coach.sources import open_source
from cadence_coach.store.outing_file import load_outing
from tests.app.driver import Driver
from tests.app.kept import outings
from tests.live.build import recording

STORMS = 10 if os.environ.get("CADENCE_COACH_LONG") else 1
STORM_S = 6.0
"""Seconds of 200 touches each; the long form makes it a minute."""


@pytest.fixture(scope="module")
def ride(tmp_path_factory):
    """A dock start some 5 s after the beginning, half a minute of flight, as much rest, and another flight."""
    return recording(tmp_path_factory.mktemp("ride") / "ride", "calm", 9, since=60.0, until=151.0)


def tick_all(app, start="dock"):
    for key, _ in safety.points(start):
        app.tap(f"tick.{key}")
    app.tap("tick.volume")


def mood(app):
    return (app.view()["view"] or {}).get("mood")


def stop(home):
    """No engine is left behind by a test that failed."""
    try:
        with Client(home) as client:
            os.kill(client.pid, signal.SIGKILL)
    except (CouldNot, ProcessLookupError):  # none is running, which is what is wanted
        pass


def test_from_the_first_start_to_the_report(ride, tmp_path):
    home = tmp_path / "home"
    app = Driver(home, source=str(ride), sound="silent")
    try:
        assert app.page == "home"  # nothing is asked
        app.tap("home.gear")
        for name, text in (("rider.mass_kg", "7"), ("foil.wing_area_m2", "1650"), ("foil.span_m", "128")):
            app.write(f"gear.{name}", text)
        assert any("30" in t and "160" in t for t in app.texts())  # told while it is typed
        assert not (home / state.PROFILE).exists()
        app.write("gear.rider.mass_kg", "71,5")
        app.until(lambda: any(" at " in t and "best near" in t for t in app.texts()))
        profile = load_profile(home / state.PROFILE)
        assert profile.table["rider"]["mass_kg"] == 71.5
        assert profile.table["foil"]["wing_area_m2"] == pytest.approx(0.165)
        assert profile.table["foil"]["span_m"] == pytest.approx(1.28)
        app.tap("back")

        app.tap("home.ride")
        app.tap("focus.size")
        tick_all(app)
        app.tap("before.go")  # a short touch starts nothing
        assert app.page == "before" and not (home / "engine.log").exists()
        app.tap("tick.leash")  # taken back: it cannot be started
        app.tap("before.go", hold=2.0)
        assert app.page == "before"
        app.tap("tick.leash")
        app.tap("before.go", hold=2.0)
        assert app.page == "water"
        assert mood(app) in ("coming", "armed", "shore", "trying")  # on its way, however late a busy machine looks
        app.until(lambda: mood(app) == "flight", 60)
        app.until(lambda: int(app.view()["view"]["pumps"]) > 5)

        app.kill()
        with Client(home) as client:
            before = client.snapshot()
        assert before.flight_s is not None
        app = Driver(home, source=str(ride), sound="silent")
        assert app.page == "water"  # it comes back to the outing in progress
        view = app.until(lambda: (v := app.view()["view"]) and v["mood"] in ("flight", "rest") and v)
        assert view["mood"] == "rest" or int(view["pumps"]) >= before.flight_pumps  # a busy machine comes back late
        app.size(640, 360)
        assert app.page == "water"
        app.size(360, 640)
        assert app.key(1001)["taken"] and app.page == "water"  # locked: the back key does nothing

        app.until(lambda: mood(app) == "rest" and len(app.view()["view"]["figures"]) >= 5, 60)
        figures = dict(app.view()["view"]["figures"])
        assert figures["pumps"].isdigit() and "%" in figures["size (needed)"]
        app.unlock()
        app.tap("water.end")  # a short touch ends nothing
        assert mood(app) != "ended"
        app.tap("water.end", hold=2.0)
        app.until(lambda: mood(app) == "ended")
        (path,) = (home / "outings").glob("*.outing")
        app.tap("water.look")
        look_back(app, home, path)
    finally:
        app.close()
        stop(home)

    outing = load_outing(path)
    assert outing.meta["ended"] == "stopped" and outing.settings["focus"] == "size"
    assert outing.profile["rider"]["mass_kg"] == 71.5
    assert {"leash", "volume"} <= set(outing.tags["ticked"].split())
    rows = [row for part in open_source(str(ride)) for row in part]
    kept = list(outing.rows())
    assert len(kept) > 2500 and repr([r[2:] for r in kept]) == repr([r[2:] for r in rows[: len(kept)]])
    assert not outing.gaps and len(outing.flights) in (1, 2)
    assert [c.name for c in outing.commands if c.name != "advance"] == ["arm", "start", "stop"]


def look_back(app, home, path):
    """The outing is shown, and its report is handed over."""
    app.until(lambda: app.page == "outing")
    app.until(lambda: not any("…" in text for text in app.texts()))
    app.tap("share")
    report = app.until(lambda: next((home / "shared").glob("*.html"), None))
    app.until(lambda: "<svg" in report.read_text("utf-8") and "</html>" in report.read_text("utf-8"))
    app.tap("back")
    assert app.page == "home"


def test_a_storm_on_the_water_and_an_engine_that_dies(ride, tmp_path):
    home = tmp_path / "home"
    app = Driver(home, source=str(ride), sound="silent")
    try:
        app.go("before")
        tick_all(app)
        app.tap("before.go", hold=2.0)
        app.until(lambda: mood(app) not in (None, "coming", "armed"), 60)
        with Client(home) as client:
            pid, before = client.pid, client.snapshot()
        made = sum(app.storm(200, STORM_S, seed)["touches"] for seed in range(STORMS))
        assert made == 200 * STORM_S * STORMS
        assert app.page == "water" and app.where()["depth"] == 2
        with Client(home) as client:
            after = client.snapshot()
        for name in ("uuid", "phase", "muted", "focus", "lead", "file"):
            assert getattr(after, name) == getattr(before, name), name
        assert after.phase == "going" and after.time_s > before.time_s + STORM_S * STORMS - 1
        app.until(lambda: load_outing(Path(after.file)).accel[-1, 0] > after.time_s - 1.0)  # it was committed

        os.kill(pid, signal.SIGKILL)
        app.until(lambda: mood(app) == "gone")
        assert any("stopped" in t for t in app.texts())
        app.tap("water.rescue")
        app.until(lambda: app.page != "water")
        assert not (home / "engine.json").exists() and not (home / "riding.json").exists()
    finally:
        app.close()
        stop(home)
    outing = load_outing(Path(after.file))
    assert outing.meta["ended"] == "rescued" and outing.meta["rescued_whole"] is True
    assert [c.name for c in outing.commands if c.name != "advance"] == ["arm", "start"]
    rows = [row for part in open_source(str(ride)) for row in part]
    kept = list(outing.rows())
    assert repr([r[2:] for r in kept]) == repr([r[2:] for r in rows[: len(kept)]])
    assert kept[-1][1] > after.time_s - 1.0


@pytest.mark.parametrize("leaves", [True, False])
def test_a_rescue_that_ends_takes_nobody_off_another_page(tmp_path, leaves):
    home = tmp_path / "home"
    path = outings(home)["water"]
    with closing(sqlite3.connect(path)) as db:
        db.execute("PRAGMA journal_mode = WAL")
        db.execute("UPDATE meta SET value = '\"running\"' WHERE key = 'ended'")
        db.commit()
        (home / "engine.json").write_text(json.dumps({"socket": str(home / "nobody.sock"), "token": "x", "pid": 1}))
        with Driver(home, sound="silent") as app:
            app.until(lambda: mood(app) == "gone")
            db.execute("BEGIN IMMEDIATE")  # it takes as long as this does
            app.tap("water.rescue")
            app.until(lambda: "Making it whole" in app.texts())
            if leaves:
                app.tap("water.home")
                app.tap("home.gear")
            db.rollback()
            db.close()
            app.until(lambda: not (home / "engine.json").exists())
            if leaves:
                time.sleep(1.0)
                assert app.page == "gear"
                app.tap("back")
                app.until(lambda: "Go riding" in app.texts(), 5)
            else:
                app.until(lambda: app.page == "outing", 5)


def test_an_engine_that_cannot_start_says_why(ride, tmp_path):
    home = tmp_path / "home"
    with Driver(home, source="sim:calm:1", sound="wav:/no/such/folder/a.wav") as app:
        app.go("before")
        tick_all(app)
        app.tap("before.go", hold=2.0)
        app.until(lambda: mood(app) == "failed", 60)
        assert any("/no/such/folder" in t for t in app.texts())
        app.tap("water.again")
        assert app.page == "before"
        assert not any(
            f["class"] == "TickRow" and f["name"] == "tick.leash" and f["ticked"] for f in app.facts()["facts"]
        )
