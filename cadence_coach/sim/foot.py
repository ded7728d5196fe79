"""On foot: standing, walking, hopping, knee bends, the run-up, the jump. None of it is a pump."""

from __future__ import annotations

import numpy as np

from cadence_coach.core.units import G
from cadence_coach.sim.track import Piece, Track, bump, wander
from cadence_coach.sim.waveform import DT, smooth


def ease(piece: Piece, seconds: float = 0.5) -> np.ndarray:
    """An envelope that opens and closes the piece."""
    t = piece.t
    return smooth(t / seconds) * smooth((t[-1] - t) / seconds)


def stand(track: Track, seconds: float, fidget: float = 1.0) -> None:
    """Standing, swaying; now and then the pouch is handled: turned, pulled, tapped."""
    rng = track.rng
    p = track.piece(seconds, pitch=rng.normal(0.05, 0.05), roll=rng.normal(0, 0.05), speed=0.0)
    p.n += 0.008 * wander(rng, len(p), 0.25)
    p.fore += 0.012 * wander(rng, len(p), 0.4)
    p.side += 0.012 * wander(rng, len(p), 0.4)
    p.pitch += 0.03 * wander(rng, len(p), 0.8) * ease(p)
    for _ in range(rng.poisson(fidget * seconds / 12)):
        at = rng.uniform(0, seconds)
        w = rng.uniform(0.25, 1.0)
        b = bump(p.t, at, w) ** 2
        p.pitch += b * rng.normal(0, 0.4)
        p.roll += b * rng.normal(0, 0.4)
        p.n += b * rng.normal(0, 0.15) * np.sin(2 * np.pi * rng.uniform(1, 6) * p.t)
        p.blows.append((at, rng.uniform(0, 0.4)))
    track.add(p, pose=(0.05, 0.0))


def walk(track: Track, seconds: float, speed: float | None = None) -> list[float]:
    """Walking, with a gait and a place of the pouch drawn anew: step rate 1.5-2.3 Hz, uneven stride, heel impacts.
    Returns the steps' times [s]."""
    rng = track.rng
    rate = rng.uniform(1.5, 2.3)
    carried = rng.choice(["trunk", "hip", "thigh", "hand", "soft"])
    first = {"trunk": (0.12, 0.34), "hip": (0.15, 0.45), "thigh": (0.2, 0.5), "hand": (0.1, 0.4), "soft": (0.08, 0.2)}[
        carried
    ]
    p = track.piece(
        seconds, pitch=rng.normal(0.06, 0.08), roll=rng.normal(0, 0.06), speed=speed or rate * rng.uniform(0.55, 0.8)
    )
    env = ease(p)
    f = rate * (1 + 0.03 * wander(rng, len(p), 2.5) + 0.015 * wander(rng, len(p), 0.6))
    f *= 1 - 0.25 * smooth((p.t - (seconds - 1.2)) / 1.2)
    phase = 2 * np.pi * np.cumsum(f) * DT
    size = rng.uniform(*first) * (1 + 0.12 * wander(rng, len(p), 1.0)).clip(0.3)
    uneven = 1 + rng.uniform(0, 0.28) * np.cos(phase / 2)
    a2, a3 = rng.uniform(0.1, 0.6), rng.uniform(0, 0.3)
    shape = np.cos(phase) + a2 * np.cos(2 * phase + rng.uniform(-2, 2)) + a3 * np.cos(3 * phase + rng.uniform(-3, 3))
    p.n += env * size * uneven * shape
    p.fore += env * size * rng.uniform(0.4, 1.0) * np.cos(phase + rng.uniform(0.8, 2.2))
    p.side += env * size * rng.uniform(0.2, 0.8) * np.cos(phase / 2 + rng.uniform(-3, 3))
    sway = {"trunk": 0.04, "hip": 0.08, "thigh": 0.4, "hand": 0.3, "soft": 0.05}[carried] * rng.uniform(0.5, 1.3)
    p.pitch += env * sway * np.cos(phase / 2 + rng.uniform(-3, 3))
    p.roll += env * sway * 0.4 * np.cos(phase / 2 + rng.uniform(-3, 3))
    p.turn += 0.25 * wander(rng, len(p), 2.0) * env
    heel = 0.0 if carried == "soft" else rng.uniform(0.1, 0.8) * (1.3 if carried == "thigh" else 1.0)
    ring, fade = rng.uniform(11, 28), rng.uniform(0.02, 0.05)
    landings = np.flatnonzero(np.diff(np.floor((phase + np.pi / 2) / (2 * np.pi))) > 0)
    for i, at in enumerate(landings):
        strength = heel * (1 + 0.25 * (-1) ** i) * rng.uniform(0.6, 1.4) * env[at]
        _ring(p.n, at, strength, ring, fade)
        _ring(p.fore, at, -strength * 0.6, ring * 1.2, fade)
    start = track.add(p, pose=(0.06, 0.0))
    return [start + float(at) * DT for at in landings]


def _ring(x: np.ndarray, at: int, strength: float, rate: float, fade: float) -> None:
    t = np.arange(min(len(x) - at, int(5 * fade / DT))) * DT
    x[at : at + len(t)] += strength * np.exp(-t / fade) * np.sin(2 * np.pi * rate * t)


def run(track: Track, steps: int, rate: float, speed: float) -> None:
    """A run-up: `steps` steps at `rate` [Hz], faster and faster; feet off the ground between them."""
    rng = track.rng
    gaps = (1 + 0.12 * np.linspace(1, -1, steps)) / rate * (1 + 0.035 * rng.standard_normal(steps))
    p = track.piece(float(gaps.sum()), pitch=rng.uniform(0.08, 0.3), speed=speed, blend=float(gaps.sum()))
    at = 0.0
    for i, gap in enumerate(gaps):
        duty = np.clip(rng.normal(0.68, 0.07), 0.45, 0.9)
        low = rng.uniform(0.0, 0.35) if i else 0.7
        mask = (p.t >= at) & (p.t < at + gap)
        x = (p.t[mask] - at) / gap
        lean = rng.uniform(0.75, 1.1)
        force = np.where(x < duty, np.sin(np.pi * np.clip(x / duty, 0, 1) ** lean), 0.0)
        mean = max(force.mean(), 1e-3)
        p.n[mask] = low + (1 - low) / mean * force
        p.fore[mask] += rng.uniform(0.15, 0.35) * (np.cos(np.pi * x / duty) * -1.0 * (x < duty))
        p.side[mask] += rng.uniform(0.05, 0.3) * (-1) ** i * force
        p.roll[mask] += 0.06 * (-1) ** i * np.sin(np.pi * x)
        p.blows.append((at, rng.uniform(0.2, 1.0)))
        _ring(p.n, int(at / DT), rng.uniform(0.2, 1.2), rng.uniform(12, 28), rng.uniform(0.015, 0.04))
        at += gap
    p.fore += 0.08
    track.add(p, pose=(float(p.pitch[-1]), 0.0))


def leap(track: Track, air: float, drop: float, speed: float, *, deep: float = 0.0) -> float:
    """A jump off a dock, a beach or out of the run: push-off, then `air` seconds of free fall onto a board that lies
    `drop` m lower than the take-off. `deep`: seconds of bending the knees first, for a leap from standing. Returns
    the downward speed of the landing [m/s]."""
    rng = track.rng
    up = G * air / 2 - drop / air  # the leap that comes down `drop` lower after `air`
    width = rng.uniform(0.16, 0.3)
    fall = max(0.0, -up) * 0.3
    push = max(up, -0.6) / (G * width * 2 / np.pi)
    p = track.piece(deep + width + air, pitch=rng.uniform(0.1, 0.35), speed=speed, blend=0.4)
    t = p.t
    if deep:
        dip = bump(t, 0, deep)
        p.n -= 0.45 * dip
        push += 0.45 * deep / width
    p.n += max(push, -0.6) * bump(t, deep, width) ** rng.uniform(0.8, 1.3)
    off = smooth((t - (deep + width - 0.02)) / 0.03)
    p.n = p.n * (1 - off) + rng.uniform(0.0, 0.08) * off
    p.fore += rng.uniform(0.0, 0.4) * bump(t, deep, width)
    p.pitch += rng.normal(0, 0.15) * smooth((t - deep - width) / air)
    p.blows.append((deep + width, rng.uniform(0, 0.3)))
    track.add(p)
    return float(max(G * air - up - fall, 0.3))


def hop(track: Track, count: int) -> None:
    """Hopping on the spot: 1.8-2.8 Hz, off the ground between."""
    rng = track.rng
    rate, duty = rng.uniform(1.8, 2.8), rng.uniform(0.45, 0.75)
    gaps = (1 + 0.05 * rng.standard_normal(count)) / rate
    p = track.piece(float(gaps.sum()) + 0.4)
    at = 0.2
    for i, gap in enumerate(gaps):
        x = (p.t - at) / gap
        inside = (x >= 0) & (x < 1)
        n = np.where(x < duty, np.pi / 2 / duty * np.sin(np.pi * np.clip(x / duty, 0, 1)), 0.03)
        scale = rng.uniform(0.6, 1.0) if i in (0, count - 1) else 1.0
        p.n = np.where(inside, 1 + (n - 1) * scale, p.n)
        p.blows.append((at, rng.uniform(0.2, 0.8)))
        at += gap
    p.pitch += 0.05 * wander(rng, len(p), 0.5) * ease(p, 0.2)
    track.add(p)


def knee_bends(track: Track, count: int) -> None:
    """Slow deep knee bends, each with a stop at the top: 0.35-0.8 Hz."""
    rng = track.rng
    rate, depth = rng.uniform(0.35, 0.8), rng.uniform(0.15, 0.5)
    p = track.piece(count / rate)
    phase = (p.t * rate) % 1.0
    down = np.clip(phase / 0.72, 0, 1)
    p.n -= depth * np.sin(2 * np.pi * down) * (1 + 0.2 * np.sin(4 * np.pi * down))
    p.pitch += rng.uniform(0.1, 0.5) * np.sin(np.pi * down) ** 2
    p.fore += 0.05 * wander(rng, len(p), 0.3) * ease(p)
    track.add(p)
