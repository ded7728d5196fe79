"""Recordings and outing files into each other, by the commands: the samples stay as they are."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing

import numpy as np
import pytest

from cadence_coach import cli
from cadence_coach.sim.outing import simulate_outing
from cadence_coach.store.outing_file import load_outing, save_outing
from cadence_coach.store.recordings import write_recording
from tests.store import made


@pytest.fixture
def lake(tmp_path, monkeypatch):
    """A recording with its own start time, and with rows that a broken logger leaves."""
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path / "home"))
    ride = simulate_outing(7, "calm", 50.0)
    streams = [s[s[:, 0] < 20].copy() for s in (ride.accel, ride.gyro, ride.fixes)]
    for s in streams:
        s[:, 0] += 1234.5
    streams[0][300, 0] = streams[0][299, 0] - 0.2  # back in time
    streams[0][400] = np.nan
    streams[0][500, 1] = 1e30
    meta = {"device": "made up", "worn_at": "chest", "start_utc": "2026-05-01T08:00:00Z", "spot": "47.1 N 9.3 E"}
    return write_recording(tmp_path / "lake", *streams, meta)


def outing_of(folder):
    (path,) = folder.glob("*.outing")
    return path


def test_recording_to_outing_and_back_is_byte_for_byte(lake, tmp_path, capsys):
    assert cli.run(["import", str(lake), "--out", str(tmp_path / "o")]) == 0
    path = outing_of(tmp_path / "o")
    assert cli.run(["export", str(path), "--as", "recording", "--to", str(tmp_path / "back")]) == 0
    for name in ("accel.csv", "gyro.csv", "speed.csv"):
        assert (tmp_path / "back" / name).read_bytes() == (lake / name).read_bytes(), name
    assert json.loads((tmp_path / "back" / "meta.json").read_text()) == json.loads((lake / "meta.json").read_text())
    assert cli.run(["import", str(lake), "--out", str(tmp_path / "o")]) == 0
    assert "already" in capsys.readouterr().out and outing_of(tmp_path / "o") == path


def test_a_number_that_is_none_in_the_meta_data_is_null(lake, tmp_path):
    """NaN is no JSON, though some programs write it."""
    meta = json.loads((lake / "meta.json").read_text())
    (lake / "meta.json").write_text(json.dumps({**meta, "height": float("nan")}))
    assert cli.run(["import", str(lake), "--out", str(tmp_path / "o")]) == 0
    path = outing_of(tmp_path / "o")
    assert cli.run(["export", str(path), "--as", "recording", "--to", str(tmp_path / "back")]) == 0
    assert json.loads((tmp_path / "back" / "meta.json").read_text()) == {**meta, "height": None}
    with closing(sqlite3.connect(path)) as db:  # nor does the outing file hold it
        assert not [text for (text,) in db.execute("SELECT value FROM meta") if "NaN" in text]
        with db:  # as an earlier import left it
            db.execute("INSERT OR REPLACE INTO meta VALUES ('odd', '[NaN, 1.0]')")
    assert load_outing(path).meta["odd"] == [None, 1.0]


@pytest.mark.parametrize(("first", "exact"), [("1750000000.123456789", True), ("1750000000.123457", False)])
def test_a_clock_that_counts_from_1970_comes_back_byte_for_byte(tmp_path, first, exact):
    """Also of an outing file without `start_ns`, whose microseconds are in `start_s`."""
    (tmp_path / "lake").mkdir()
    whole, part = first.split(".")
    begin = int(part) * 10 ** (9 - len(part))
    rows = [
        f"{whole}.{begin + n * 9_876_543 + n % 3 * 1000:09d}".rstrip("0") + f",0.5,{n % 7}.25,9.75" for n in range(80)
    ]
    (tmp_path / "lake" / "accel.csv").write_text("\n".join(["t_s,ax_m_s2,ay_m_s2,az_m_s2", *rows]) + "\n")
    assert cli.run(["import", str(tmp_path / "lake"), "--out", str(tmp_path / "o")]) == 0
    path = outing_of(tmp_path / "o")
    if not exact:
        kept = load_outing(path)
        del kept.meta["source"]["start_ns"]
        save_outing(kept, path)
    assert cli.run(["export", str(path), "--as", "recording", "--to", str(tmp_path / "back")]) == 0
    assert (tmp_path / "back" / "accel.csv").read_text() == (tmp_path / "lake" / "accel.csv").read_text()
    assert cli.run(["import", str(tmp_path / "back"), "--out", str(tmp_path / "o")]) == 0
    assert outing_of(tmp_path / "o") == path


def test_an_outing_file_from_elsewhere_is_copied_whole(lake, tmp_path):
    other = save_outing(made.outing(), tmp_path / "theirs.outing")
    assert cli.run(["import", str(other), "--out", str(tmp_path / "o")]) == 0
    ours = load_outing(outing_of(tmp_path / "o"))
    assert repr(list(ours.rows())) == repr(list(made.outing().rows())) and ours.notes == made.outing().notes


def test_without_place_nothing_in_the_file_says_where_it_was(lake, tmp_path):
    assert cli.run(["import", str(lake), "--out", str(tmp_path / "o")]) == 0
    path, bare = outing_of(tmp_path / "o"), tmp_path / "bare.outing"
    assert cli.run(["export", str(path), "--as", "outing", "--no-place", "--to", str(bare)]) == 0
    whole, stripped = load_outing(path), load_outing(bare)
    assert np.isfinite(whole.fixes[:, 3:5]).all() and np.isfinite(whole.fixes[:, 6]).any()
    assert np.isnan(stripped.fixes[:, [3, 4, 6]]).all()
    assert np.array_equal(whole.fixes[:, [0, 1, 2, 7]], stripped.fixes[:, [0, 1, 2, 7]])
    assert repr(whole.accel.tolist()) == repr(stripped.accel.tolist()) and whole.flights == stripped.flights
    assert b"47.1 N" in path.read_bytes() and b"47.1 N" not in bare.read_bytes()
    with closing(sqlite3.connect(bare)) as db:
        assert db.execute("PRAGMA freelist_count").fetchone() == (0,)  # nothing deleted lies about
    assert cli.run(["export", str(path), "--as", "recording", "--no-place", "--to", str(tmp_path / "bare")]) == 0
    text = (tmp_path / "bare" / "speed.csv").read_text().splitlines()
    at = [text[0].split(",").index(n) for n in ("lat_deg", "lon_deg", "heading_deg")]
    assert {row.split(",")[n] for row in text[1:] for n in at} == {""}
    assert "spot" not in json.loads((tmp_path / "bare" / "meta.json").read_text())


def test_nothing_is_written_over(lake, tmp_path, capsys):
    taken = save_outing(made.outing(), tmp_path / "taken.outing")
    before = taken.read_bytes()
    assert cli.run(["export", str(taken), "--as", "outing", "--to", str(taken)]) == 2
    assert cli.run(["export", str(taken), "--as", "recording", "--to", str(lake)]) == 2
    assert taken.read_bytes() == before and capsys.readouterr().err.count("\n") == 2
