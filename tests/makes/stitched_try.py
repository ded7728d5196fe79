"""A try to get going, as riders of `stitched` make it: start, pumps, end. Leaps and landings keep momentum."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .drawn_motion import PI, Array
from .stitched_foot import run
from .stitched_piece import DEG, DT, GRAVITY, Generator, Piece, Pieces, bell, risen, sampled, samples, through, wander
from .stitched_pump import QUICK, TWICE, Rider, Train, glide_of, half, pump_train, push_of


@dataclass
class Try:
    """pieces, the pumps' being pieces[pumping], or none where pumping is None; train: what was meant with them."""

    started_by: str
    ended_by: str
    pieces: Pieces
    pumping: int | None = None
    train: Train | None = None
    begins: int = 0
    """Sample of the outing."""

    @property
    def pumps_from(self) -> int:
        """Sample of the outing, as `pumps_until`; the same where there are no pumps."""
        return self.begins + sum(len(piece.n) for piece in self.pieces[: self.pumping or 0])

    @property
    def pumps_until(self) -> int:
        return self.pumps_from + (0 if self.pumping is None else len(self.pieces[self.pumping].n))

    @property
    def flies(self) -> bool:
        return self.train is not None and len(self.train.onsets) >= 3


def attempt(r: Generator, rider: Rider, started_by: str, count: int, ended_by: str, *, novice: bool = False) -> Try:
    """With count pumps; a novice's come less evenly."""
    made = Try(started_by, ended_by, START[started_by](r, rider))
    if count:
        made.pumping, made.train = len(made.pieces), pump_train(r, rider, count, novice)
        made.pieces.append(_pumps(r, rider, made.train, ended_by))
    made.pieces += _ending(r, rider, ended_by, made.pieces[-1].n[-1])
    return made


def _pumps(r: Generator, rider: Rider, train: Train, ended_by: str) -> Piece:
    n, count, last = train.n, len(train.onsets), train.push_ends[-1]
    if ended_by == "fall" and r.random() < 0.7:  # it goes wrong within the last glide
        n = n[: last + int((len(n) - last) * r.uniform(0.35, 0.95))]
    elif ended_by == "touch_down":  # the hull touches late in the glide
        n = n[: last + int((len(n) - last) * r.uniform(0.6, 1))]
        n = np.concatenate([n, np.linspace(n[-1], 0.95, samples(r.uniform(0.05, 0.3)))])
    m, usual = len(n), float(np.median(train.periods[-6:-1])) if count > 1 else train.periods[-1]
    done = np.interp(np.arange(m), [*train.onsets, train.onsets[-1] + samples(usual)], np.arange(count + 1))

    def swung(a_pump: float, at: float) -> Array:
        return np.cos(2 * PI * (a_pump * done - at))

    e = risen(m, 0.3)
    lean = rider.lean + 8 * DEG * wander(r, m, 0.08) * 0.5 + 0.02 * wander(r, m, 0.5)
    slower = 0.15 * rider.speed * np.linspace(0, 1, m) * min(1, count / 30)
    knocks = [(i, 0.12 * (rider.peak - 1)) for i in train.onsets] + [(i, 0.05) for i in train.push_ends[:-1]]
    return Piece(
        n, (rider.fore * swung(1, rider.fore_at) + rider.fore_twice * swung(2, 0.1) - 0.01) * e,
        (rider.side * swung(0.5, 0) + 0.02 * wander(r, m, 2)) * e,
        lean + rider.swing * (swung(1, rider.swing_at) + 0.25 * swung(2, 0.3)) * e,
        0.04 * wander(r, m, 0.4), 0.3 * wander(r, m, 0.1),
        rider.arm + rider.arm_swing * (swung(1, rider.arm_at) + 0.2 * swung(2, 0.6)) * e + 0.08 * wander(r, m, 0.3),
        rider.speed - slower + 0.2 * wander(r, m, 0.15), knocks=knocks,
    )  # fmt: skip


# --- starts ---


def _lasting(wave: Array, impulse: float, most: float) -> Array:
    """The wave, of this impulse [g samples]; or, where it is higher than most [g], a half sine that lasts longer."""
    if wave.max() <= most:
        return wave
    wave = sampled(half, int(len(wave) * wave.max() / most))
    return np.asarray(wave * (impulse / wave.sum()))


def _onto_the_board(r: Generator, rising: float, air: float, level: float, *, slowest: float) -> tuple[Array, int, int]:
    """n [g] from leaving the ground, rising [m/s], to the first push, and samples of fall and landing: a fall for air
    [s] at about level [g], a landing that lasts up to `slowest` [s] and throws one up a little, and a dip."""
    fall = samples(air)
    n = level * np.ones(fall) + 0.03 * wander(r, fall, 4)
    off = samples(0.05)
    n[:off] = np.linspace(1, level, off)
    speed = rising + ((n - 1) * GRAVITY * DT).sum()
    back = r.uniform(0.12, 0.5)
    land = samples(r.uniform(slowest / 2, slowest))
    blow = sampled((QUICK, half, TWICE)[r.integers(3)], land)
    impulse = (max(-speed, 0.25) + back) / GRAVITY / DT
    blow = _lasting(blow * impulse / blow.sum(), impulse, 3.4)
    dip = samples(r.uniform(0.16, 0.75))
    light = sampled(glide_of(r, r.choice(["early", "sin", "late", "float"])), dip)
    light = light * (back / GRAVITY / DT) / light.sum()
    if light.max() > 0.8:
        light *= 0.8 / light.max()
    if light.max() < 0.08:
        light *= 0.08 / light.max()
    return np.concatenate([n, 1 + blow, 1 - light]), fall, len(blow)


def _run_up(r: Generator, rider: Rider) -> Pieces:
    beach, steps, wait = r.random() < 0.3, int(r.integers(3, 11)), samples(r.uniform(0.4, 1.4))
    ready = Piece(
        1 + 0.012 * wander(r, wait, 1.5) - 0.06 * np.hanning(wait) * r.random(),
        pitch=(12 + 10 * r.random()) * DEG, arm=0.5,
    )  # fmt: skip
    hz = rider.step_rate * (0.88 if beach else 1)
    return [ready, run(r, hz, rider.step_peak, steps, 0.5, rider.speed * 0.9, wet=beach), _leap(r, rider)]


def _leap(r: Generator, rider: Rider) -> Piece:
    down, up, rising = samples(r.uniform(0.08, 0.16)), samples(r.uniform(0.17, 0.28)), r.uniform(0.5, 1.5)
    dip = 0.25 * r.random() * sampled(half, down)
    push = sampled(push_of(r, r.choice(["spring", "squat", "stair"])), up)
    impulse = rising / GRAVITY / DT + dip.sum()
    push = _lasting(push * (impulse / push.sum()), impulse, 1.9)
    up = len(push)
    air, fall, land = _onto_the_board(r, rising, r.uniform(0.24, 0.45), r.uniform(0.0, 0.16), slowest=0.36)
    n = np.concatenate([1 - dip, 1 + push, air])
    m, off, on = len(n), down + up, down + up + fall
    fore = np.zeros(m)
    fore[down:off] = 0.25 * np.sin(PI * np.arange(up) / up)
    fore[on : on + land] = r.uniform(-0.5, 0.15) * np.hanning(land)
    leans = np.array([12, r.uniform(5, 25), r.uniform(15, 40), r.uniform(20, 48), rider.lean / DEG + 3]) * DEG
    return Piece(
        n, fore, 0.06 * wander(r, m, 3), through(m, [0, off, on, on + land, m], leans), 0.08 * wander(r, m, 1.2),
        arm=through(m, [0, on, m], [0.7, 1.1, rider.arm]), speed=rider.speed, knocks=[(down, 0.4), (on, 0.9)],
    )  # fmt: skip


def _step_off(r: Generator, rider: Rider) -> Pieces:
    """One leg shoves off the rim, and it is not far down to the board."""
    wait = samples(r.uniform(1, 5))
    edge = Piece(
        1 + 0.02 * wander(r, wait, 1.2), pitch=(15 + 12 * r.random()) * DEG + 0.05 * wander(r, wait, 0.5),
        roll=0.06 * wander(r, wait, 0.6), arm=0.4,
    )  # fmt: skip
    up, rising = samples(r.uniform(0.2, 0.4)), r.uniform(0.05, 0.45)
    push = sampled(half, up)
    push *= rising / GRAVITY / DT / push.sum()
    air, fall, land = _onto_the_board(r, rising, r.uniform(0.12, 0.27), r.uniform(0.1, 0.5), slowest=0.4)
    n = np.concatenate([1 + push, air])
    m, on = len(n), up + fall
    fore = np.zeros(m)
    fore[:on] = r.uniform(0.2, 0.5) * np.hanning(on)
    fore[on : on + land] += r.uniform(-0.3, 0.1) * np.hanning(land)
    step = Piece(
        n, fore, 0.05 * wander(r, m, 2), through(m, [0, on, m], [0.3, 0.45, rider.lean]), 0.07 * wander(r, m, 1),
        arm=0.5, speed=np.linspace(0, rider.speed * 0.75, m), knocks=[(on, 0.6)],
    )  # fmt: skip
    return [edge, step]


def _rope(r: Generator, rider: Rider) -> Pieces:
    """From the water: knees, up, the rope takes the load and is let go."""
    m = samples(r.uniform(3, 7))
    up = Piece(
        1 + 0.05 * wander(r, m, 2), 0.04 * wander(r, m, 1.5), roll=0.1 * wander(r, m, 0.7), arm=0.8, speed=0.5,
        wet=True, pitch=through(m, [0, m * 0.5, m * 0.7, m], [55 * DEG, 50 * DEG, 30 * DEG, 18 * DEG]),
    )  # fmt: skip
    m, pull = samples(r.uniform(3, 8)), r.uniform(0.07, 0.2)
    x = np.linspace(0, 1, m)
    tow = Piece(
        1 + 0.05 * wander(r, m, 5) * (1 - 0.8 * x) + 0.1 * bell(x, 0.55, 0.07) - 0.07 * bell(x, 0.72, 0.08),
        pull * np.sin(PI * x) ** 0.5 + 0.05 * wander(r, m, 1.3),
        pitch=-6 * DEG + 12 * DEG * x + 0.03 * wander(r, m, 0.6), roll=0.06 * wander(r, m, 0.7), arm=1.2,
        speed=1 + rider.speed * x,
    )  # fmt: skip
    m = samples(r.uniform(1.5, 9))
    fast = Piece(
        1 + 0.03 * wander(r, m, 0.7) + 0.012 * wander(r, m, 4), 0.03 + 0.05 * wander(r, m, 0.8),
        pitch=3 * DEG + 0.03 * wander(r, m, 0.4), arm=1.1, speed=rider.speed + 1,
    )  # fmt: skip
    return [up, tow, fast, _release(r, rider)]


def _release(r: Generator, rider: Rider) -> Piece:
    wait, dip = samples(r.uniform(0.3, 1.6)), samples(r.uniform(0.22, 0.45))
    calm = 1 + 0.02 * wander(r, wait, 1) * np.hanning(wait)
    n = np.concatenate([calm, 1 - r.uniform(0.15, 0.5) * sampled(glide_of(r, "sin"), dip)])
    m, slack = len(n), samples(0.25)
    fore = np.full(m, -0.05)
    fore[:slack] -= 0.12 * np.hanning(slack)
    return Piece(
        n, fore, pitch=np.linspace(5 * DEG, rider.lean, m), arm=np.linspace(1, rider.arm, m), speed=rider.speed + 0.8
    )


START = {"run_up": _run_up, "step": _step_off, "rope": _rope}


# --- ends ---


def _ending(r: Generator, rider: Rider, ended_by: str, last: float) -> Pieces:
    """What follows pumps or a failed start whose last n [g] is given."""
    speed = rider.speed * 0.85
    if ended_by == "fall":
        air = r.uniform(0.2, 0.35)
        level = r.uniform(0.02, 0.2) if r.random() < 0.85 else r.uniform(0.25, 0.4)
        return [_splash(r, rider, air, level, min(last, 0.95), speed)]
    pieces = []
    if ended_by == "coast_out":
        pieces.append(_coast(r, rider, speed))
        speed = COASTED
    pieces.append(_touch(r, rider, speed))
    if r.random() < 0.75:
        pieces.append(_splash(r, rider, r.uniform(0.2, 0.32), r.uniform(0.05, 0.35), 1.0, speed))
    else:
        pieces.append(_sit_down(r, rider))
    return pieces


COASTED = 2.6
"""[m/s] at which the foil carries nobody any more."""


def _coast(r: Generator, rider: Rider, speed: float) -> Piece:
    m = samples(r.uniform(1.9, 6))
    n = 1 + (0.025 * wander(r, m, 0.6) + 0.01 * wander(r, m, 3)) * risen(m, 0.2) - 0.02 * np.hanning(m)
    return Piece(
        n, -0.05, pitch=rider.lean * 0.8 + 0.04 * wander(r, m, 0.5), roll=0.04 * wander(r, m, 0.7),
        arm=rider.arm + 0.2, speed=speed - (speed - COASTED) * np.linspace(0, 1, m),
    )  # fmt: skip


def _touch(r: Generator, rider: Rider, speed: float) -> Piece:
    """The hull slaps, its drag throws the trunk forward, the board wallows."""
    m, slap, after = samples(r.uniform(0.9, 2.6)), samples(r.uniform(0.06, 0.14)), samples(0.3)
    n = 1 + 0.05 * wander(r, m, 1.8) * risen(m, 0.3)
    n[:slap] += r.uniform(0.06, 0.22) * np.hanning(slap)
    n[slap : slap + after] -= r.uniform(0.06, 0.25) * np.hanning(after)
    t = np.arange(m) * DT
    fore = -r.uniform(0.15, 0.5) * bell(t, 0.3, 0.22)
    return Piece(
        n, fore, 0.04 * wander(r, m, 2), rider.lean + r.uniform(5, 22) * DEG * bell(t, 0.45, 0.3),
        0.1 * wander(r, m, 1), arm=0.8, speed=speed * np.exp(-t / 0.8), knocks=[(0, 0.25)],
    )  # fmt: skip


def _sit_down(r: Generator, rider: Rider) -> Piece:
    m = samples(r.uniform(1.5, 3))
    x = np.linspace(0, 1, m)
    return Piece(
        1 - 0.25 * np.sin(2 * PI * x) * np.hanning(m) + 0.03 * wander(r, m, 2), speed=0.3, wet=True,
        pitch=rider.lean + 20 * DEG * np.sin(PI * x), roll=0.1 * wander(r, m, 0.8),
    )  # fmt: skip


def _splash(r: Generator, rider: Rider, air: float, level: float, last: float, speed: float) -> Piece:
    """A fall for air [s] from last to level [g], then the water."""
    fall = samples(air)
    n = np.full(fall, level) + 0.04 * wander(r, fall, 4)
    off = min(fall, samples(0.06))
    n[:off] = np.linspace(last, level, off)
    blow, tail = _into_the_water(r, abs(((n - 1) * GRAVITY * DT).sum()) + r.uniform(0.2, 0.8))
    n = np.concatenate([n, 1 + blow, 1 - tail])
    m, hit = len(n), slice(fall, fall + len(blow))
    tip = rider.lean + r.choice([-1, 1], p=[0.35, 0.65]) * r.uniform(15, 60) * DEG
    roll, end = r.normal(0, 35) * DEG, r.uniform(10, 55) * DEG
    at = [0, fall, hit.stop, hit.stop + samples(0.8), m]
    fore, side = np.zeros(m), np.zeros(m)
    fore[hit] = -r.uniform(0.2, 1.2) * np.hanning(len(blow))
    side[hit] = r.normal(0, 0.5) * np.hanning(len(blow))
    return Piece(
        n, fore + 0.03 * wander(r, m, 3), side + 0.03 * wander(r, m, 3),
        through(m, at, [rider.lean, rider.lean + 0.5 * (tip - rider.lean), tip, 0.5 * (tip + end), end]),
        through(m, at, [0, 0.4 * roll, roll, 0.5 * roll, 0]), through(m, at, [0, 0.1, 0.5 * roll, roll, roll]),
        through(m, at, [0.5, 1.4, 1.2, 0.6, 0.6]), through(m, [0, fall, hit.stop, m], [speed, speed * 0.9, 0.8, 0.3]),
        np.arange(m) >= fall, [(fall, 1.0)],
    )  # fmt: skip


def _into_the_water(r: Generator, speed: float) -> tuple[Array, Array]:
    """What the water adds to 1 g as it stops a body of this speed [m/s], slower than ground would, and what is missing
    to 1 g as it bobs up and down after."""
    hit = samples(r.uniform(0.14, 0.4))
    blow = sampled(QUICK if r.choice([0, 1]) else half, hit)
    blow = np.minimum(blow * (speed / GRAVITY / DT) * r.uniform(0.6, 0.95) / blow.sum(), 3.6)
    if r.random() < 0.5:
        blow = blow + np.hanning(hit) * r.uniform(0, 0.5) * np.abs(wander(r, hit, 10))
    m = samples(r.uniform(1.6, 3.5))
    t = np.arange(m) * DT
    size, hz, dies = r.uniform(0.12, 0.4), r.uniform(0.7, 1.4), r.uniform(0.5, 1.2)
    bob = np.exp(-t / dies) * np.sin(2 * PI * hz * t + r.uniform(0, 0.5))
    return blow, (size * bob + 0.06 * wander(r, m, 3) * np.exp(-t / 1.2)) * risen(m, 0.08)
