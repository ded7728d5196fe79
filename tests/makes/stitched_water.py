"""How riders of `stitched` come back: in the water, out of it, and what they do until the next try."""

from __future__ import annotations

import numpy as np

from .drawn_motion import PI
from .stitched_foot import bend, empty_ears, jog, shake, sit, stairs, stand, walk, warm_up
from .stitched_piece import DEG, Generator, Piece, Pieces, bell, in_and_out, samples, strides, wander
from .stitched_pump import cycle, glide_of, push_of


def tread(r: Generator, sec: float) -> Pieces:
    m = samples(sec)
    t = 2 * PI * strides(r, m, r.uniform(0.9, 1.5), 0.12)
    return [
        Piece(
            1 + 0.05 * np.sin(t) + 0.03 * wander(r, m, 2) + 0.02 * wander(r, m, 0.4), 0.05 * wander(r, m, 1.5),
            0.05 * wander(r, m, 1.5), r.uniform(0, 35) * DEG + 0.12 * wander(r, m, 0.4), 0.12 * wander(r, m, 0.4),
            0.8 * wander(r, m, 0.2), 0.8 + 0.4 * np.sin(t), speed=0.2, wet=True,
        )
    ]  # fmt: skip


def swim(r: Generator, sec: float) -> Pieces:
    m = samples(sec)
    stroke = str(r.choice(["breast", "crawl", "kick", "push"]))
    e = in_and_out(m, 1)
    if stroke == "breast":
        return [_breast(r, m, e)]
    return [_crawl(r, m, e) if stroke == "crawl" else _kick(r, m, e, stroke == "kick")]


def _breast(r: Generator, m: int, e: np.ndarray) -> Piece:
    t = 2 * PI * strides(r, m, r.uniform(0.5, 0.85), 0.07)
    pull = np.maximum(0, np.sin(t)) ** 2
    return Piece(
        1 + e * (0.16 * np.sin(t) + 0.1 * np.cos(2 * t)), e * (0.25 * (pull - pull.mean())),
        pitch=(60 + 10 * r.random()) * DEG - e * 0.35 * np.sin(t + 0.6), roll=0.05 * wander(r, m, 0.4),
        arm=1.5 + e * 0.9 * np.sin(t), speed=0.7, wet=True,
    )  # fmt: skip


def _crawl(r: Generator, m: int, e: np.ndarray) -> Piece:
    t = 2 * PI * strides(r, m, r.uniform(0.7, 1.05) / 2, 0.05)
    return Piece(
        1 + e * (0.08 * np.cos(2 * t) + 0.05 * np.sin(4 * t)), e * 0.1 * np.sin(2 * t), e * 0.06 * np.sin(t),
        76 * DEG + 0.03 * np.cos(2 * t), e * r.uniform(0.45, 0.75) * np.sin(t), 0.1 * np.sin(t + 0.5),
        -t, speed=0.9, wet=True,
    )  # fmt: skip


def _kick(r: Generator, m: int, e: np.ndarray, may_lie_back: bool) -> Piece:
    """Legs alone, hands on the board pushed ahead, or on the back."""
    t = 2 * PI * strides(r, m, r.uniform(1.6, 2.6), 0.08)
    return Piece(
        1 + e * 0.04 * np.sin(t) + 0.03 * wander(r, m, 1.5), e * 0.04 * np.sin(2 * t), 0.03 * np.sin(t / 2),
        (-60 if may_lie_back and r.random() < 0.4 else 62) * DEG + 0.07 * wander(r, m, 0.3),
        e * 0.07 * np.sin(t / 2) + 0.08 * wander(r, m, 0.2), arm=1.7 + 0.1 * wander(r, m, 0.5), speed=0.5, wet=True,
    )  # fmt: skip


def paddle(r: Generator, sec: float) -> Pieces:
    """Prone on the board, by hand."""
    m = samples(sec)
    t = 2 * PI * strides(r, m, r.uniform(0.7, 1.15), 0.05)
    e, size = in_and_out(m, 1), r.uniform(0.05, 0.16)
    both = np.sin(t / 2)
    return [
        Piece(
            1 + e * (0.6 * size * np.cos(t) + 0.02 * wander(r, m, 3)), e * size * np.sin(t), e * 0.04 * both,
            r.uniform(58, 74) * DEG + 0.04 * np.cos(t), e * 0.12 * both, 0.06 * both, 1.6 + e * 0.9 * both,
            wet=r.random() < 0.6, speed=1.0,
        )
    ]  # fmt: skip


def climb_out(r: Generator, how: str) -> Pieces:
    """Up a ladder, onto a dock's rim (mantle), or wading up a beach."""
    if how == "beach":
        return walk(r, r.uniform(4, 12), wade=True)
    waves, knocks, done = [], [], 0
    for _ in range(int(r.integers(2, 7) if how == "ladder" else r.integers(1, 4))):
        up, down = samples(r.uniform(0.25, 0.6)), samples(r.uniform(0.3, 0.7))
        heave = push_of(r, r.choice(["squat", "bell", "skate", "cmj"]))
        wave = cycle(heave, r.uniform(1.12, 1.6), up, glide_of(r, "early"), down)
        waves += [wave, np.ones(samples(r.uniform(0.1, 0.9)))]
        knocks.append((done, 0.2))
        done += len(wave) + len(waves[-1])
    heaves = Piece(
        np.concatenate(waves) + 0.02 * wander(r, done, 4), 0.08 * wander(r, done, 1.5), 0.1 * wander(r, done, 1.2),
        r.uniform(5, 35) * DEG + 0.15 * wander(r, done, 0.7), 0.14 * wander(r, done, 0.7),
        0.3 * wander(r, done, 0.3), 1.6 + 0.5 * wander(r, done, 0.8), 0.1, np.arange(done) < done // 2, knocks,
    )  # fmt: skip
    return [heaves] if how == "ladder" else [heaves, _over_the_rim(r)]


def _over_the_rim(r: Generator) -> Piece:
    """Belly on the dock, a knee, up."""
    m = samples(r.uniform(1.6, 4))
    x = np.linspace(0, 1, m)
    return Piece(
        1 + 0.08 * wander(r, m, 2) + 0.35 * bell(x, 0.72, 0.09) - 0.28 * bell(x, 0.9, 0.08),
        0.12 * wander(r, m, 1.5), 0.1 * wander(r, m, 1.5),
        np.interp(x, [0, 0.25, 0.6, 0.85, 1], [0.5, 1.3, 1.0, 0.5, 0.1]),
        0.3 * wander(r, m, 0.5) * np.hanning(m), arm=1.2, knocks=[(0, 0.5), (m // 2, 0.3)],
    )  # fmt: skip


def back_to_start(r: Generator, place: str, far: float, *, short: bool = False) -> Pieces:
    """From the water to the start, dock or beach; far [m], though nobody swims or paddles all of a long way."""
    less = 0.5 if short else 1.0
    pieces = tread(r, r.uniform(1.5, 7) * less)
    x = r.random()
    sec = min(45, max(5, far * r.uniform(0.25, 0.6))) * less
    if place == "beach":
        pieces += paddle(r, sec) if x < 0.35 else swim(r, sec)
        return pieces + climb_out(r, "beach")
    if x < 0.45:
        pieces += swim(r, sec)
    elif x < 0.75:
        pieces += paddle(r, sec)
    else:
        pieces += swim(r, sec * 0.5) + tread(r, r.uniform(2, 5)) + swim(r, sec * 0.4)
    pieces += climb_out(r, r.choice(["ladder", "mantle"]))
    if r.random() < 0.3:
        pieces += stairs(r, int(r.integers(3, 10)))
    if r.random() < 0.35:
        pieces += bend(r)
    return pieces


def idle(r: Generator, cold: float) -> Pieces:
    """From climbing out to the next try; cold: how likely one who has stood or sat hops oneself warm."""
    pieces: Pieces = []
    if r.random() < 0.35:
        pieces += empty_ears(r)
    if r.random() < 0.6:
        pieces += walk(r, r.uniform(4, 22), carry=r.random() < 0.65)
    if r.random() < 0.15:
        pieces += jog(r, r.uniform(3, 10))
    for _ in range(r.poisson(0.9)):
        pieces += stand(r, r.uniform(2, 14)) if r.random() < 0.7 else sit(r, r.uniform(4, 20))
        if r.random() < cold:
            pieces += warm_up(r) + stand(r, r.uniform(1, 4))
    if r.random() < 0.4:
        pieces += shake(r)
    if r.random() < 0.5:
        pieces += bend(r)
    return pieces + stand(r, r.uniform(0.6, 5))
