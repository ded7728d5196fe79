"""What a phone in a pouch makes of drawn motion: a mounting, ringing, noise, spikes, wrong stamps, gaps, late speed."""

from __future__ import annotations

import numpy as np
from scipy.signal import bilinear, lfilter, lfilter_zi

from cadence_coach.core.units import G

from .drawn_motion import DT, PI, Array, Story


def turned(r: np.random.Generator) -> Array:
    """A rotation matrix, all ways round alike."""
    q = r.standard_normal(4)
    a, b, c, d = q / np.linalg.norm(q)
    return np.array([
        [1 - 2 * (c * c + d * d), 2 * (b * c - a * d), 2 * (b * d + a * c)],
        [2 * (b * c + a * d), 1 - 2 * (b * b + d * d), 2 * (c * d - a * b)],
        [2 * (b * d - a * c), 2 * (c * d + a * b), 1 - 2 * (b * b + c * c)],
    ])  # fmt: skip


def soft(x: Array, half: int) -> Array:
    """Mean over half samples on either side."""
    width = 2 * half + 1
    return np.convolve(np.pad(x, (half, half), "edge"), np.ones(width) / width, "valid")


def felt(story: Story) -> tuple[Array, Array]:
    """Specific force [g] and turn rate [rad/s] along the rider's fore, side and up, [n, 3] at 1 kHz."""
    n, fore, side, pitch, roll, _, _ = story.whole()
    n, fore, side = soft(n, 4), soft(fore, 8), soft(side, 8)
    pitch, roll = soft(soft(pitch, 40), 40), soft(soft(roll, 40), 40)
    dp, dq = np.gradient(pitch, DT), np.gradient(roll, DT)
    above = story.rng.uniform(0, 0.12)  # [m] of the pouch over the axis that the hip turns about
    fore = fore + above / G * np.gradient(soft(dp, 20), DT) * np.cos(pitch)
    cp, sp, cq, sq = np.cos(pitch), np.sin(pitch), np.cos(roll), np.sin(roll)
    up = sp * fore + cp * n
    yaw = 0.1 * story.wobble(len(n), 3.0)
    force = np.column_stack([cp * fore - sp * n, cq * side + sq * up, cq * up - sq * side])
    return force, np.column_stack([dq - yaw * sp, dp * cq + yaw * cp * sq, yaw * cp * cq - dp * sq])


def ring(story: Story, force: Array, w: float, damping: float, up: Array, harsh: float) -> None:
    """The pouch swings at w [rad/s], in place: as a resonance of all that is felt, or after each knock, or both."""
    r = story.rng
    if r.random() < 0.3 + 0.6 * harsh:
        b, a = bilinear([2 * damping * w, w * w], [1, 2 * damping * w, w * w], 1 / DT)
        rest = lfilter_zi(b, a)
        for k in range(3):
            share = r.uniform(0.2, 0.9)
            swung, _ = lfilter(b, a, force[:, k], zi=rest * force[0, k])
            force[:, k] += share * (swung - force[:, k])
    if r.random() < 0.3 + 0.6 * harsh:
        size = r.uniform(0.05, 0.45) * (0.4 + 0.6 * harsh)
        when = r.choice(["peak_s", "push_end_s", "onset_s"], p=[0.4, 0.5, 0.1])
        for at, kick in story.kicks + [(p[when], 0.8) for p in story.pumps]:
            i = int(at / DT)
            t = np.arange(max(0, min(len(force) - i, 700))) * DT
            swing = np.exp(-damping * w * t) * np.sin(w * np.sqrt(1 - damping**2) * t)
            force[i : i + len(t)] += (size * kick * swing)[:, None] * (r.normal(0, 0.5, 3) + up)


def at(x: Array, t: Array) -> Array:
    """Columns of x [n, 3] at t [s]."""
    return np.column_stack([np.interp(t / DT, np.arange(len(x)), x[:, k]) for k in range(3)])


def satellite(story: Story) -> Array | None:
    """Fixes [m, 6] of speed alone as `SimulatedOuting` has them: each second, late by 0.4-2 s, none in the water."""
    r = story.rng
    _, _, _, _, _, true, wet = (column[::100] for column in story.whole())
    times = np.arange(r.uniform(0.2, 1.2), story.now - 0.3, 1.0)
    keep = np.exp(-0.1 / r.uniform(0.4, 2.0))
    late, last = np.empty_like(true), true[0]
    for i, v in enumerate(true):
        late[i] = last = v + (last - v) * keep
    rows, blind = [], 0.0
    for t in times:
        i = min(int(t * 10), len(late) - 1)
        if wet[i]:
            blind = t + r.uniform(3, 12)
        if t >= blind and r.random() > 0.05:
            rows.append((t, max(0, late[i] + r.normal(0, 0.2)), np.nan, np.nan, r.uniform(0.2, 0.6), np.nan))
    return np.array(rows) if rows else None


def recorded(
    story: Story, rate_hz: float, harsh: float, gyro: bool, speed: bool
) -> tuple[Array, Array | None, Array | None]:
    """accel, gyro, fixes as `SimulatedOuting` has them; harsh: 0-1, how much ringing, noise, jitter and loss."""
    r = story.rng
    force, turning = felt(story)
    w, damping = 2 * PI * r.uniform(7, 18), r.uniform(0.18, 0.6)
    lies = turned(r)
    force, turning = force @ lies.T, turning @ lies.T
    ring(story, force, w, damping, lies @ np.array([0, 0, 0.8]), harsh)

    sec = story.now
    step = 1 / (rate_hz * (1 + r.normal(0, 0.008)))
    even = r.uniform(0, step) + np.arange(int((sec - 2 * step) / step)) * step
    jitter = r.uniform(0, 0.003) * (0.3 + 0.7 * harsh)
    stamps = np.sort(even + np.clip(jitter * r.standard_normal(len(even)), -0.45 * step, 0.45 * step))
    times = stamps if r.random() < 0.5 else even  # sampled unevenly, or evenly and stamped wrong
    a = at(force, times) * (1 + r.normal(0, 0.006))
    a += r.uniform(0, 0.03) * turned(r)[:, 0]
    a += r.uniform(0.005, 0.02 + 0.05 * harsh) * r.standard_normal(a.shape)
    spikes_per_min = 6 * harsh if r.random() < 0.6 else 0
    for i in r.integers(0, len(a) - 2, r.poisson(spikes_per_min * sec / 60)):
        width = r.integers(1, 3)
        a[i : i + width] += r.uniform(0.5, 4) * r.standard_normal(3)
    a = np.clip(a, -8, 8) * G
    keep = np.ones(len(a), bool)
    if r.random() < 0.2 + 0.7 * harsh:
        for gap in r.uniform(0, sec, r.poisson(1.5 * sec / 60)):
            keep &= ~((stamps > gap) & (stamps < gap + r.uniform(0.03, 0.35)))
    keep[keep] = np.concatenate([[True], np.diff(stamps[keep]) > 1e-6])
    accel = np.column_stack([stamps, a])[keep]
    turns = None
    if gyro:
        o = at(turning, times) + r.uniform(0, 0.02) * turned(r)[:, 0]
        turns = np.column_stack([stamps, o + 0.006 * r.standard_normal(o.shape)])[keep]
    return accel, turns, satellite(story) if speed else None
