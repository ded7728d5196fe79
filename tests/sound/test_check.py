"""`check` on a machine with and without a sound server: run as a user would, in a process of its own."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from cadence_coach.app.desktop import DesktopHost
from tests.sound.pulse import Pulse
from tests.sound.stalls import measured
from tests.sound.test_server import clicks_in

ROOT = Path(__file__).parents[2]


def run(env: dict[str, str], tmp_path: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    env = {**env, "CADENCE_COACH_HOME": str(tmp_path / "data"), "SDL_VIDEODRIVER": "offscreen"}
    env.pop("DISPLAY", None)
    command = [sys.executable, "-m", "cadence_coach", "check", *arguments]
    return subprocess.run(command, env=env, cwd=ROOT, capture_output=True, text=True, timeout=300)


def test_with_a_sound_server(pulse, tmp_path):
    def measure() -> tuple[subprocess.CompletedProcess[str], list[int]]:
        recorder = pulse.record(tmp_path / "heard.raw")
        done = run(pulse.env, tmp_path, "--tone", "--json", "--no-screen")
        recorder.terminate()
        recorder.wait()
        sound = np.fromfile(tmp_path / "heard.raw", dtype="<f4") * np.float32(10 ** (12 / 20))  # played at -12 dB
        sound.tofile(tmp_path / "loud.raw")
        return done, list(np.diff(clicks_in(tmp_path / "loud.raw")[:4]))

    done, apart = measured(measure, lambda result: result[1] == [24000] * 3)
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    audio = found["sound"]
    assert audio["sink"].startswith("device:") and audio["reason"] is None and audio["rate_hz"] == 48000
    assert {"pulse", "default"} <= {one["name"] for one in audio["devices"]}
    assert 0.02 < audio["buffer_latency_s"] < 0.3 and audio["block_frames"] > 0
    assert found["speech"]["en"] == found["speech"]["de"] > 100
    assert found["sensors"]["phone"] and found["screen"] is None
    assert apart == [24000] * 3


def test_without_sound_it_says_what_would_run_and_why(tmp_path):
    env = Pulse(tmp_path).env  # never started
    done = run(env, tmp_path)
    assert done.returncode == 0, done.stderr
    assert "chosen: silent" in done.stdout
    assert "because: no sound device" in done.stdout
    assert "nobody sees it" in done.stdout
    assert str(tmp_path / "data") in done.stdout


@pytest.mark.parametrize("lang", ["en", "de"])
def test_the_apps_test_on_a_desktop_tells_the_same(tmp_path, monkeypatch, lang):
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path / "data"))
    done = run(dict(os.environ), tmp_path, "--sound", "silent", "--json", "--no-screen")
    found = json.loads(done.stdout)
    shares: list[float] = []
    told = DesktopHost(sound="silent").check(shares.append, lambda: True)
    text = "\n".join(line[lang] for line, _ in told)
    assert found["sound"]["sink"] in text and f"{found['sound']['rate_hz']} Hz" in text
    assert all(one["name"] in text for one in found["sound"]["devices"])
    assert all(f"{n} " in text for n in found["speech"].values())
    assert found["data"]["folder"] in text
    assert all(f"{name} {version}" in text for name, version in found["versions"].items())
    assert all(good for _, good in told) and len(shares) > 3 and max(shares) <= 1


def test_wrong_asking(tmp_path):
    env = Pulse(tmp_path).env
    done = run(env, tmp_path, "--sound", "wav:x.wav")
    assert done.returncode == 2 and "a file needs no check" in done.stderr
    done = run(env, tmp_path, "--volume", "6", "--sound", "silent", "--no-screen")
    assert done.returncode == 2 and "choose -40 to 0" in done.stderr
