"""In and on the water without pumping: falling in, floating, swimming, paddling, climbing out, being towed."""

from __future__ import annotations

import numpy as np

from cadence_coach.core.units import G
from cadence_coach.sim.foot import ease
from cadence_coach.sim.track import Piece, Track, bump, wander
from cadence_coach.sim.waveform import DT, smooth


def rough(rng: np.random.Generator, size: int, low: float, high: float, strength: float) -> np.ndarray:
    """Band noise from `low` to `high` Hz with standard deviation `strength`."""
    from scipy.signal import butter, sosfilt

    if not strength:
        return np.zeros(size)
    x = sosfilt(butter(2, [low, high], "bandpass", fs=1 / DT, output="sos"), rng.standard_normal(size + 500))[500:]
    return x * (strength / max(float(x.std()), 1e-9))


def fall(track: Track, *, drop: float | None = None, hard: float | None = None, tumble: float | None = None) -> float:
    """Off the board into the water: light for `drop` seconds, then the water stops the body; it turns over by `tumble`
    [rad]. Returns the time of the impact [s]."""
    rng = track.rng
    drop = rng.uniform(0.15, 0.45) if drop is None else drop
    width = rng.uniform(0.05, 0.16)
    light = rng.uniform(0.05, 0.45)
    speed_in = G * (1 - light) * drop + rng.uniform(0, 0.8)
    part = rng.uniform(0.4, 1.0)
    top = speed_in * part / (G * width * 2 / np.pi) if hard is None else hard
    after = rng.uniform(1.2, 3.0)
    turn = rng.choice([-1, 1]) * (rng.uniform(0.4, 2.2) if tumble is None else tumble)
    p = track.piece(drop + width + after, speed=0.3, blend=drop + width + 0.8)
    t, hit = p.t, drop
    now, gone = float(track.pieces[-1].n[-1]) if track.pieces else 1.0, smooth(t / 0.09)
    p.n += (now * (1 - gone) + light * gone - 1) * smooth((hit + 0.02 - t) / 0.03)
    x = np.clip((t - hit) / width, 0, 1)
    p.n += top * np.where((t > hit) & (t < hit + width), np.sin(np.pi * x ** rng.uniform(0.5, 1.0)), 0)
    rest = speed_in * (1 - part)
    if rest > 0:
        w = rng.uniform(0.25, 0.5)
        p.n += rest / (G * w * 2 / np.pi) * bump(t, hit + 0.6 * width, w)
    p.fore -= rng.uniform(0.2, 2.0) * bump(t, hit, width * 1.6)
    p.side += rng.normal(0, 0.8) * bump(t, hit, width * 1.3)
    p.pitch += turn * rng.uniform(0.3, 1) * smooth(t / (drop + rng.uniform(0.3, 1.0)))
    p.roll += turn * rng.uniform(-1, 1) * smooth(t / (drop + rng.uniform(0.3, 1.0)))
    p.turn += rng.normal(0, 1.5) * bump(t, 0.5 * drop, drop + 0.8)
    under = smooth((t - hit - width) / 0.2)
    p.n += (
        under
        * rng.uniform(0.03, 0.2)
        * np.sin(2 * np.pi * rng.uniform(0.4, 0.9) * t)
        * np.exp(-(t - hit) / 1.2).clip(0, 1)
    )
    p.n += under * 0.06 * wander(rng, len(p), 0.15)
    for _ in range(rng.poisson(3)):
        _slap(p, hit + rng.exponential(0.25), rng.uniform(0.2, 1.5), rng)
    p.blows.append((hit, min(top, 3.0) * rng.uniform(0.1, 0.5)))
    p.wet[t > hit] = 1.0
    return track.add(p) + hit


def _slap(p: Piece, at: float, strength: float, rng: np.random.Generator) -> None:
    """Water that hits the pouch: a spike of 5-25 ms in any direction."""
    b = bump(p.t, at, rng.uniform(0.005, 0.025))
    p.shake += strength * rng.normal(0, 1) * b
    p.fore += strength * rng.normal(0, 1) * b
    p.side += strength * rng.normal(0, 1) * b


def float_about(track: Track, seconds: float) -> None:
    """Treading water or hanging on the board: slow bobbing, kicks."""
    rng = track.rng
    p = track.piece(seconds, pitch=rng.uniform(-0.4, 0.5), roll=rng.normal(0, 0.2), speed=0.2, blend=1.2, wet=True)
    env = ease(p, 0.4)
    rate = rng.uniform(0.35, 1.3) * (1 + 0.12 * wander(rng, len(p), 1.0))
    p.n += (
        env
        * rng.uniform(0.02, 0.16)
        * np.sin(2 * np.pi * np.cumsum(rate) * DT)
        * (0.7 + 0.5 * wander(rng, len(p), 1.5))
    )
    p.n += 0.02 * wander(rng, len(p), 0.2)
    p.fore += 0.05 * wander(rng, len(p), 0.3) * env
    p.side += 0.05 * wander(rng, len(p), 0.3) * env
    p.pitch += 0.15 * wander(rng, len(p), 0.7) * env
    p.roll += 0.15 * wander(rng, len(p), 0.7) * env
    for _ in range(rng.poisson(seconds / 4)):
        _slap(p, rng.uniform(0, seconds), rng.uniform(0.1, 0.5), rng)
    track.add(p, pose=(float(np.clip(track.pitch, -0.4, 0.5)), 0.0))


def swim(track: Track, seconds: float, *, on_board: bool = False) -> None:
    """Swimming, or paddling flat on the board: the trunk lies down, strokes at 0.4-1.15 Hz, up to 0.3 g."""
    rng = track.rng
    flat = rng.uniform(0.9, 1.45)
    p = track.piece(
        seconds,
        pitch=flat,
        roll=rng.normal(0, 0.15),
        speed=rng.uniform(0.6, 1.5),
        blend=1.3,
        wet=not on_board or rng.random() < 0.5,
    )
    env = ease(p, 0.8)
    f = rng.uniform(0.4, 1.15) * (1 + 0.05 * wander(rng, len(p), 2.0))
    phase = 2 * np.pi * np.cumsum(f) * DT
    size = rng.uniform(0.04, 0.3) * (1 + 0.2 * wander(rng, len(p), 1.5)).clip(0.2)
    p.fore += env * size * np.cos(phase)
    p.n += env * size * rng.uniform(0.2, 0.8) * np.cos(phase + rng.uniform(-3, 3)) + env * 0.3 * size * np.cos(
        2 * phase
    )
    p.roll += env * rng.uniform(0.05, 0.5) * np.cos(phase / (1 if on_board else 2) + 1)
    p.pitch += env * rng.uniform(0.02, 0.12) * np.cos(phase)
    p.n += 0.03 * wander(rng, len(p), 0.15) * env
    for _ in range(rng.poisson(seconds / 3)):
        _slap(p, rng.uniform(0, seconds), rng.uniform(0.1, 0.6), rng)
    track.add(p, pose=(flat, 0.0))


def climb(track: Track) -> None:
    """Out of the water, onto a ladder or the board: a few heaves of the body, tilted, without rhythm."""
    rng = track.rng
    seconds = rng.uniform(2.5, 6)
    p = track.piece(seconds, pitch=rng.uniform(0.2, 0.7), roll=rng.normal(0, 0.2), speed=0.2, blend=1.0)
    at = rng.uniform(0.1, 0.6)
    while at < seconds - 0.9:
        w = rng.uniform(0.25, 0.7)
        p.n += rng.uniform(0.15, 0.7) * (bump(p.t, at, w) - 0.8 * bump(p.t, at + w, w * 1.25))
        p.pitch += rng.normal(0, 0.3) * bump(p.t, at, 2 * w)
        p.roll += rng.normal(0, 0.25) * bump(p.t, at, 2 * w)
        p.blows.append((at, rng.uniform(0, 0.6)))
        at += rng.uniform(0.6, 1.8)
    p.fore += 0.08 * wander(rng, len(p), 0.3) * ease(p)
    track.add(p)


def rest_afloat(track: Track, seconds: float) -> None:
    """Sitting or lying on the board in small waves."""
    rng = track.rng
    p = track.piece(
        seconds, pitch=rng.choice([rng.uniform(-0.1, 0.4), rng.uniform(0.9, 1.4)]), roll=rng.normal(0, 0.1), speed=0.3
    )
    f = rng.uniform(0.25, 0.7)
    p.n += ease(p) * rng.uniform(0.01, 0.06) * np.sin(2 * np.pi * f * p.t + rng.uniform(0, 6))
    p.roll += ease(p) * rng.uniform(0.01, 0.1) * np.sin(2 * np.pi * f * p.t + rng.uniform(0, 6))
    p.n += 0.008 * wander(rng, len(p), 0.2)
    track.add(p, pose=(float(p.pitch[-1]), 0.0))


def aboard(track: Track, seconds: float) -> None:
    """Sitting in the boat between two runs: engine, chop met at 0.8-1.8 Hz, a slam now and then, at 3-8 m/s."""
    rng = track.rng
    p = track.piece(seconds, pitch=rng.uniform(-0.2, 0.3), roll=rng.normal(0, 0.1), speed=rng.uniform(3, 8), blend=3.0)
    env = ease(p, 1.0)
    met = rng.uniform(0.8, 1.8)
    p.n += env * rough(rng, len(p), met * 0.75, met * 1.35, rng.uniform(0.02, 0.11))
    p.n += env * rough(rng, len(p), 2.0, 9.0, rng.uniform(0.02, 0.08))
    p.shake += env * rough(rng, len(p), 14, 48, rng.uniform(0.01, 0.06))
    p.fore += env * rough(rng, len(p), 0.3, 4, 0.04)
    p.side += env * rough(rng, len(p), 0.3, 4, 0.05)
    p.pitch += env * 0.06 * wander(rng, len(p), 0.6)
    p.turn += env * 0.15 * wander(rng, len(p), 3.0)
    for _ in range(rng.poisson(seconds / 6)):
        at = rng.uniform(0, seconds)
        p.n += rng.uniform(0.3, 1.5) * bump(p.t, at, rng.uniform(0.05, 0.15))
        p.blows.append((at, rng.uniform(0.1, 0.6)))
    track.add(p, pose=(0.1, 0.0))


def towed(track: Track, seconds: float, speed: float) -> None:
    """On the rope with the board still in the water: kneeling, then standing up; chop and slaps."""
    rng = track.rng
    p = track.piece(seconds, pitch=rng.uniform(0.1, 0.5), roll=rng.normal(0, 0.08), speed=speed, blend=seconds)
    env = ease(p, 0.5)
    hard = rng.uniform(0.03, 0.2)
    grow = (p.speed / max(speed, 1.0)).clip(0, 1) * env
    p.n += grow * rough(rng, len(p), rng.uniform(1.0, 2.5), rng.uniform(5, 12), hard)
    p.shake += grow * rough(rng, len(p), rng.uniform(8, 16), rng.uniform(25, 45), hard * rng.uniform(0.3, 1.0))
    p.fore += 0.08 * env + grow * rough(rng, len(p), 0.8, 6, hard * 0.6)
    p.side += grow * rough(rng, len(p), 0.8, 6, hard * 0.5)
    rise = rng.uniform(0.3, 0.7) * seconds
    w = rng.uniform(0.4, 0.9)
    p.n += rng.uniform(0.15, 0.5) * (bump(p.t, rise, w) - bump(p.t, rise + w, w))
    p.pitch += 0.08 * wander(rng, len(p), 0.4) * env
    for _ in range(rng.poisson(seconds * rng.uniform(0.2, 1.2))):
        at = rng.uniform(0, seconds)
        p.n += rng.uniform(0.1, 0.6) * bump(p.t, at, rng.uniform(0.04, 0.12))
        p.blows.append((at, rng.uniform(0.05, 0.4)))
    track.add(p, pose=(0.25, 0.0))
