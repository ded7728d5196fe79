"""What the phone makes of the motion, against textbook formulas and scipy."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from cadence_coach.core.units import G
from cadence_coach.sim.sensor import Sensor, body_signals, draw_sensor, random_rotation, ringing, sample
from cadence_coach.sim.track import Track
from cadence_coach.sim.waveform import DT

CLEAN = Sensor(noise=0.0, bias=0.0, scale=0.0, gyro_bias=0.0, lever=0.0, range=16.0)


def shaking(rate: float, size: float, seconds: float = 6.0) -> Track:
    track = Track(np.random.default_rng(0))
    p = track.piece(seconds)
    p.n += size * np.sin(2 * np.pi * rate * p.t)
    track.add(p)
    return track


def take(track: Track, sensor: Sensor, seed: int = 1) -> tuple[np.ndarray, np.ndarray | None]:
    accel, gyro, _ = sample(track, sensor, np.random.default_rng(seed), track.blows, [])
    return accel, gyro


def test_lying_still_it_measures_one_g_whatever_the_mounting() -> None:
    for seed in range(5):
        accel, gyro = take(shaking(1.0, 0.0), CLEAN, seed)
        assert np.linalg.norm(accel[:, 1:], axis=1) == pytest.approx(G, abs=1e-9)
        assert gyro is not None and np.abs(gyro[:, 1:]).max() < 0.05


def test_rotations_are_proper_and_uniform() -> None:
    rng = np.random.default_rng(0)
    r = np.array([random_rotation(rng) for _ in range(2000)])
    assert r @ r.transpose(0, 2, 1) == pytest.approx(np.broadcast_to(np.eye(3), r.shape), abs=1e-12)
    assert np.linalg.det(r) == pytest.approx(1.0)
    up = r[:, :, 2]
    assert np.abs(up.mean(axis=0)).max() < 0.05
    assert (up**2).mean(axis=0) == pytest.approx([1 / 3] * 3, abs=0.03)


def test_trunk_angles_and_gyro_belong_together() -> None:
    """scipy's Rotation: gravity turned by the angles, and the rates integrated give the same turn."""
    track = Track(np.random.default_rng(0))
    p = track.piece(4.0)
    p.pitch += 0.7 * np.sin(1.3 * p.t)
    p.roll += 0.5 * np.sin(2.1 * p.t)
    p.turn += 0.4 * np.cos(p.t)
    track.add(p)
    force, rate = body_signals(track, 0.0)
    w = track.whole()
    yaw = np.cumsum(w["turn"]) * DT
    trunk = Rotation.from_euler("ZYX", np.column_stack([yaw, w["pitch"], w["roll"]]))
    assert force == pytest.approx(trunk.inv().apply([0.0, 0.0, 1.0]), abs=1e-9)
    turned = trunk[0]
    for step in rate[:-1] * DT:
        turned = turned * Rotation.from_rotvec(step)
    assert (turned.inv() * trunk[-1]).magnitude() < 0.01


@pytest.mark.parametrize(("ring", "damping"), [(7.0, 0.18), (12.0, 0.3), (18.0, 0.6)])
@pytest.mark.parametrize("rate", [1.5, 6.0, 12.0, 25.0])
def test_pouch_rings_as_a_mass_on_a_spring(ring: float, damping: float, rate: float) -> None:
    """Transmissibility of a base-excited second-order system,
    sqrt((1 + (2 z r)^2) / ((1 - r^2)^2 + (2 z r)^2)) (Rao, Mechanical Vibrations; formula from memory)."""

    class Full:  # every axis takes the whole of it
        def uniform(self, *_: float) -> float:
            return 1.0

    force, _ = body_signals(shaking(rate, 0.5, 8.0), 0.0)
    out = ringing(force, replace(CLEAN, ring=ring, damping=damping, ring_gain=1.0), Full(), [])  # type: ignore[arg-type]
    got = np.sqrt(2) * np.std(out[4000:, 2]) / 0.5
    r = rate / ring
    expected = np.sqrt((1 + (2 * damping * r) ** 2) / ((1 - r**2) ** 2 + (2 * damping * r) ** 2))
    assert got == pytest.approx(expected, rel=0.02)


def test_ringing_brings_no_delay_to_slow_motion() -> None:
    """Below the resonance the pouch moves with the body: a pump's crossing is not shifted by more than 1 ms at 1.5
    Hz."""
    force, _ = body_signals(shaking(1.5, 0.8, 8.0), 0.0)
    out = ringing(force, replace(CLEAN, ring=9.0, damping=0.35, ring_gain=1.0), np.random.default_rng(2), [])
    z, w = force[4000:, 2] - 1, out[4000:, 2] - 1
    lag = np.angle(np.sum(w * np.exp(-2j * np.pi * 1.5 * np.arange(len(w)) * DT))) - np.angle(
        np.sum(z * np.exp(-2j * np.pi * 1.5 * np.arange(len(z)) * DT))
    )
    assert abs(lag) / (2 * np.pi * 1.5) < 1e-3


@pytest.mark.parametrize("kind", ["sampling", "stamps"])
def test_jitter(kind: str) -> None:
    """Sampling jitter moves stamp and value together; stamp jitter spoils the pairing. Both are what they say in
    size."""
    track = shaking(2.0, 1.0, 20.0)
    even, _ = take(track, replace(CLEAN, rate=100))
    accel, _ = take(track, replace(CLEAN, rate=100, jitter=0.0015, jitter_kind=kind))
    assert np.std(accel[:, 0] - even[:, 0]) == pytest.approx(0.0015, rel=0.1)
    assert np.all(np.diff(accel[:, 0]) > 0)
    truth = np.abs(1 + np.sin(2 * np.pi * 2.0 * accel[:, 0]))
    wrong = np.linalg.norm(accel[:, 1:], axis=1) / G - truth
    expected = 0.0 if kind == "sampling" else 0.0015 * 2 * np.pi * 2.0 / np.sqrt(2)
    assert np.std(wrong) == pytest.approx(expected, abs=0.002)


@pytest.mark.parametrize("rate", [50.0, 100.0, 200.0, 400.0])
def test_rate(rate: float) -> None:
    accel, gyro = take(shaking(1.0, 0.5, 20.0), replace(CLEAN, rate=rate, rate_off=-0.02))
    assert len(accel) / 20 == pytest.approx(rate * 0.98, rel=0.01)
    assert np.median(np.diff(accel[:, 0])) == pytest.approx(1 / (rate * 0.98), rel=0.01)
    assert gyro is not None and np.abs(gyro[:, 0] - accel[-len(gyro) :, 0]).max() < 0.5 / rate


def test_range_steps_gaps_repeats_and_bad_rows() -> None:
    track = shaking(2.0, 6.0, 60.0)
    sensor = replace(CLEAN, range=4.0, step=0.04, gaps=6.0, gap=0.35, repeats=12.0, bad=4.0, mount=np.eye(3))
    accel, _ = take(track, sensor)
    good = accel[np.isfinite(accel).all(axis=1)]
    assert np.abs(good[:, 1:]).max() == pytest.approx(4 * G)
    steps = good[:, 1:] / G / 0.04
    assert steps == pytest.approx(np.round(steps), abs=1e-6)
    gaps = np.diff(accel[:, 0])
    assert 0.03 < gaps.max() < 0.8
    assert np.sum(gaps > 0.03) >= 2
    assert 3 <= np.sum(gaps == 0) <= 30
    assert 0 < np.sum(~np.isfinite(accel)) < 20


def test_noise_and_bias_are_what_they_say() -> None:
    accel, _ = take(shaking(1.0, 0.0, 30.0), replace(CLEAN, noise=0.05, bias=0.04))
    residual = accel[:, 1:] / G
    assert np.std(residual, axis=0) == pytest.approx(np.full(3, 0.05), rel=0.1)
    assert abs(np.linalg.norm(residual.mean(axis=0)) - 1) < 0.045


def test_drawn_sensors_cover_the_hard_ones() -> None:
    drawn = [draw_sensor(np.random.default_rng(i), 1.0) for i in range(300)]
    assert {s.rate for s in drawn} == {50.0, 100.0, 200.0, 400.0}
    assert {s.range for s in drawn} >= {4.0, 8.0, 16.0}
    assert max(s.jitter for s in drawn) > 0.003 and max(s.noise for s in drawn) > 0.09
    assert min(s.ring for s in drawn) < 7.5 and max(s.ring for s in drawn) > 17.5
    assert min(s.damping for s in drawn) < 0.18 and max(s.damping for s in drawn) > 0.58
    assert {s.jitter_kind for s in drawn} == {"sampling", "stamps"}
    assert {s.gyro for s in drawn} == {True, False}


def test_slipped_pouch_and_halved_rate() -> None:
    track = shaking(1.0, 0.0, 30.0)
    sensor = replace(CLEAN, rate=100.0, slip=0.3, thin=True)
    accel, _, _ = sample(track, sensor, np.random.default_rng(4), [], [15.0])
    before, after = accel[accel[:, 0] < 15, 1:].mean(axis=0), accel[accel[:, 0] > 15, 1:].mean(axis=0)
    angle = np.arccos(before @ after / np.linalg.norm(before) / np.linalg.norm(after))
    assert 0.01 < angle < 0.31
    steps = np.diff(accel[:, 0])
    assert 100 < np.sum(steps > 0.015) < len(steps) / 2
    assert np.median(steps) == pytest.approx(0.01, rel=0.02)
