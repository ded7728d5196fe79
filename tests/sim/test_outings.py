"""Whole outings: the same seed the same outing, every kind what it says, the files as documented."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from cadence_coach.cli import run
from cadence_coach.core.units import G
from cadence_coach.sim import KINDS, SimulatedOuting, demo_outing, simulate_outing
from cadence_coach.sim.aloft import Truth
from cadence_coach.sim.craft import random_craft
from cadence_coach.sim.demo import TRIES
from cadence_coach.sim.satellite import fixes
from cadence_coach.sim.sensor import Sensor, sample
from cadence_coach.sim.story import Outing
from cadence_coach.sim.waveform import DT
from cadence_coach.store.recordings import Recording

CLEAN = Sensor(noise=0.0, bias=0.0, scale=0.0, gyro_bias=0.0, rate=50.0, range=16.0)


@pytest.fixture(scope="module", params=list(KINDS))
def outing(request: pytest.FixtureRequest) -> SimulatedOuting:
    return simulate_outing(11, request.param, 50)


def test_same_seed_same_outing_another_seed_another() -> None:
    one, again, other = simulate_outing(5, "step"), simulate_outing(5, "step"), simulate_outing(6, "step")
    assert np.array_equal(one.accel, again.accel, equal_nan=True)
    assert one.truth == again.truth and one.meta == again.meta
    assert one.truth != other.truth


def test_the_sensor_does_not_change_the_motion() -> None:
    quiet, loud = (
        simulate_outing(5, "short", harsh=None, sensor=s) for s in (CLEAN, replace(CLEAN, noise=0.1, rate=100.0))
    )
    assert quiet.truth["pumps"] == loud.truth["pumps"]


def test_shapes_and_truth(outing: SimulatedOuting) -> None:
    accel, truth = outing.accel, outing.truth
    assert accel.shape[1] == 4 and len(accel) > 1000
    good = accel[np.isfinite(accel).all(axis=1)]
    assert 0.8 < np.median(np.linalg.norm(good[:, 1:], axis=1)) / G < 1.2
    assert np.all(np.diff(good[:, 0]) >= 0)
    json.dumps(truth, allow_nan=False)
    json.dumps(outing.meta, allow_nan=False)
    assert {"kind", "pumps", "flights", "attempts"} <= truth.keys()
    for pump in truth["pumps"]:
        assert {"onset_s", "peak_s", "push_end_s", "peak_g", "travel_m", "size_g"} == pump.keys()
        assert accel[0, 0] < pump["onset_s"] < accel[-1, 0]
    assert sum(f["pumps"] for f in truth["flights"]) == len(truth["pumps"])
    if outing.fixes is not None:
        assert outing.fixes.shape[1] == 6
        assert np.nanmax(outing.fixes[:, 1]) < 12


def test_kinds_hold_what_they_say() -> None:
    many = {
        kind: [simulate_outing(40 + i, kind).truth for i in range(4)]
        for kind in ("landwalk", "short", "tow", "long", "beach")
    }
    assert all(not t["flights"] and not t["pumps"] for t in many["landwalk"])
    assert any(t["steps_s"] for t in many["landwalk"])
    assert {f["started_by"] for t in many["tow"] for f in t["flights"]} == {"rope"}
    assert all(f["pumps"] <= 8 for t in many["short"] for f in t["flights"])
    assert any(a["pumps"] < 3 for t in many["short"] for a in t["attempts"])
    assert max(f["pumps"] for t in many["long"] for f in t["flights"]) > 110
    onsets = [[p["onset_s"] for p in t["pumps"] if f["start_s"] <= p["onset_s"] < f["end_s"]]
              for t in many["beach"] for f in t["flights"]]  # fmt: skip
    rests = [longest / np.median(gaps) for gaps in map(np.diff, onsets) if (longest := max(gaps)) < 1.6]
    assert 1.8 < max(rests) < 2.5, "level glides of a period more"
    walks = [min(s for s in t["steps_s"] if s > f["end_s"]) - f["end_s"] for t in many["beach"] for f in t["flights"]]
    assert max(walks) < 3.0 and np.median(walks) < 1.6, "sooner than silence would tell"


def told(seed: int, kind: str) -> Outing:
    """The motion and its truth alone, without the phone."""
    story, harsh, wild = KINDS[kind]
    rng = np.random.default_rng([seed, 0])
    out = Outing(rng, random_craft(rng), harsh=harsh, wild=wild)
    story(out)
    return out


@pytest.fixture(scope="module")
def many() -> list[Outing]:
    return [told(200 + seed, kind) for seed in range(8) for kind in ("rough", "mixed")]


def pumps_of(truth: Truth, flight: dict[str, Any]) -> list[dict[str, Any]]:
    return [p for p in truth.pumps if flight["start_s"] <= p["onset_s"] < flight["end_s"]]


def test_as_wide_as_it_has_to_be(many: list[Outing]) -> None:
    """Spread over flights of 6 pumps or more: cadence at least 1.1-1.85 Hz, share 0.26-0.5, peak 1.55-2.4 g."""
    cadence, share, peak = [], [], []
    for out in many:
        for f in out.truth.flights:
            own = pumps_of(out.truth, f)
            if len(own) >= 6:
                on, off = (np.array([p[k] for p in own]) for k in ("onset_s", "push_end_s"))
                cadence.append(1 / np.median(np.diff(on)))
                share.append(np.median((off - on)[:-1] / np.diff(on)))
                peak.append(np.median([p["peak_g"] for p in own]))
    assert min(cadence) < 1.1 and max(cadence) > 1.85
    assert min(share) < 0.26 and max(share) > 0.5
    assert min(peak) < 1.55 and max(peak) > 2.4


def test_specific_force_of_a_flight_is_one_g_on_average(many: list[Outing]) -> None:
    """Momentum theorem: the mean over N whole pumps is 1 g within 2 v_end / (g N T); v_end at an onset is under 1.2
    m/s."""
    for out in many:
        n = out.track.whole()["n"]
        for f in out.truth.flights:
            own = pumps_of(out.truth, f)
            a, b = round(own[0]["onset_s"] / DT), round(own[-1]["onset_s"] / DT)
            assert abs(n[a:b].mean() - 1) < 2 * 1.2 / (G * (b - a) * DT)


def test_speed_is_late_and_missing_after_water(many: list[Outing]) -> None:
    rows = [fixes(out.track, np.random.default_rng(i), poor=1.0) for i, out in enumerate(many[:6])]
    assert fixes(many[0].track, np.random.default_rng(0), none=True) is None
    for out, table in zip(many, rows, strict=False):
        assert table is not None
        wet = out.track.whole()["wet"]
        assert not np.any(wet[(table[:, 0] * 10).astype(int) * 100])
        assert np.diff(table[:, 0]).max() > 4
        aloft = [(f["start_s"] + 8, f["end_s"]) for f in out.truth.flights]
        seen = np.array([any(a < t < b for a, b in aloft) for t in table[:, 0]])
        true = out.track.whole()["speed"][(table[:, 0] / DT).astype(int)]
        if seen.sum() > 5:
            assert np.median(np.abs(table[seen, 1] - true[seen])) < 0.8


def test_recording_shows_the_truth_where_it_says() -> None:
    """The whole way through pouch, phone and clock: the recording turned back upright by the known pose crosses 1 g
    where truth has it. 400 Hz, no noise: half a millisecond is left, from straight lines between samples."""
    out = told(7, "step")
    sensor = replace(CLEAN, rate=400.0, rate_off=0.01, jitter=0.0004, mount=np.eye(3), lever=0.0, gyro=False)
    accel, _, _ = sample(out.track, sensor, np.random.default_rng(1), [])
    w = out.track.whole()
    t = accel[:, 0]
    pitch, roll = (np.interp(t, np.arange(len(w["n"])) * DT, w[k]) for k in ("pitch", "roll"))
    shake = np.interp(t, np.arange(len(w["n"])) * DT, w["shake"])
    up = Rotation.from_euler("YX", np.column_stack([pitch, roll])).apply(accel[:, 1:])[:, 2] / G - shake
    ups = np.flatnonzero((up[:-1] < 1) & (up[1:] >= 1))
    crossings = t[ups] + (1 - up[ups]) / (up[ups + 1] - up[ups]) * (t[ups + 1] - t[ups])
    error = [np.min(np.abs(crossings - p["onset_s"])) for p in out.truth.pumps]
    assert len(error) > 10
    assert np.median(error) < 2e-4 and max(error) < 1.5e-3


def test_demo_has_a_story() -> None:
    outing = demo_outing(1)
    truth = outing.truth
    assert 8 * 60 < outing.accel[-1, 0] < 13 * 60
    tried = [a["pumps"] for a in truth["attempts"]]
    meant = [pumps for _, pumps, *_ in TRIES]
    assert len(tried) == len(meant) and tried[:2] == meant[:2]
    assert sorted(tried)[-1] == max(meant) and sorted(tried)[-2] < 20  # small pumps end a flight before it was meant to
    assert outing.gyro is not None and outing.fixes is not None


def test_command_writes_what_reading_gives_back(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "sim"
    assert (
        run(
            [
                "simulate",
                str(out),
                "--count",
                "3",
                "--seed",
                "4",
                "--rate",
                "50",
                "--kind",
                "step",
                "--kind",
                "landwalk",
            ]
        )
        == 0
    )
    assert sorted(p.name for p in out.iterdir()) == ["00-step", "01-landwalk", "02-step"]
    made = simulate_outing(40000, "step", 50)
    truth = json.loads((out / "00-step" / "truth.json").read_text())
    assert truth == made.truth
    recording = Recording(out / "00-step")
    rows = [row for block in recording.rows() for row in block if row[0] == 0]
    recording.close()
    assert len(rows) == len(made.accel)
    assert np.array([r[2:] for r in rows]) == pytest.approx(made.accel[:, 1:].astype(np.float32), nan_ok=True)
    assert "3 recordings" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("extra", "said"),
    [
        (["--kind", "storm"], "storm"),
        (["--rate", "3"], "--rate"),
        (["--count", "0"], "count"),
        (["--seed", "-1"], "seed"),
    ],
)
def test_command_refuses_in_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], extra: list[str], said: str
) -> None:
    assert run(["simulate", str(tmp_path / "sim"), *extra]) == 2
    err = capsys.readouterr().err
    assert said in err and len(err.strip().splitlines()) == 1
    assert not (tmp_path / "sim").exists()


def test_command_overwrites_nothing(tmp_path: Path) -> None:
    (tmp_path / "01-short").mkdir(parents=True)
    (tmp_path / "01-short" / "accel.csv").write_text("mine")
    assert run(["simulate", str(tmp_path), "--count", "2", "--kind", "short"]) == 2
    assert (tmp_path / "01-short" / "accel.csv").read_text() == "mine"
    assert not (tmp_path / "00-short").exists()  # refused before anything was written
