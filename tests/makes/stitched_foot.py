"""What riders of `stitched` do on foot, with a board or without, and on the dock."""

from __future__ import annotations

import numpy as np

from .drawn_motion import PI
from .stitched_piece import DEG, DT, GRAVITY, Generator, Piece, Pieces, in_and_out, samples, strides, wander
from .stitched_pump import cycle, glide_of, push_of


def stand(r: Generator, sec: float) -> Pieces:
    """On a floating dock half of the time."""
    m = samples(sec)
    n = 1 + 0.01 * wander(r, m, 1.2)
    fore, side = 0.008 * wander(r, m, 1), 0.01 * wander(r, m, 0.8)
    pitch = r.uniform(-4, 12) * DEG + 0.04 * wander(r, m, 0.15)
    roll, yaw, arm = 0.03 * wander(r, m, 0.2), 0.4 * wander(r, m, 0.12), 0.15 + 0.2 * wander(r, m, 0.3)
    knocks = []
    if r.random() < 0.5:
        n += 0.015 * np.sin(2 * PI * r.uniform(0.35, 0.9) * np.arange(m) * DT)
        roll += 0.02 * np.sin(2 * PI * 0.45 * np.arange(m) * DT)
    for _ in range(r.poisson(sec / 9)):  # a shift of weight, a scratch at the pouch
        long = samples(r.uniform(0.4, 0.9))
        at, size = int(r.integers(0, max(1, m - long))), r.uniform(0.03, 0.12)
        k = min(long, m - at)
        shift = np.sin(2 * PI * np.arange(k) / long) * np.hanning(long)[:k]
        n[at : at + k] += size * shift
        side[at : at + k] += size * shift
        if r.random() < 0.4:
            knocks.append((at, r.uniform(0.1, 0.4)))
    return [Piece(n, fore, side, pitch, roll, yaw, arm, knocks=knocks)]


def sit(r: Generator, sec: float) -> Pieces:
    m = samples(sec)
    return [
        Piece(
            1 + 0.006 * wander(r, m, 1), pitch=r.uniform(-20, 35) * DEG + 0.05 * wander(r, m, 0.1),
            roll=0.05 * wander(r, m, 0.1), yaw=0.3 * wander(r, m, 0.1), arm=0.4 + 0.3 * wander(r, m, 0.2),
        )
    ]  # fmt: skip


def walk(r: Generator, sec: float, *, carry: bool = False, wade: bool = False) -> Pieces:
    """With the board under an arm, or out through the shallows, or with neither."""
    m = samples(sec)
    hz = r.uniform(1.62, 2.08) * (0.92 if carry else 1) * (0.68 if wade else 1)
    done = strides(r, m, hz, 0.08 if wade else 0.025)
    t, e = 2 * PI * done, in_and_out(m, 0.8)
    one, two, three = r.uniform(0.13, 0.33), r.uniform(0.05, 0.17), r.uniform(0.02, 0.09)
    limp, at = r.uniform(0.02, 0.07) * (1.8 if carry else 1), r.uniform(0, 6.3, 4)
    step = one * np.cos(t) + two * np.cos(2 * t + at[0]) + three * np.cos(3 * t + at[1]) + limp * np.cos(t / 2 + at[2])
    n = 1 + e * step
    hold = r.choice([-1, 1]) * r.uniform(4, 12) * DEG if carry else 0
    piece = Piece(
        n, e * (0.6 * one * np.sin(t + at[3] * 0.2) + 0.05 * np.cos(2 * t)),
        e * r.uniform(0.05, 0.13) * np.sin(t / 2),
        r.uniform(-2, 9) * DEG + e * 0.025 * np.cos(t) + 0.02 * wander(r, m, 0.2),
        hold + e * 0.05 * np.sin(t / 2), e * 0.08 * np.sin(t / 2 + 0.5) + 1.2 * wander(r, m, 0.06),
        0.1 + e * (0.12 if carry else 0.35) * np.sin(t / 2 + 0.3), e * r.uniform(0.9, 1.5) * (0.5 if wade else 1),
    )  # fmt: skip
    strikes = np.searchsorted(done, np.arange(1, int(done[-1])))
    piece.knocks = [(int(i), r.uniform(0.05, 0.25) * e[min(i, m - 1)]) for i in strikes]
    if carry:  # the board knocks at the hip
        piece.knocks += [(int(r.integers(0, m)), r.uniform(0.2, 0.5)) for _ in range(r.poisson(sec / 6))]
        piece.n += e * 0.02 * wander(r, m, 5)
    if wade:
        piece.wet = r.random() < 0.5
        piece.n = 1 + (piece.n - 1) * np.linspace(0.4, 0.9, m) + 0.03 * wander(r, m, 4)
    return [piece]


def run(r: Generator, hz: float, peak: float, count: int, slow: float, fast: float, *, wet: bool = False) -> Piece:
    """Steps at hz up to peak [g], from slow to fast [m/s]; left and right unlike; wet: through shallow water."""
    uneven, glide = r.uniform(-0.12, 0.12), glide_of(r, "ballistic")
    push, share = push_of(r, r.choice(["stair", "spring", "cmj", "plateau"])), r.uniform(0.47, 0.6)
    first = r.choice([-1, 1])
    n, fore, side, knocks, done = [], [], [], [], 0
    for k in range(count):
        full, foot = min(1.0, 0.5 + 0.2 * k), (-1) ** k
        period = 1 / hz * (1 + 0.03 * r.normal()) * (1 + 0.12 * (1 - full))
        top = 1 + (peak - 1) * full * (1 + uneven * foot) * (1 + 0.08 * r.normal())
        up = samples(period * share)
        step = cycle(push, max(top, 1.25), up, glide, samples(period) - up, r.normal(0, 0.05), 0.96)
        if wet:
            step = step + 0.06 * wander(r, len(step), 9)
        x = np.arange(len(step)) / len(step)
        on_foot = np.clip(x / share, 0, 1)
        brake = -(0.28 + 0.1 * r.random()) * full * np.sin(2 * PI * on_foot) * (x < share)
        fore.append(brake + (fast - slow) / count / (GRAVITY * period) * 0.8)
        side.append(first * foot * 0.12 * full * np.sin(PI * on_foot))
        n.append(step)
        knocks.append((done, 0.5 * full))
        done += len(step)
    t = np.arange(done) * DT
    return Piece(
        np.concatenate(n), np.concatenate(fore), np.concatenate(side),
        (8 + 6 * r.random()) * DEG + 0.03 * np.sin(2 * PI * hz * t), 0.05 * np.sin(PI * hz * t),
        0.09 * np.sin(PI * hz * t + 0.6), 0.25 + 0.3 * np.sin(PI * hz * t), np.linspace(slow, fast, done),
        knocks=knocks,
    )  # fmt: skip


def jog(r: Generator, sec: float) -> Pieces:
    hz = r.uniform(2.45, 2.9)
    return [run(r, hz, r.uniform(1.6, 2.3), max(4, int(sec * hz)), 2.2, 2.8)]


def stairs(r: Generator, count: int) -> Pieces:
    push = push_of(r, r.choice(["stair", "cmj", "skate", "squat"]))
    glide, hz = glide_of(r, r.choice(["sin", "early", "two"])), r.uniform(1.35, 1.95)
    waves, knocks, done = [], [], 0
    for k in range(count):
        period = 1 / hz * (1 + 0.07 * r.normal())
        up = samples(period * r.uniform(0.42, 0.55))
        waves.append(cycle(push, r.uniform(1.2, 1.5) + 0.06 * (-1) ** k, up, glide, samples(period) - up))
        knocks.append((done, 0.2))
        done += len(waves[-1])
    t = np.arange(done) * DT
    whole, both = np.sin(2 * PI * hz * t), np.sin(PI * hz * t)
    return [
        Piece(
            np.concatenate(waves), 0.07 * whole, 0.07 * both, 18 * DEG + 0.05 * whole, 0.06 * both,
            arm=0.2 + 0.2 * both, speed=0.5, knocks=knocks,
        )
    ]  # fmt: skip


def hops(
    r: Generator, count: int, hz: float, peak: float, *, tilt: float = 0.0, uneven: float = 0.0, arms: float = 0.1
) -> Pieces:
    """On the spot, up to peak [g], trunk tilted sideways [rad]; uneven: as jumping jacks are; arms: their swing."""
    push = push_of(r, r.choice(["spring", "stair", "cmj", "plateau"]))
    glide, share = glide_of(r, "ballistic"), r.uniform(0.42, 0.58)
    ready = samples(0.35)
    waves, knocks, done = [1 - 0.18 * np.hanning(ready)], [], ready
    for k in range(count):
        full = min(1, 0.55 + 0.25 * k) * (1 - 0.35 * (k == count - 1))
        period = 1 / hz * (1 + 0.035 * r.normal())
        up = samples(period * share)
        top = 1 + (peak - 1) * full * (1 + uneven * (-1) ** k) * (1 + 0.06 * r.normal())
        waves.append(cycle(push, top, up, glide, samples(period) - up, r.normal(0, 0.04), 0.97))
        knocks.append((done, 0.5 * full))
        done += len(waves[-1])
    waves.append(1 + 0.25 * np.hanning(ready) * np.cos(np.linspace(0, 3, ready)))
    n = np.concatenate(waves)
    m = len(n)
    t = np.arange(m) * DT
    return [
        Piece(
            n, 0.06 * wander(r, m, 3), 0.06 * wander(r, m, 3) + 0.1 * np.sin(tilt),
            r.uniform(0, 10) * DEG + 0.02 * wander(r, m, 2), tilt + 0.04 * wander(r, m, 1.5), 0.15 * wander(r, m, 0.6),
            0.2 + arms * np.sin(2 * PI * hz * t * (0.5 if uneven else 1)), knocks=knocks,
        )
    ]  # fmt: skip


def warm_up(r: Generator) -> Pieces:
    x = r.random()
    if x < 0.45:
        return hops(r, int(r.integers(5, 22)), r.uniform(2.0, 2.75), r.uniform(1.9, 3.1))
    if x < 0.65:
        return hops(r, 2 * int(r.integers(4, 10)), r.uniform(2.0, 2.5), r.uniform(1.7, 2.5), uneven=0.18, arms=1.3)
    return knee_bends(r) if x < 0.82 else slap(r)


def empty_ears(r: Generator) -> Pieces:
    """Hops with the head to one side, then perhaps to the other."""
    way = r.choice([-1, 1])
    pieces = hops(
        r, int(r.integers(3, 8)), r.uniform(1.9, 2.5), r.uniform(1.6, 2.4), tilt=way * r.uniform(15, 35) * DEG
    )
    if r.random() < 0.5:
        pieces += stand(r, r.uniform(1, 3))
        count, hz, peak = int(r.integers(3, 6)), r.uniform(1.9, 2.4), r.uniform(1.5, 2.2)
        pieces += hops(r, count, hz, peak, tilt=-way * r.uniform(15, 35) * DEG)
    return pieces + shake(r)


def knee_bends(r: Generator) -> Pieces:
    hz, count = r.uniform(0.4, 0.75), int(r.integers(3, 9))
    m = samples(count / hz)
    t, e, size = 2 * PI * strides(r, m, hz, 0.05), in_and_out(m, 0.5), r.uniform(0.12, 0.34)
    return [
        Piece(
            1 + e * (-size * np.sin(t) + 0.35 * size * np.cos(2 * t)), 0.03 * np.sin(t),
            pitch=12 * DEG + e * (18 * DEG * (1 - np.cos(t)) / 2), arm=0.3 + e * 0.9 * (1 - np.cos(t)) / 2,
        )
    ]  # fmt: skip


def slap(r: Generator) -> Pieces:
    """Arms round the chest against the cold, the trunk twisting."""
    m, hz = samples(r.uniform(3, 8)), r.uniform(0.9, 1.6)
    t, e = 2 * PI * strides(r, m, hz, 0.05), np.hanning(m) ** 0.3
    return [
        Piece(
            1 + e * (0.05 * np.cos(t) + 0.06 * np.cos(2 * t)), 0.08 * e * np.cos(t), e * 0.1 * np.sin(t),
            roll=0.04 * e * np.sin(t), yaw=e * 0.3 * np.sin(t), arm=0.6 + e * 0.8 * np.sin(t),
            knocks=[(int(i), 0.3) for i in np.arange(0, m - 1, samples(1 / hz))],
        )
    ]  # fmt: skip


def shake(r: Generator) -> Pieces:
    """Water off."""
    m, hz = samples(r.uniform(0.8, 2.2)), r.uniform(2.2, 4.2)
    t, e = np.arange(m) * DT, np.hanning(m)
    twist, side, yaw = np.sin(2 * PI * hz * t), e * r.uniform(0.1, 0.4), e * r.uniform(0.08, 0.3)
    return [
        Piece(
            1 + e * 0.1 * np.cos(4 * PI * hz * t), side=side * twist, pitch=e * 0.35,
            roll=e * 0.1 * np.cos(2 * PI * hz * t), yaw=yaw * twist, arm=0.2 + 0.3 * e * twist,
        )
    ]  # fmt: skip


def bend(r: Generator) -> Pieces:
    """Down to the board and up again."""
    m = samples(r.uniform(1.4, 3))
    x, size, e = np.linspace(0, 1, m), r.uniform(0.06, 0.25), np.hanning(m)
    return [
        Piece(
            1 - size * np.sin(2 * PI * x) * e + size * 0.8 * np.sin(4 * PI * x) * e, 0.06 * wander(r, m, 2),
            pitch=r.uniform(50, 85) * DEG * np.sin(PI * x) ** 1.3, roll=0.15 * wander(r, m, 0.7),
            arm=0.8 * np.sin(PI * x), knocks=[(m // 2, 0.3)],
        )
    ]  # fmt: skip
