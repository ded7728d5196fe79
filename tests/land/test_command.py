"""`land` as a user runs it: through a real sound server, without one, into a file."""

from __future__ import annotations

import json
import os
import pty
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from cadence_coach.land.notes import NOTES, PARTS, note_lines
from cadence_coach.safety import points
from cadence_coach.sound import cues
from cadence_coach.sound.pcm import read_wav
from tests.sound.pulse import RATE, Pulse
from tests.sound.stalls import measured
from tests.sound.test_server import clicks_in

ROOT = Path(__file__).parents[2]


def run(tmp_path: Path, env: dict[str, str], *arguments: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "cadence_coach", "land", *arguments]
    env = {**env, "PYTHONPATH": str(ROOT)}
    how = {"capture_output": True, "text": True, "timeout": 300, "stdin": subprocess.DEVNULL}
    return subprocess.run(command, env=env, cwd=tmp_path, **how)


def test_clicks_through_a_real_server_are_exact(pulse, tmp_path):
    plan = ("--tempo", "113", "--sets", "1", "--set-seconds", "8", "--push-share", "0", "--volume", "0")

    def measure() -> tuple[subprocess.CompletedProcess[str], np.ndarray]:
        recorder = pulse.record(tmp_path / "heard.raw")
        done = run(tmp_path, pulse.env, *plan, "--yes", "--no-notes", "--json", str(tmp_path / "out.json"))
        recorder.terminate()
        recorder.wait()
        return done, np.diff(clicks_in(tmp_path / "heard.raw"))

    done, apart = measured(measure, lambda result: "underflows" not in result[0].stderr and np.std(result[1]) < 1)
    assert done.returncode == 0, done.stderr
    assert "ITU-T H.870" in done.stdout
    found = json.loads((tmp_path / "out.json").read_text())
    assert found["sink"].startswith("device:") and found["trouble"]["underflows"] == 0
    assert found["sets"] == [{"number": 1, "first_click_s": 4 * 60 / 113, "measured": False}]
    assert len(apart) >= 14
    assert np.max(np.abs(apart - 60 / 113 * RATE)) <= 1


def test_without_sound_it_says_so_and_writes_a_wav(tmp_path):
    env = Pulse(tmp_path).env  # never started
    done = run(tmp_path, env, "--tempo", "90", "--sets", "2", "--set-seconds", "5", "--rest", "10")
    assert done.returncode == 0, done.stderr
    assert "No sound: no sound device" in done.stderr and "land.wav" in done.stdout
    sound, rate = read_wav(tmp_path / "land.wav")
    assert rate == RATE and len(sound) > 25 * RATE


def test_every_click_of_a_wav_sits_on_its_frame(tmp_path):
    env = Pulse(tmp_path).env
    plan = ("--ladder", "80,97", "--set-seconds", "6", "--rest", "9", "--push-share", "0.42")
    done = run(tmp_path, env, *plan, "--wav", "a.wav", "--json", "-")
    found = json.loads(done.stdout)
    sound, _ = read_wav(tmp_path / "a.wav")
    gain = 10 ** (-6 / 20)
    for one, tempo in zip(found["sets"], (80, 97), strict=True):
        period = 60 / tempo
        for k in range(int(6 / period)):
            for name, at in (("click", k * period), ("tick", (k + 0.42) * period)):
                frame = round((one["first_click_s"] + at) * RATE)
                wanted = cues.pcm(name, RATE) * gain
                assert sound[frame : frame + len(wanted)] == pytest.approx(wanted, abs=2e-3), (name, k)
                assert sound[frame + 1] != 0 and not sound[frame - 40 : frame].any()


def test_the_safety_list_is_ticked_by_hand(tmp_path):
    done = run(tmp_path, Pulse(tmp_path).env, "--sound", "silent", "--sets", "1", "--set-seconds", "2")
    assert done.returncode == 2 and "ticked by hand" in done.stderr


def test_notes_are_shown_and_a_silent_training_runs(tmp_path):
    plan = ("--sound", "silent", "--sets", "1", "--set-seconds", "2", "--tempo", "180")
    done = run(tmp_path, Pulse(tmp_path).env, *plan, "--yes", "--lang", "de")
    assert done.returncode == 0, done.stderr
    assert "Auffangen" in done.stdout and "Blick" in done.stdout


def test_every_part_has_a_note_for_the_whole_body():
    for lang, parts in NOTES.items():
        assert tuple(parts) == PARTS
        for number, part in enumerate(PARTS, start=1):
            assert set(parts[part]) == {"", "feet", "knees", "arms", "gaze"}
            assert note_lines(number + 4, lang)[0] == parts[part][""]
            assert all(len(line) < 120 for line in note_lines(number, lang))


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--tempo", "500"), "choose 30 to 200"),
        (("--tempo", "90", "--ladder", "80:90:5"), "--tempo and --ladder: give one"),
        (("--ladder", "up"), "give FROM:TO:STEP"),
        (("--push-share", "0.95"), "push share 0.95: choose 0.2 to 0.8"),
        (("--first-click", "3"), "--first-click belongs to a recording"),
        (("--lang", "xx"), "--lang xx: choose one of en, de"),
        (("--recording", "nowhere"), "nowhere"),
        (("--sound", "harp"), "choose device"),
    ],
)
def test_wrong_asking_is_one_line(tmp_path, arguments, said):
    done = run(tmp_path, Pulse(tmp_path).env, *arguments)
    assert done.returncode == 2
    assert said in done.stderr and len(done.stderr.strip().splitlines()) == 1


SHORT = ("--sets", "1", "--set-seconds", "2", "--tempo", "180")


@pytest.mark.parametrize(
    "how", [("--sound", "silent"), ("--sound", "device:none of these"), ("--source", "squats:1", "--sound", "silent")]
)
def test_json_on_the_screen_is_json_alone(tmp_path, how):
    """What is for people stands beside it: on stderr."""
    env = {**os.environ, "CADENCE_COACH_HOME": str(tmp_path)}
    done = run(tmp_path, env, *SHORT, *how, "--no-keep", "--yes", "--json", "-")
    assert done.returncode == 0, done.stderr
    assert len(json.loads(done.stdout)["sets"]) == 1
    if how == ("--sound", "silent"):
        assert "ITU-T H.870" in done.stderr and "1 set done." in done.stderr


@pytest.mark.parametrize("how", [(), ("--source", "squats:1", "--no-keep")])
def test_the_safety_list_is_seen_where_json_goes_to_a_file(tmp_path, how):
    """`land --json - > set.json`, ticked by hand in a terminal."""
    hand, terminal = pty.openpty()
    asked = [sys.executable, "-m", "cadence_coach", "land", *SHORT, *how, "--sound", "silent", "--json", "-"]
    env = {**os.environ, "CADENCE_COACH_HOME": str(tmp_path), "PYTHONPATH": str(ROOT)}
    os.write(hand, b"\n" * 30)
    done = subprocess.run(asked, env=env, cwd=tmp_path, stdin=terminal, capture_output=True, text=True, timeout=100)
    assert done.returncode == 0, done.stderr
    assert len(json.loads(done.stdout)["sets"]) == 1
    for _, text in points("land", "en"):
        assert text in done.stderr
