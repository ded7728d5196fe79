"""Through a real audio server: PulseAudio with a null sink, started here, recorded with parec, both cores kept busy."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from cadence_coach.sound import cues, device
from cadence_coach.sound.device import DeviceSink
from cadence_coach.sound.mixer import Mixer
from tests.sound.pulse import RATE, Pulse
from tests.sound.stalls import measured

LONG = os.environ.get("CADENCE_COACH_LONG") == "1"
SECONDS = 180 if LONG else 15
PER_MIN = 114
ROOT = Path(__file__).parents[2]
BURN = [sys.executable, "-c", "while True: sum(range(1000))"]


@pytest.fixture
def both_cores_busy():
    burners = [subprocess.Popen(BURN) for _ in range(os.cpu_count() or 2)]
    yield
    for burner in burners:
        burner.kill()
        burner.wait()


def play(pulse: Pulse, seconds: float) -> subprocess.Popen[str]:
    how = {"stdout": subprocess.PIPE, "stderr": subprocess.DEVNULL, "text": True}
    arguments = [sys.executable, "-m", "tests.sound.player", str(seconds), str(PER_MIN)]
    return subprocess.Popen(arguments, env=pulse.env, cwd=ROOT, **how)


def clicks_in(raw: Path) -> np.ndarray:
    """Frames on which clicks begin in a recording: where it matches the click best, by cross-correlation."""
    sound = np.fromfile(raw, dtype="<f4").astype(float)
    click = cues.pcm("click", RATE).astype(float)
    size = 1 << int(np.ceil(np.log2(len(sound) + len(click))))
    match = np.fft.irfft(np.fft.rfft(sound, size) * np.conj(np.fft.rfft(click, size)), size)[: len(sound)]
    threshold = 0.6 * float(np.dot(click, click))
    found, at = [], 0
    while True:
        over = np.flatnonzero(match[at:] > threshold)
        if not len(over):
            return np.array(found)
        start = at + int(over[0])
        peak = start + int(np.argmax(match[start : start + 400]))
        found.append(peak)
        at = peak + 4000


def wait_for_clicks(raw: Path, count: int) -> None:
    """Until so many clicks have been recorded; however busy the machine is, a test must not begin too soon."""
    for _ in range(120):
        time.sleep(0.5)
        if len(clicks_in(raw)) >= count:
            return
    raise AssertionError(f"fewer than {count} clicks within a minute")


def test_clicks_come_out_of_a_real_server_on_their_frames(pulse, tmp_path, both_cores_busy):
    """Inter-click SD <= 0.02 ms, worst <= 1 frame, no underflow (the project's own goal)."""

    def measure() -> tuple[dict, np.ndarray]:
        recorder = pulse.record(tmp_path / "heard.raw")
        player = play(pulse, SECONDS)
        report = json.loads(player.communicate(timeout=SECONDS + 60)[0])
        time.sleep(0.3)
        recorder.terminate()
        recorder.wait()
        return report, clicks_in(tmp_path / "heard.raw")

    def even(result: tuple[dict, np.ndarray]) -> bool:
        return result[0]["underflows"] == 0 and float(np.std(np.diff(result[1]))) < 1

    report, clicks = measured(measure, even)
    apart = np.diff(clicks)
    assert report["sink"].startswith("device:") and report["reason"] is None
    assert report["underflows"] == report["callback_errors"] == report["lost"] == report["late"] == 0, report
    assert len(clicks) >= (SECONDS - 2.5) * PER_MIN / 60
    assert np.std(apart) / RATE <= 0.02e-3, apart
    assert np.max(np.abs(apart - report["period"])) <= 1, apart
    assert report["clock_wander_ms"] < 10, report  # frame_at beside the monotonic clock
    assert 0.02 < report["latency_s"] < 0.2
    print(
        f"{len(clicks)} clicks, SD {np.std(apart) / RATE * 1000:.4f} ms, worst "
        f"{np.max(np.abs(apart - report['period'])):.2f} frames, {report}"
    )


def test_server_killed_and_started_again_in_the_middle(pulse, tmp_path):
    """The caller notices nothing; after the new start clicks go on, in step with the time before."""

    def measure() -> tuple[dict, np.ndarray, np.ndarray]:
        first = pulse.record(tmp_path / "first.raw")
        player = play(pulse, 120)
        wait_for_clicks(tmp_path / "first.raw", 6)
        pulse.kill()
        first.wait(timeout=10)
        time.sleep(2)
        pulse.start()
        second = pulse.record(tmp_path / "second.raw")
        wait_for_clicks(tmp_path / "second.raw", 12)
        player.send_signal(signal.SIGTERM)
        report = json.loads(player.communicate(timeout=60)[0])
        assert player.returncode == 0
        second.terminate()
        second.wait()
        return report, clicks_in(tmp_path / "first.raw"), clicks_in(tmp_path / "second.raw")

    def in_step(result: tuple[dict, np.ndarray, np.ndarray]) -> bool:
        report, *heard = result
        apart = np.concatenate([np.diff(clicks) for clicks in heard]) / report["period"]
        return (
            report["underflows"] == 0
            and report["lost"] == 1
            and report["worst_call_ms"] < 1000
            and float(np.max(np.abs(apart - np.rint(apart)))) < 0.02
            and report["clock_wander_ms"] < 20
            and abs(report["clock_shift_ms"]) < 30
        )

    report, before, after = measured(measure, in_step)
    assert report["lost"] == 1 and report["reopened"] >= 1 and report["callback_errors"] == 0, report
    assert report["reason"] is None
    assert report["worst_call_ms"] < 1000, report  # placing and asking for the frame never waits for the device
    assert len(before) >= 4 and len(after) >= 4
    for clicks in (before, after):
        apart = np.diff(clicks)
        # an opening stream may still be filling its buffer; a gap from the loss itself is a whole number of periods
        assert np.max(np.abs(apart / report["period"] - np.rint(apart / report["period"]))) < 0.02, apart
    assert report["clock_wander_ms"] < 20, report
    assert abs(report["clock_shift_ms"]) < 30, report  # in step with the time before


def test_without_a_server_the_silent_sink_runs_and_says_why(tmp_path):
    """No server, no card: `device` falls back, with the same frame counter; the reason names what to do."""
    pulse = Pulse(tmp_path)  # never started
    player = play(pulse, 2)
    report = json.loads(player.communicate(timeout=60)[0])
    assert report["sink"] == "silent"
    assert "no sound device" in report["reason"] and "`check`" in report["reason"]
    assert report["late"] == 0 and report["placed"] > 4
    assert report["clock_wander_ms"] < 20, report


def test_a_named_device(pulse):
    code = (
        "from cadence_coach.sound.sinks import open_sink\n"
        "s = open_sink('device:pulse'); print(s.name, s.rate)\n"
        "s = open_sink('device:harp'); print(s.name, s.reason)\n"
    )
    out = subprocess.run(
        [sys.executable, "-c", code], env=pulse.env, cwd=ROOT, capture_output=True, text=True, timeout=60
    ).stdout.splitlines()
    assert out[0] == "device:pulse 48000"
    assert out[1].startswith("silent no sound device 'harp'")


@pytest.mark.parametrize("lead", [0.0, 0.11])
def test_a_device_that_came_back_goes_on_at_the_frame_that_is_due(lead, monkeypatch):
    """A server may take the first blocks at once and then hold them: not the first block, the first reading decides;
    a device that says nothing of its lead plays again all the same."""
    sink, mixer = DeviceSink("invented", None, RATE), Mixer(RATE)
    sink._mixer, sink._next = mixer, None  # as after a loss, without any device
    now = 500.0
    monkeypatch.setattr(device, "time", SimpleNamespace(monotonic=lambda: now))  # stands until it is moved
    sink._fit.add(now, 1_000_000.0)
    mixer.skip(1_000_000)
    times = SimpleNamespace(currentTime=0.0, outputBufferDacTime=0.0)
    status = SimpleNamespace(output_underflow=False)
    out = np.empty((1200, 1), dtype=np.float32)
    sink._opened = sink._called = now
    for _ in range(4):
        sink._callback(out, 1200, times, status)
    assert not out.any() and mixer.frontier == 1_000_000
    assert sink.soonest() >= sink.frame_now()  # a cue asked for meanwhile is not placed in the past
    now += 1.0
    due = sink.frame_now() + (lead or sink.latency_s()) * RATE
    times.outputBufferDacTime = lead
    sink._callback(out, 1200, times, status)
    assert due == pytest.approx(1_000_000 + (1.0 + (lead or 0.1)) * RATE, abs=1)
    assert mixer.frontier == pytest.approx(due + 1200, abs=1)
    assert sink.frame_now() == pytest.approx(due - (lead or sink.latency_s()) * RATE, abs=1)
