"""What a phone in a pouch makes of the motion: mounting, ringing, sampling times, noise, range, gaps."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from cadence_coach.core.units import G
from cadence_coach.sim.track import Track
from cadence_coach.sim.waveform import DT


@dataclass(frozen=True)
class Sensor:
    """Sensor and pouch. `rate` [Hz] nominal, `rate_off` its error as a share, `jitter` [s] with `jitter_kind`
    "sampling" (true times vary and are stamped rightly) or "stamps" (even sampling, stamps vary); `ring` resonance
    [Hz], `damping`, `ring_gain` 0-1 how much of the motion goes through it, `burst` size in g of ringing after pushes
    and blows; `noise`, `bias`, `step` (quantisation), `range` in g, `scale` error; `gaps`, `repeats`, `spikes`, `bad`
    a minute; `gap` longest [s]; `mount` a 3x3 rotation from body to sensor axes or None for one drawn; `lever` height
    of the pouch over the axis about which the trunk nods [m]; smear: each sample is a mean over the sampling
    interval; slip: angle [rad] by which the pouch may turn where a ride ends; thin: for some seconds only every
    second sample comes."""

    rate: float = 100.0
    rate_off: float = 0.0
    jitter: float = 0.0
    jitter_kind: str = "sampling"
    ring: float = 12.0
    damping: float = 0.4
    ring_gain: float = 0.0
    burst: float = 0.0
    noise: float = 0.02
    bias: float = 0.02
    scale: float = 0.005
    step: float = 0.0
    range: float = 8.0
    gaps: float = 0.0
    gap: float = 0.35
    repeats: float = 0.0
    spikes: float = 0.0
    bad: float = 0.0
    mount: np.ndarray | None = None
    lever: float = 0.05
    gyro: bool = True
    gyro_bias: float = 0.01
    smear: bool = False
    slip: float = 0.0
    thin: bool = False


def draw_sensor(rng: np.random.Generator, harsh: float, rate: float | None = None) -> Sensor:
    """A phone and pouch; `harsh` 0 is a good phone in a tight pouch, 1 a poor one in a loose pouch in spray."""
    h = harsh
    on = lambda p: rng.random() < p  # noqa: E731
    return Sensor(
        rate=rate or float(rng.choice([50, 100, 100, 100, 200, 400])), rate_off=rng.normal(0, 0.012),
        jitter=rng.uniform(0, 0.0005 + 0.003 * h), jitter_kind=str(rng.choice(["sampling", "stamps"])),
        ring=rng.uniform(7, 18), damping=rng.uniform(0.15, 0.6),
        ring_gain=rng.uniform(0.3, 1.0) if on(0.2 + 0.7 * h) else 0.0,
        burst=rng.uniform(0.05, 0.7) * h if on(0.2 + 0.6 * h) else 0.0,
        noise=rng.uniform(0.003, 0.02 + 0.08 * h), bias=rng.uniform(0.0, 0.03 + 0.02 * h),
        scale=rng.normal(0, 0.004 + 0.006 * h),
        step=float(rng.choice([0.0, 1 / 4096, 0.004, 0.0156, 0.04 * h])), range=float(rng.choice([4, 8, 8, 16])),
        gaps=rng.uniform(0, 2.5) * h if on(h) else 0.0, repeats=rng.uniform(0, 20) if on(0.4 * h) else 0.0,
        spikes=rng.uniform(0, 8) * h if on(0.7 * h) else 0.0, bad=rng.uniform(0, 3) if on(0.15 * h) else 0.0,
        lever=rng.uniform(-0.1, 0.2) if on(0.2) else rng.uniform(-0.05, 0.12),
        gyro=on(0.65), gyro_bias=rng.uniform(0, 0.02), smear=on(0.3),
        slip=rng.uniform(0, 0.35) if on(0.4 * h) else 0.0, thin=on(0.15 * h),
    )  # fmt: skip


def random_rotation(rng: np.random.Generator) -> np.ndarray:
    """Uniform over all rotations (normalised random quaternion)."""
    w, x, y, z = (q := rng.standard_normal(4)) / np.linalg.norm(q)
    return np.array([
        [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
        [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
        [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
    ])  # fmt: skip


def body_signals(track: Track, lever: float) -> tuple[np.ndarray, np.ndarray]:
    """Specific force [n, 3] in g and rotation rate [n, 3] in rad/s in the trunk's axes (ahead, left, up) at 1 kHz.

    The trunk is turned by pitch about the axis to the left, then by roll about its own axis ahead. Above the hip the
    pouch feels the nodding as well."""
    w = track.whole()
    pitch, roll = w["pitch"], w["roll"]
    dp, dr = np.gradient(pitch, DT), np.gradient(roll, DT)
    nod = np.gradient(_soft(dp, 25), DT)
    fx = w["fore"] + lever / G * nod * np.cos(pitch) + 0.0
    fy = w["side"] - lever / G * np.gradient(_soft(dr, 25), DT)
    fz = w["n"] + w["shake"]
    cp, sp, cr, sr = np.cos(pitch), np.sin(pitch), np.cos(roll), np.sin(roll)
    x = cp * fx - sp * fz
    zp = sp * fx + cp * fz
    force = np.column_stack([x, cr * fy + sr * zp, -sr * fy + cr * zp])
    turn = w["turn"]
    rate = np.column_stack([dr - turn * sp, dp * cr + turn * cp * sr, -dp * sr + turn * cp * cr])
    return force, rate


def _soft(x: np.ndarray, samples: int) -> np.ndarray:
    """Centred running mean of 2 `samples` + 1: takes corners out of drawn angles."""
    c = np.cumsum(np.concatenate([np.full(samples + 1, x[0]), x, np.full(samples, x[-1])]))
    return (c[2 * samples + 1 :] - c[: -2 * samples - 1]) / (2 * samples + 1)


def ringing(
    force: np.ndarray, sensor: Sensor, rng: np.random.Generator, blows: list[tuple[float, float]]
) -> np.ndarray:
    """The pouch on its spring: base excitation (2 z w s + w^2) / (s^2 + 2 z w s + w^2) of part of the motion, and
    bursts of decaying oscillation after each blow."""
    from scipy.signal import bilinear, lfilter, lfilter_zi

    w = 2 * np.pi * sensor.ring
    if sensor.ring_gain:
        b, a = bilinear([2 * sensor.damping * w, w * w], [1, 2 * sensor.damping * w, w * w], fs=1 / DT)
        zi = lfilter_zi(b, a)
        force = force.copy()
        for axis in range(3):
            gain = sensor.ring_gain * rng.uniform(0.4, 1.0)
            y, _ = lfilter(b, a, force[:, axis], zi=zi * force[0, axis])
            force[:, axis] += gain * (y - force[:, axis])
    if sensor.burst:
        force = force if sensor.ring_gain else force.copy()
        fade = rng.uniform(0.8, 2.0) / (sensor.damping * w)
        for at, strength in blows:
            i = round(at / DT)
            t = np.arange(max(0, min(len(force) - i, int(5 * fade / DT)))) * DT
            wd = w * np.sqrt(1 - sensor.damping**2) * rng.uniform(0.85, 1.15)
            wave = np.exp(-t / fade) * np.sin(wd * t) * sensor.burst * strength * rng.uniform(0.5, 1.5)
            way = rng.normal(0, 0.5, 3) + np.array([0, 0, 0.8])
            force[i : i + len(t)] += wave[:, None] * way
    return force


def sample(
    track: Track,
    sensor: Sensor,
    rng: np.random.Generator,
    blows: list[tuple[float, float]],
    ends: list[float] | None = None,
) -> tuple[np.ndarray, np.ndarray | None, dict[str, Any]]:
    """accel [n, 4] (t_s, m/s2), gyro [n, 4] (t_s, rad/s) or None, and what was done to them as plain figures for
    `meta`."""
    force, rate = body_signals(track, sensor.lever)
    mount = random_rotation(rng) if sensor.mount is None else sensor.mount
    force, rate = force @ mount.T, rate @ mount.T
    for end in ends or []:
        turn = _small_turn(rng, sensor.slip)
        if sensor.slip:
            i = round(end / DT)
            force[i:], rate[i:] = force[i:] @ turn.T, rate[i:] @ turn.T
    force = ringing(force, sensor, rng, blows)
    if sensor.smear:  # the phone's own averaging over one sample, centred
        force = np.column_stack([_soft(force[:, i], max(int(0.5 / sensor.rate / DT), 1)) for i in range(3)])
    seconds = track.now
    step = 1 / (sensor.rate * (1 + sensor.rate_off))
    even = rng.uniform(0, step) + np.arange(int((seconds - 2 * step) / step)) * step
    even = even + step * 0.3 * np.sin(2 * np.pi * even / rng.uniform(60, 400))  # a clock that breathes with temperature
    noise = sensor.jitter * rng.standard_normal(len(even)).clip(-2.5, 2.5)
    jitter = np.clip(noise, -0.45 * step, 0.45 * step)
    stamps = even + jitter
    times = stamps if sensor.jitter_kind == "sampling" else even
    accel = between(force, times)
    accel *= 1 + sensor.scale + 0.3 * sensor.scale * rng.standard_normal(3)
    accel += sensor.bias * _unit(rng) + sensor.noise * rng.standard_normal(accel.shape)
    spikes = rng.poisson(sensor.spikes * seconds / 60)
    for i in rng.integers(0, len(accel) - 2, spikes):
        accel[i : i + rng.integers(1, 3)] += rng.uniform(0.5, 4) * rng.normal(0, 1, 3)
    if sensor.step:
        accel = np.round(accel / sensor.step) * sensor.step
    accel = np.clip(accel, -sensor.range, sensor.range) * G
    keep = np.ones(len(accel), bool)
    for at_s in rng.uniform(0, seconds, rng.poisson(sensor.gaps * seconds / 60)):
        keep &= ~((stamps > at_s) & (stamps < at_s + rng.uniform(0.03, sensor.gap)))
    if sensor.thin:
        begin = rng.uniform(0, 0.7 * seconds)
        keep &= (stamps < begin) | (stamps > begin + rng.uniform(5, 25)) | (np.arange(len(stamps)) % 2 == 0)
    table = np.column_stack([stamps, accel])
    gyro = None
    if sensor.gyro:
        # Its samples have their own times, though the same clock.
        own = stamps + rng.uniform(-0.4, 0.4) * step
        g = between(rate, own)
        g += sensor.gyro_bias * _unit(rng) + 0.006 * rng.standard_normal(g.shape)
        gyro = np.column_stack([own, g])[keep & (own > 0)]
    table = _spoil(table[keep], sensor, rng, seconds)
    figures = {k: v for k, v in replace(sensor, mount=None).__dict__.items() if k != "mount"}
    return table, gyro, figures


def between(rows: np.ndarray, times: np.ndarray) -> np.ndarray:
    """Rows at DT read at `times` [s] on straight lines between them."""
    at = np.clip(times / DT, 0, len(rows) - 1.000001)
    i = at.astype(int)
    part = (at - i)[:, None]
    return np.asarray(rows[i] * (1 - part) + rows[i + 1] * part)


def _small_turn(rng: np.random.Generator, angle: float) -> np.ndarray:
    """A rotation by up to `angle` [rad] about any axis (Rodrigues)."""
    x, y, z = _unit(rng)
    k = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    a = rng.uniform(0, angle)
    return np.asarray(np.eye(3) + np.sin(a) * k + (1 - np.cos(a)) * k @ k)


def _unit(rng: np.random.Generator) -> np.ndarray:
    x = rng.standard_normal(3)
    return x / np.linalg.norm(x)


def _spoil(table: np.ndarray, sensor: Sensor, rng: np.random.Generator, seconds: float) -> np.ndarray:
    """Rows sent twice, and rows that are no numbers."""
    twice = rng.integers(0, len(table), rng.poisson(sensor.repeats * seconds / 60))
    table = np.insert(table, np.sort(twice), table[np.sort(twice)], axis=0)
    for i in rng.integers(0, len(table), rng.poisson(sensor.bad * seconds / 60)):
        table[i, 1 + rng.integers(0, 3)] = np.nan
    return table
