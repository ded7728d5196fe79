"""A recording made beside the clicks, through the detector of the water: a made-up person who squats with known lead
and scatter."""

from __future__ import annotations

import json
import random
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from cadence_coach.core import events as ev
from cadence_coach.land.plan import Plan
from cadence_coach.land.session import Session
from cadence_coach.review.figures import armed
from cadence_coach.review.ladder import score
from cadence_coach.review.looking import looked
from cadence_coach.review.sets import set_scores
from cadence_coach.store.outing import Note
from cadence_coach.store.outing_file import load_outing
from cadence_coach.store.rescue import add_note

ROOT = Path(__file__).parents[2]
PLAN = Plan((84.0, 92.0, 100.0), 3, set_s=20, rest_s=12)
ARGUMENTS = ("--ladder", "84,92,100", "--set-seconds", "20", "--rest", "12")


def squats(folder: Path, begin: float, lead: float, scatter: float, share: float = 0.5, seed: int = 1) -> Path:
    """accel.csv at 100 Hz of one who goes with PLAN's clicks: half-sines over and under 1 g, momentum kept; tilted
    phone."""
    rng = random.Random(seed)
    session = Session(PLAN, begin, listening=False)
    while not session.over:
        session.advance(session.deadline)
    clicks = [e.time for e in session.events() if isinstance(e, ev.Click) and e.sound == "click"]
    onsets = [c - lead + rng.gauss(0, scatter) for c in clicks]
    t = np.arange(0, onsets[-1] + 8, 0.01)
    g = np.ones(len(t))
    for a, b in zip(onsets, [*onsets[1:], 1e9], strict=True):
        period = min(b - a, 0.75)
        up, down = share * period, (1 - share) * period
        push, glide = (t >= a) & (t < a + up), (t >= a + up) & (t < a + period)
        g[push] += 0.55 * np.sin(np.pi * (t[push] - a) / up)
        g[glide] -= 0.55 * up / down * np.sin(np.pi * (t[glide] - a - up) / down)
    noise = np.random.default_rng(seed).normal(0, 0.15, (len(t), 3))
    body = 9.80665 * g[:, None] * np.array([0.36, 0.48, 0.80]) + noise
    folder.mkdir()
    rows = np.column_stack((t, body))
    np.savetxt(folder / "accel.csv", rows, "%.5f", ",", header="t_s,ax_m_s2,ay_m_s2,az_m_s2", comments="")
    return folder


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch) -> Path:
    """The data folder, where what was scored is kept."""
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


def run(*arguments: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "cadence_coach", "land", *arguments]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=120)


def test_lead_lock_and_push_share_come_back(tmp_path):
    """40 ms ahead with 20 ms of scatter and a push of 45 %: R = exp(-sigma^2 / 2), lead within 10 ms, share within 3
    %."""
    recording = squats(tmp_path / "rec", begin=5.0, lead=0.040, scatter=0.020, share=0.45)
    done = run(
        *ARGUMENTS, "--recording", str(recording), "--first-click", "5", "--json", str(tmp_path / "o.json"),
        "--pictures", str(tmp_path / "pictures"),
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    found = json.loads((tmp_path / "o.json").read_text())
    assert found["clock"] == "given" and [s["tempo_per_min"] for s in found["sets"]] == pytest.approx([84, 92, 100])
    for one in found["sets"]:
        angle = 2 * np.pi * 0.020 * one["tempo_per_min"] / 60
        assert one["lead_s"] == pytest.approx(0.040, abs=0.010)
        assert one["lock_r"] == pytest.approx(np.exp(-(angle**2) / 2), abs=0.02)
        assert one["push_share"] == pytest.approx(0.45, abs=0.03)
        assert one["missed"] <= 1 and one["extra"] <= 1
        assert one["v_p"] < 1e-6 and one["passed"]
    assert "ms ahead of the click" in done.stdout and "passed" in done.stdout
    for number in (1, 2, 3):
        assert (tmp_path / "pictures" / f"set-{number}.png").stat().st_size > 5000
    outing = load_outing(found["outing"])
    assert armed(outing) == "land" and not outing.flights
    assert set_scores(outing)[0].lead_s == pytest.approx(0.040, abs=0.010)
    rung = score(looked(outing))[0]  # three tempos, none of them the rung's: scored, and not passed
    assert rung.best > 0.95 and not rung.passed
    again = run(*ARGUMENTS, "--recording", str(recording), "--first-click", "5", "--no-keep")
    assert "Kept:" not in again.stdout and len(list(Path(found["outing"]).parent.iterdir())) == 1


def test_scored_again_with_another_plan_that_one_is_kept(tmp_path):
    """And what was said of it stays."""
    recording = squats(tmp_path / "rec", begin=5.0, lead=0.0, scatter=0.02)
    given = ["--recording", str(recording), "--first-click", "5", "--json", str(tmp_path / "o.json")]
    assert run("--tempo", "84", "--sets", "1", "--set-seconds", "20", *given).returncode == 0
    path = Path(json.loads((tmp_path / "o.json").read_text())["outing"])
    add_note(path, Note("n1", "Mika (invented)", "2026-05-01T10:00:00Z", None, "Heavy legs"))
    wrong = load_outing(path)
    again = run(*ARGUMENTS, *given)
    assert again.returncode == 0 and f"Kept: {path}" in again.stdout
    right = load_outing(path)
    assert right.meta["land"] != wrong.meta["land"] and len(right.clicks) != len(wrong.clicks)
    assert right.notes == wrong.notes and list(path.parent.iterdir()) == [path]


def test_an_outing_on_the_water_stays_and_it_is_said_that_nothing_was_kept(tmp_path, home):
    recording = squats(tmp_path / "rec", begin=5.0, lead=0.0, scatter=0.02)
    command = [sys.executable, "-m", "cadence_coach", "import", str(recording)]
    assert subprocess.run(command, cwd=ROOT, capture_output=True, timeout=120).returncode == 0
    (path,) = (home / "outings").iterdir()
    before = path.read_bytes()
    scored = run(*ARGUMENTS, "--recording", str(recording), "--json", str(tmp_path / "o.json"))
    assert scored.returncode == 0 and path.read_bytes() == before
    assert f"Not kept: {path} holds this recording as an outing on the water" in scored.stdout
    assert "Kept:" not in scored.stdout and json.loads((tmp_path / "o.json").read_text())["outing"] is None
    assert list(path.parent.iterdir()) == [path]


def test_without_a_common_clock_the_lead_is_not_claimed(tmp_path):
    recording = squats(tmp_path / "rec", begin=23.7, lead=0.1, scatter=0.03)
    done = run(*ARGUMENTS, "--recording", str(recording), "--json", "-")
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert found["clock"] == "fitted"
    looked_back = set_scores(load_outing(found["outing"]))
    assert [(s.lead_s, s.v_p) for s in looked_back] == [(None, None)] * 3 and looked_back[0].lock_r > 0.9
    assert [s["number"] for s in found["sets"]] == [1, 2, 3]
    for one in found["sets"]:
        assert one["lead_s"] is None and one["v_p"] is None
        assert one["lock_r"] > 0.9 and one["rayleigh_p"] < 1e-6
        assert one["missed"] <= 2


def test_one_who_loses_the_beat_is_told_what_to_work_on(tmp_path):
    recording = squats(tmp_path / "rec", begin=5.0, lead=0.0, scatter=0.09)
    done = run(*ARGUMENTS, "--recording", str(recording), "--first-click", "5")
    assert done.returncode == 0, done.stderr
    assert "again: " in done.stdout and "not at one place of the beat" in done.stdout


def test_a_recording_without_movement_is_one_clear_line(tmp_path):
    folder = tmp_path / "still"
    folder.mkdir()
    t = np.arange(0, 60, 0.01)
    rows = np.column_stack((t, 0 * t, 0 * t, 0 * t + 9.81))
    np.savetxt(folder / "accel.csv", rows, "%.5f", ",", header="t_s,ax_m_s2,ay_m_s2,az_m_s2", comments="")
    done = run(*ARGUMENTS, "--recording", str(folder))
    assert done.returncode == 1
    assert "no squat or hop" in done.stderr and len(done.stderr.strip().splitlines()) == 1
