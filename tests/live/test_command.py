"""`live` in a terminal: the safety list, the status line, and how it ends."""

from __future__ import annotations

import os
import pty
import re
import select
import signal
import subprocess
import sys
import time

import pytest

from cadence_coach import cli, safety
from cadence_coach.commands.live import status
from cadence_coach.live import Client, Snapshot, serve
from cadence_coach.store.folders import FolderLock, outings_folder
from cadence_coach.store.outing_file import load_outing
from tests.live import build


@pytest.fixture(scope="module")
def ride(tmp_path_factory):
    return build.recording(tmp_path_factory.mktemp("ride") / "ride", until=40.0)


def command(*argv, home, **more):
    env = {**os.environ, "CADENCE_COACH_HOME": str(home), "TERM": "dumb"}
    return subprocess.Popen([sys.executable, "-m", "cadence_coach", "live", *argv], env=env, text=True, **more)


def run(*argv, home):
    done = command(*argv, home=home, stdout=subprocess.PIPE, stderr=subprocess.PIPE, stdin=subprocess.DEVNULL)
    out, err = done.communicate(timeout=120)
    return done.returncode, out, err


def outings(home):
    return [load_outing(p) for p in sorted((home / "outings").glob("*.outing"))]


def test_fast_with_sound_and_summary(ride, tmp_path):
    code, out, err = run(
        "--source", str(ride), "--yes", "--fast", "--sound", f"wav:{tmp_path}/heard.wav", home=tmp_path
    )
    assert code == 0, err
    assert "flight" in out and "Kept: " in out
    assert (tmp_path / "heard.wav").stat().st_size > 48000 * 2 * 35
    (outing,) = outings(tmp_path)
    assert outing.meta["ended"] == "end_of_data" and outing.profile and outing.meta["source"]["name"] == "ride"


@pytest.mark.parametrize(
    ("argv", "words"),
    [
        (("--source", "phone", "--yes"), "ticked by hand"),
        (("--source", "phone:", "--fast"), "ticked by hand"),
        (("--source", "sim"), "ticked by hand"),
        (("--source", "sim", "--yes", "--fast", "--sound", "device"), "so fast"),
        (("--source", "sim", "--yes", "--start", "plane"), "choose one of"),
        (("--source", "sim", "--yes", "--focus", "luck"), "choose one of"),
        (("--source", "sim", "--yes", "--water-temperature", "90"), "deg C"),
        (("--source", "sim:none", "--yes"), "no kind"),
        (("--source", "nowhere", "--yes"), "no such recording"),
        (("--source", "sim", "--yes", "--fast", "--sound", "wav:"), "sound output 'wav:': choose device"),
        (("--source", "sim", "--yes", "--fast", "--sound", "silent:x"), "sound output 'silent:x': choose device"),
        (("--source", "sim", "--yes", "--fast", "--sound", "wav:a.mp3"), "wav:a.mp3: what is written is a WAV"),
    ],
)
def test_asked_wrongly(argv, words, tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path))
    code = cli.run(["live", *argv])
    out, err = capsys.readouterr()
    assert code == 2 and words in err and len(err.splitlines()) == 1 and not out


def test_a_second_coach_in_the_folder_is_refused(ride, tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path))
    with FolderLock(outings_folder()).take():
        assert cli.run(["live", "--source", str(ride), "--yes", "--fast"]) == 1
    err = capsys.readouterr().err
    assert "another coach" in err and len(err.splitlines()) == 1 and not list((tmp_path / "outings").glob("*.outing"))


def test_a_second_one_that_keeps_nothing_is_not_served_beside_it(ride, tmp_path):
    """The first goes on, and screens find it as before."""
    argv = ("--source", str(ride), "--yes", "--sound", "silent", "--serve")
    first = command(*argv, home=tmp_path, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    until = time.monotonic() + 60
    while not (tmp_path / "engine.json").exists():
        assert first.poll() is None and time.monotonic() < until
        time.sleep(0.05)
    address = (tmp_path / "engine.json").read_text()
    code, out, err = run(*argv, "--no-keep", home=tmp_path)
    assert code == 1 and f"another coach (process {first.pid})" in err, (out, err)
    assert (tmp_path / "engine.json").read_text() == address
    with Client(tmp_path) as client:
        assert client.pid == first.pid and client.snapshot().phase != "ended"
        client.command("stop")
    assert first.wait(60) == 0 and not (tmp_path / "engine.json").exists()


def test_an_outing_whose_screens_cannot_be_served_leaves_no_file(ride, tmp_path):
    """One that keeps its outing, beside one that keeps nothing."""
    with FolderLock(tmp_path, serve.LOCK).take():
        code, _, err = run("--source", str(ride), "--yes", "--sound", "silent", "--serve", home=tmp_path)
    assert code == 1 and "another coach" in err and "Traceback" not in err
    assert [p.name for p in (tmp_path / "outings").iterdir()] == ["in-use"]


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_ended_by_hand_it_closes_cleanly(ride, tmp_path, how):
    running = command(
        "--source",
        str(ride),
        "--yes",
        "--sound",
        "silent",
        home=tmp_path,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    until = time.monotonic() + 60
    while not list((tmp_path / "outings").glob("*.outing-wal")):
        assert running.poll() is None and time.monotonic() < until, running.communicate()
        time.sleep(0.05)
    while len(outings(tmp_path)[0].accel) <= 50:
        assert running.poll() is None and time.monotonic() < until, running.communicate()
        time.sleep(0.2)
    running.send_signal(how)
    out, err = running.communicate(timeout=120)
    assert running.returncode == 0, err
    assert "Kept: " in out and "Traceback" not in err
    (outing,) = outings(tmp_path)
    assert outing.meta["ended"] == "stopped" and len(outing.accel) > 50
    assert [c.name for c in outing.commands if c.name in ("arm", "stop")] == ["arm", "stop"]


POLITELY = """
import os, signal, sys
from cadence_coach import cli, live
usual = getattr(live, sys.argv[1])
def at_once(*given):
    if sys.argv[1] == "begin":
        os.kill(os.getpid(), signal.SIGTERM)
    done = usual(*given)
    os.kill(os.getpid(), signal.SIGTERM)
    return done
setattr(live, sys.argv[1], at_once)
sys.exit(cli.run(sys.argv[2:]))
"""


@pytest.mark.parametrize("moment", ["begin", "Server"])
def test_ended_by_hand_before_it_has_begun_nothing_is_left_behind(tmp_path, moment):
    """A polite kill while files are opened, and as soon as screens can find it."""
    argv = ("live", "--serve", "--yes", "--sound", "silent", "--source", "sim:calm:1")
    env = {**os.environ, "CADENCE_COACH_HOME": str(tmp_path)}
    done = subprocess.run([sys.executable, "-c", POLITELY, moment, *argv], env=env, capture_output=True, text=True)
    assert done.returncode == 0 and "Traceback" not in done.stderr, done.stderr
    assert not {"engine.json", "engine.sock"} & {p.name for p in tmp_path.iterdir()}
    assert [p.suffix for p in (tmp_path / "outings").iterdir() if p.name != "in-use"] == [".outing"]
    (outing,) = outings(tmp_path)
    assert outing.meta["ended"] == "stopped"


def typed(argv, keys, home):
    """The command on a real terminal; keys are typed one by one as it asks."""
    pid, handle = pty.fork()
    if pid == 0:
        os.environ.update(CADENCE_COACH_HOME=str(home), TERM="dumb")
        os.execv(sys.executable, [sys.executable, "-m", "cadence_coach", "live", *argv])
    seen = b""
    until = time.monotonic() + 120
    while time.monotonic() < until:
        if select.select([handle], [], [], 0.2)[0]:
            try:
                part = os.read(handle, 65536)
            except OSError:
                break
            if not part:
                break
            seen += part
            if seen.rstrip().endswith(b"n to stop:") and keys:
                os.write(handle, keys.pop(0))
                seen += b" "
    else:
        os.kill(pid, signal.SIGKILL)
    _, state = os.waitpid(pid, 0)
    return os.waitstatus_to_exitcode(state), seen.decode()


def test_every_point_is_ticked_by_hand(ride, tmp_path):
    points = safety.points("dock")
    code, seen = typed(["--source", str(ride), "--fast"], [b"\n"] * len(points), tmp_path)
    assert code == 0 and "Kept: " in seen
    for _, text in points:
        assert text in re.sub(r"\s+", " ", seen)
    assert safety.heading() in re.sub(r"\s+", " ", seen)


def test_one_point_not_ticked_and_nothing_starts(ride, tmp_path):
    code, seen = typed(["--source", str(ride), "--fast"], [b"\n", b"\n", b"n\n"], tmp_path)
    assert code == 1 and "put it right" in seen and not (tmp_path / "outings").exists()


def test_the_lists_say_what_design_asks_for():
    for start in (*safety.BY_START, "land"):
        texts = [text for _, text in safety.points(start)]
        assert len(set(texts)) == len(texts) and all(text.strip() and len(text) < 140 for text in texts)
    assert set(safety.TEXTS["en"]) == {safety.FIRST, *safety.ALWAYS, *safety.LAND}.union(*safety.BY_START.values())
    always = " ".join(t for _, t in safety.points("dock")).lower()
    for word in (
        "leash",
        "quick release",
        "vest",
        "helmet",
        "buoyancy",
        "depth",
        "head first",
        "flat",
        "alone",
        "shore",
    ):
        assert word in always
    rope = " ".join(t for _, t in safety.points("rope")).lower()
    for word in (
        "observer",
        "kill cord",
        "quick release",
        "never tied",
        "signals",
        "propeller",
        "clear of the rope",
        "silent",
    ):
        assert word in rope
    with pytest.raises(ValueError, match="choose one of"):
        safety.points("plane")


def test_the_status_line_says_what_is_wrong():
    fine = Snapshot(time_s=75.0, phase="going", sensor="ok", flight_s=12.0, flight_pumps=18, cadence_hz=1.5)
    assert status(fine) == "1:15  |  going  |  flight 1: 12 s, 18 pumps  |  90 a minute"
    wrong = Snapshot(sensor="silent", store="the disk takes no more", sink_reason="pulled out")
    assert all(text in status(wrong) for text in ("sensor silent", "the disk takes no more", "pulled out"))
