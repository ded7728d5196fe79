"""`cadence-coach app`: what is asked wrongly is told before a window opens, and a screen joins an outing that
`live --serve` rides."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time

import pytest

from cadence_coach import cli
from cadence_coach.live import Client
from tests.app.driver import Driver
from tests.live.build import recording


@pytest.mark.parametrize(
    ("argv", "code", "words"),
    [
        (["--size", "3"], 2, "phone, or WIDTHxHEIGHT"),
        (["--size", "99x99"], 2, "320 to 8000"),
        (["--size", "100000x100000"], 2, "320 to 8000"),
        (["--source", "nowhere"], 2, "no such recording"),
        (["--source", "recording:nowhere"], 2, "no such recording"),
        (["--source", "sim:dance"], 2, "no kind 'dance'"),
        (["--source", "sim:calm:x"], 2, "no whole number"),
        (["--source", "phone:"], 2, "sensors are on the phone"),
        (["--lang", "xx"], 2, "choose one of en, de"),
        (["--theme", "pink"], 2, "choose one of sun, dark"),
        (["--attach", "--source", "sim:calm:1"], 2, "leave out one"),
        (["--attach"], 1, "live --serve"),
        (["--size", "phone"], 1, "no screen here"),
    ],
)
def test_what_is_asked_wrongly_is_told_in_one_line(argv, code, words, tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path))
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "SDL_VIDEODRIVER"):
        monkeypatch.delenv(name, raising=False)
    if argv == ["--attach"]:
        monkeypatch.setenv("SDL_VIDEODRIVER", "offscreen")
    assert cli.run(["app", *argv]) == code
    err = capsys.readouterr().err
    assert words in err and err.count("\n") == 1
    assert "kivy" not in sys.modules


def test_screens_join_and_leave_a_ride_that_goes_on(tmp_path):
    home = tmp_path / "home"
    ride = recording(tmp_path / "ride", "calm", 9, until=151.0)
    env = {**os.environ, "CADENCE_COACH_HOME": str(home)}
    live = [
        sys.executable,
        "-m",
        "cadence_coach",
        "live",
        "--serve",
        "--yes",
        "--sound",
        "silent",
        "--source",
        str(ride),
    ]
    log = tmp_path / "live.log"
    with open(log, "wb") as file:
        riding = subprocess.Popen(live, env=env, stdout=file, stderr=file, stdin=subprocess.DEVNULL)
    try:
        end = time.monotonic() + 60
        while not (home / "engine.json").exists():
            assert riding.poll() is None and time.monotonic() < end, log.read_text()
            time.sleep(0.05)
        command = [sys.executable, "-m", "cadence_coach", "app", "--attach", "--size", "phone", "--lang", "de"]
        offscreen = {**env, "SDL_VIDEODRIVER": "offscreen", "KIVY_HOME": str(tmp_path / "kivy")}
        typed = subprocess.Popen(command, env=offscreen, stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
        with Driver(home, attach=True) as one, Driver(home, attach=True, look="dark") as two:
            for screen in (one, two):
                screen.until(lambda screen=screen: (screen.view()["view"] or {}).get("mood") not in ("coming", None))
                assert screen.page == "water"
            one.unlock()
            one.tap("water.mute")
            two.until(lambda: any("muted" in text for text in two.texts()))
            assert typed.poll() is None
            typed.send_signal(signal.SIGKILL)
            assert b"Traceback" not in typed.communicate()[0]
            one.kill()
            two.until(lambda: any("muted" in text for text in two.texts()))
            with Client(home) as client:
                first = client.snapshot()
                assert first.muted and first.phase == "going"
                two.until(lambda: client.snapshot().time_s > first.time_s)
            assert riding.poll() is None
    finally:
        riding.send_signal(signal.SIGTERM)
        riding.wait(60)
    assert riding.returncode == 0 and "Kept: " in log.read_text()
