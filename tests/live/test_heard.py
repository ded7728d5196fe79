"""The whole live path in real time through a real audio server: what is recorded there against the file's events."""

from __future__ import annotations

import os
import subprocess
import sys

import numpy as np

from cadence_coach.sound import cues
from cadence_coach.store.outing_file import load_outing
from tests.live import build
from tests.sound.pulse import RATE
from tests.sound.stalls import measured

SECONDS = 26.0


def starts_of_clicks(sound: np.ndarray) -> np.ndarray:
    """Frames where the shape of a click is found, by correlation, at least 0.2 s apart."""
    shape = np.asarray(cues.pcm("click", RATE), float)
    n = 1 << int(np.ceil(np.log2(len(sound) + len(shape))))
    found = np.fft.irfft(np.fft.rfft(sound, n) * np.conj(np.fft.rfft(shape, n)), n)[: len(sound)]
    energy = np.sqrt(np.convolve(np.square(sound), np.ones(len(shape)))[len(shape) - 1 :][: len(found)])
    likeness = found[: len(energy)] / (np.linalg.norm(shape) * np.maximum(energy, 1e-4))
    out: list[int] = []
    for at in np.flatnonzero(likeness > 0.95):
        if not out or at - out[-1] > 0.2 * RATE:
            out.append(int(at))
        elif likeness[at] > likeness[out[-1]]:
            out[-1] = int(at)
    return np.array(out)


def test_clicks_are_heard_when_the_file_says(pulse, tmp_path):
    def measure() -> tuple[float, float, float]:
        """Share of the clicks that are heard, how far the two clocks run apart, and SD [s] of what is left."""
        folder = tmp_path / str(len(list(tmp_path.iterdir())))
        ride = build.recording(folder / "ride", "calm", 8, until=8 + SECONDS, since=8)
        raw = folder / "heard.raw"
        recorder = pulse.record(raw)
        env = {**pulse.env, "CADENCE_COACH_HOME": str(folder / "data")}
        argv = ["live", "--source", str(ride), "--yes", "--sound", "device"]
        done = subprocess.run(
            [sys.executable, "-m", "cadence_coach", *argv],
            env=env,
            capture_output=True,
            text=True,
            timeout=SECONDS + 90,
        )
        recorder.terminate()
        recorder.wait()
        assert done.returncode == 0, done.stderr
        (path,) = (folder / "data" / "outings").glob("*.outing")
        outing = load_outing(path)
        said = np.array([c.time for c in outing.clicks if c.sound == "click"])
        heard = starts_of_clicks(np.fromfile(raw, "<f4").astype(float)) / RATE
        assert len(said) >= 8, "the ride has too few clicks to tell anything"
        # one constant offset (when the recorder began, and the way out) is free
        gaps = (heard[:, None] - said[None, :]).ravel()
        offset = max(gaps, key=lambda o: np.sum(np.min(np.abs(heard[:, None] - o - said[None, :]), axis=0) < 0.02))
        errors = np.array([heard[np.argmin(np.abs(heard - offset - t))] - offset - t for t in said])
        near = np.abs(errors) < 0.02
        found = errors[near]
        # the server counts frames by a clock of its own, whose rate is not the machine's: a slope is not jitter
        rate, _ = np.polyfit(said[near], found, 1)
        spread = (found - rate * said[near]).std()
        figures = f"SD {1e3 * spread:.3f} ms, {1e6 * rate:.0f} ppm, load {os.getloadavg()[0]:.1f}"
        print(f"{len(found)} of {len(said)} clicks heard, {figures}")
        return len(found) / len(said), abs(rate), spread

    def good(result: tuple[float, float, float]) -> bool:
        share, rate, spread = result
        # the other clicks lie under a cue
        return share >= 0.85 and rate < 0.0005 and spread < 0.001

    result = measured(measure, good)
    assert good(result), result
