"""The detector's filters against scipy, its physics against the momentum theorem, its tricky cases one by one."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import butter, freqz, sosfilt

from cadence_coach.core.afoot import LOW_DELAY, LOW_HZ
from cadence_coach.core.cycles import COARSE_DELAY, COARSE_HZ, STEP
from cadence_coach.core.events import CycleDone, Event, Onset, PushEnd
from cadence_coach.foil.profile import demo_profile
from cadence_coach.sim import steady_rider

from .plain import Cycles, Late

COEFFICIENT = 4e-15
"""Relative: scipy designs by poles and zeros, we in closed form; a few roundings of float64 apart."""


def wave(seconds: float = 30.0, cadence: float = 1.5) -> np.ndarray:
    """Vertical specific force [g] on the grid: 0.6 g of pumping, its second harmonic, a drift; no step over 0.8 g."""
    t = np.arange(round(seconds / STEP)) * STEP
    w = 2 * np.pi * cadence
    return 1.0 + 0.6 * np.sin(w * t) + 0.15 * np.sin(2 * w * t + 1.0) + 0.02 * np.sin(0.4 * t)


def detect(v: np.ndarray) -> list[Event]:
    detector = Cycles()
    for i, y in enumerate(v.tolist()):
        detector.push(i * STEP, y, i * STEP)
    return detector.out


def test_coarse_view_is_scipys_butterworth() -> None:
    """Coefficients: scipy.signal.butter. Every state after every sample: scipy.signal.sosfilt, bit for bit, since both
    step the transposed direct form with the same order of sums."""
    d = Cycles()
    sos = butter(2, COARSE_HZ, fs=1 / STEP, output="sos")
    b, a1, a2 = d.detector.coarse
    ours = np.array([[b, 2 * b, b, 1.0, a1, a2]])
    assert np.allclose(ours, sos, rtol=COEFFICIENT, atol=0)
    zi = np.zeros((1, 2))
    for i, v in enumerate(wave().tolist()):
        d.push(i * STEP, v, i * STEP)
        _, zi = sosfilt(ours, [v - 1.0], zi=zi)
        assert (d.z1, d.z2) == tuple(zi[0])


def test_late_view_is_scipys_third_order_butterworth() -> None:
    """As above; the first-order section is written in another form, so the output agrees to rounding only."""
    a = Late()
    sos = butter(3, LOW_HZ, fs=1 / STEP, output="sos")
    v = 1.0 + 0.1 * np.sin(2 * np.pi * 1.7 * np.arange(3000) * STEP)
    want = sosfilt(sos, v - 1.0)
    got = []
    for i, y in enumerate(v.tolist()):
        a.push(i * STEP, y, i * STEP)
        got.append(a.c)
    assert np.abs(np.array(got) - want).max() < 1e-12


def test_delays_that_are_taken_off_are_those_of_the_filters() -> None:
    """A sinusoid's crossings come late by the phase delay (scipy.signal.freqz), here over 1.5 to 2 Hz. The late view
    takes off its delay at low frequency, 2/w of a third-order Butterworth (closed form)."""
    w = np.linspace(1.5, 2.0, 11)
    _, h = freqz(*butter(2, COARSE_HZ, fs=100), worN=w, fs=100)
    delay = -np.unwrap(np.angle(h)) / (2 * np.pi * w)
    assert abs(COARSE_DELAY - float(np.median(delay))) < 0.010
    assert abs(LOW_DELAY - 2 / (2 * np.pi * LOW_HZ)) < 0.005


def test_onsets_of_an_even_wave_are_its_crossings() -> None:
    """Against scipy-free truth: the wave's own upward crossings of 1 g, found by bisection on the formula."""
    cadence, v = 1.5, wave()
    onsets = np.array([e.time for e in detect(v) if isinstance(e, Onset)])[3:]
    fine = np.arange(0, 30, 1e-5)
    w = 2 * np.pi * cadence
    y = 0.6 * np.sin(w * fine) + 0.15 * np.sin(2 * w * fine + 1.0) + 0.02 * np.sin(0.4 * fine)
    up = fine[1:][(y[:-1] < 0) & (y[1:] >= 0)]
    assert len(onsets) >= 40
    worst = max(float(np.abs(up - t).min()) for t in onsets)
    assert worst < 0.004, f"{1e3 * worst:.1f} ms"


@pytest.mark.parametrize(("speed", "cadence"), [(4.0, 1.3), (4.5, 1.5), (5.5, 1.9)])
def test_momentum_theorem(speed: float, cadence: float) -> None:
    """Mean vertical specific force over whole cycles is 1 g, since the body ends as high and as fast as it began.

    The simulated rider's own vertical series at 1 kHz, between onsets that the detector found: over n cycles what is
    left is an onset's error times the slope there, over the whole time: 5 ms x 8 g/s / 30 s, about 0.001."""
    ride = steady_rider(demo_profile().setup, speed, cadence, size=0.5, share=0.4, seconds=40.0)
    grid = ride.n[: len(ride.n) // 10 * 10].reshape(-1, 10).mean(axis=1)
    cycles = [e for e in detect(grid) if isinstance(e, CycleDone) and e.whole][3:]
    assert len(cycles) > 30 * cadence
    # detect() puts the first cell's middle at 0: 4.5 ms after the first sample
    inside = (ride.t - ride.t[0] >= cycles[0].onset + 0.0045) & (ride.t - ride.t[0] < cycles[-1].time + 0.0045)
    assert float(ride.n[inside].mean()) == pytest.approx(1.0, abs=0.001)
    for c in cycles:
        one = (ride.t - ride.t[0] >= c.onset + 0.0045) & (ride.t - ride.t[0] < c.time + 0.0045)
        assert float(ride.n[one].mean()) == pytest.approx(1.0, abs=0.03)


def push(height: float, seconds: float) -> np.ndarray:
    """Half a sine above 1 g."""
    n = round(seconds / STEP)
    return 1.0 + height * np.sin(np.pi * np.arange(n) / n)


def glide(depth: float, seconds: float) -> np.ndarray:
    return 2.0 - push(depth, seconds)


def counts(v: np.ndarray) -> tuple[int, int]:
    events = detect(v)
    return len([e for e in events if isinstance(e, Onset)]), len([e for e in events if isinstance(e, PushEnd)])


def test_a_landing_shoulder_belongs_to_the_push() -> None:
    """A shoulder of 0.15 g for 0.12 s just before the main push, down to 1 g between: one push, not two."""
    pump = np.concatenate([push(0.15, 0.12), push(0.9, 0.22), glide(0.6, 0.32)])
    plain = np.concatenate([push(0.9, 0.30), glide(0.6, 0.36)])
    with_shoulder = np.concatenate([*[plain] * 6, *[pump] * 12])
    onsets, _ = counts(with_shoulder)
    assert onsets == 18 or onsets == 17, "the first may set the levels"


def test_ringing_of_a_pouch_is_no_pump() -> None:
    """12 Hz, decaying, after each push (pouches ring at 7-18 Hz)."""
    t = np.arange(36) * STEP
    ring = 0.4 * np.exp(-t / 0.06) * np.sin(2 * np.pi * 12 * t)
    pump = np.concatenate([push(0.9, 0.28), glide(0.6, 0.36) + ring])
    onsets, ends = counts(np.tile(pump, 20))
    assert onsets in (19, 20) and ends in (18, 19, 20)


def test_rest_and_noise_are_silent() -> None:
    """Quiet standing: 4 mg of noise over 60 s gives nothing."""
    v = 1.0 + 0.004 * np.random.default_rng(3).standard_normal(6000)
    assert counts(v) == (0, 0)


def test_a_pump_a_second_and_two_are_both_found() -> None:
    """The trade's range: one to two pumps a second (common practice, no source)."""
    for cadence in (1.0, 1.5, 2.0, 2.2):
        onsets = [e.time for e in detect(wave(30.0, cadence)) if isinstance(e, Onset)]
        assert abs(len(onsets) - 30 * cadence) <= 2
        assert np.median(np.diff(onsets)) == pytest.approx(1 / cadence, abs=0.002)


def test_size_and_travel_of_a_sinusoid() -> None:
    """Size is its amplitude; travel 2 a g / w^2 (rigid body moved by a sinusoid, closed form)."""
    w = 2 * np.pi * 1.5
    t = np.arange(3000) * STEP
    cycles = [e for e in detect(1.0 + 0.6 * np.sin(w * t)) if isinstance(e, CycleDone) and e.whole][5:]
    assert len(cycles) > 30
    for c in cycles:
        assert c.size_g == pytest.approx(0.6, rel=0.01)
        assert c.travel_m == pytest.approx(2 * 0.6 * 9.80665 / w**2, rel=0.02)
        assert c.push_share == pytest.approx(0.5, abs=0.005)
