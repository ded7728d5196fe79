"""FILES.md names every table, column and key that is written, each where it belongs."""

from __future__ import annotations

import json
import re
import sqlite3
from contextlib import closing
from pathlib import Path

import attrs
import pytest

from cadence_coach import cli
from cadence_coach.app import desktop, state
from cadence_coach.app.views.land import Chosen
from cadence_coach.core.settings import Settings
from cadence_coach.land.engine import plain_plan
from cadence_coach.land.plan import Plan
from cadence_coach.live import Server, on_phone, serve
from cadence_coach.live.begin import LATENCIES
from cadence_coach.review import focus
from cadence_coach.store.convert import without_place
from cadence_coach.store.outing_file import load_outing
from tests.live import build
from tests.store import made

PROJECT = Path(__file__).parents[2]
TEXT = (PROJECT / "cadence_coach/store/FILES.md").read_text("utf-8")


def told(*titles: str) -> dict[str, set[str]]:
    """Of the tables under these titles: each name in a first cell to all the names in its row."""
    rows: dict[str, set[str]] = {}
    for title in titles:
        part = TEXT.split(f"\n## {title}\n")[1].split("\n## ")[0]
        for line in part.splitlines():
            if line.startswith("| `"):
                for name in named(line.split(" | ")[0]):
                    rows[name] = named(line)
    return rows


def named(text: str) -> set[str]:
    return set(re.findall(r"`([^`]+)`", text))


@pytest.fixture(scope="module")
def outing(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Written by `live` itself."""
    tmp = tmp_path_factory.mktemp("told")
    ride = build.recording(tmp / "ride", until=30.0)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("CADENCE_COACH_HOME", str(tmp / "home"))
        assert cli.run(["live", "--source", str(ride), "--yes", "--fast", "--sound", "silent"]) == 0
    (path,) = (tmp / "home" / "outings").glob("*.outing")
    return path


def test_each_table_and_each_column_of_an_outing_file(outing):
    rows = told("Outing files")
    with closing(sqlite3.connect(outing)) as db:
        tables = [name for (name,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        assert len(tables) == 16
        for table in tables:
            columns = {name for _, name, *_ in db.execute(f"PRAGMA table_info({table})")}
            assert table in rows and columns <= rows[table], (table, columns - rows.get(table, set()))


def test_each_key_of_a_recording_s_meta_and_truth(tmp_path):
    assert cli.run(["simulate", str(tmp_path / "sim"), "--count", "2", "--kind", "calm", "--kind", "landwalk"]) == 0
    rows = told("Recordings")
    for path in tmp_path.glob("sim/*/*.json"):
        body = json.loads(path.read_text())
        body.get("sensor", {}).clear()  # these are the simulator's own
        parts = [part for value in body.values() for part in (value if isinstance(value, list) else [value])]
        keys = {key for item in (body, *parts) if isinstance(item, dict) for key in item}
        assert keys <= rows[path.name], (path, keys - rows[path.name])


def test_each_key_of_its_meta_and_what_lies_in_it(outing):
    rows = told("Outing files")
    with closing(sqlite3.connect(outing)) as db:
        meta = {key: json.loads(value) for key, value in db.execute("SELECT key, value FROM meta")}
    assert {"band", "source", "versions", "clock"} <= set(meta)
    more = {"land": plain_plan(Plan((90.0,), 1)), "thinned": [], "rescued_whole": True, "device": ""}
    more |= {k: v for k, v in without_place(load_outing(outing)).meta.items() if k not in meta}
    for key, value in {**meta, **more}.items():
        row = rows.get(key) or next((names for names in rows.values() if key in names), None)
        assert row is not None, key
        if isinstance(value, dict) and key not in ("profile", "settings"):  # these have names of their own
            assert set(value) <= row, (key, set(value) - row)
    assert set(meta["band"]["bands"][0]) <= rows["band"]


def test_each_file_beside_the_outings_and_its_keys(tmp_path):
    rows = told("Beside the outings")
    files = {state.FILE, focus.NAME, LATENCIES, on_phone.RIDING, on_phone.TROUBLE, serve.ADDRESS, desktop.LOG}
    assert files <= set(rows)
    screens = "".join(p.read_text("utf-8") for p in (PROJECT / "cadence_coach/app/screens").glob("*.py"))
    kept = set(re.findall(r'\b(?:app|get_running_app\(\))\.keep\("(\w+)"', screens))
    assert len(kept) >= 4
    assert set(attrs.fields_dict(state.State)) | kept | set(attrs.asdict(Chosen())) <= rows[state.FILE]
    assert set(json.loads(on_phone.plan_text(Settings()))) <= rows[on_phone.RIDING]
    running = build.live(build.Device(made.rows(100)), None, fast=False)
    server = Server(running, tmp_path)
    assert set(json.loads((tmp_path / serve.ADDRESS).read_text("utf-8"))) <= rows[serve.ADDRESS]
    server.close()
