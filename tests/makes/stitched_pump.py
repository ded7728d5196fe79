"""What a rider of `stitched` does with a pump: pushes and glides of other sports, and trains of pumps stitched of them.

A rider keeps to one push and one glide, each a family that people bring along from elsewhere (`PUSH`, `GLIDE`), and to
figures of their own (`Rider`). A cycle's glide is as deep as its push asks, so that the mean is 1 g.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator

from .drawn_motion import PI, Array
from .stitched_piece import DEG, DT, GRAVITY, Generator, Shape, sampled, samples

Knots = tuple[tuple[float, float], ...]
"""Phase and height, from (0, 0) to (1, 0)."""
PUSH: dict[str, Knots] = {
    "squat": ((0, 0), (0.2, 0.42), (0.45, 0.62), (0.7, 1), (0.88, 0.62), (1, 0)),  # squat jump: force builds, late peak
    "stair": ((0, 0), (0.15, 0.8), (0.3, 0.62), (0.58, 1), (0.8, 0.62), (1, 0)),  # run upstairs: passive, active peak
    "cmj": ((0, 0), (0.2, 1), (0.47, 0.66), (0.74, 0.9), (0.9, 0.5), (1, 0)),  # counter-movement jump: brake, shove
    "shoulder": ((0, 0), (0.13, 0.3), (0.27, 0.24), (0.58, 1), (0.82, 0.62), (1, 0)),  # feet land first, then the push
    "shoulder2": ((0, 0), (0.17, 0.46), (0.33, 0.34), (0.62, 1), (0.84, 0.6), (1, 0)),
    "skate": ((0, 0), (0.25, 0.38), (0.5, 0.5), (0.76, 1), (0.9, 0.7), (1, 0)),  # load, then kick
    "plateau": ((0, 0), (0.18, 0.84), (0.5, 1), (0.8, 0.85), (1, 0)),  # heavy legs, long flat push
    "stab": ((0, 0), (0.2, 0.6), (0.36, 1), (0.6, 0.5), (0.82, 0.22), (1, 0)),  # early stab, long let-off
}
"""Above 1 g."""
PUSHES = ("spring", "bell", *PUSH)
"""spring: two-legged hops, a skewed half sine; bell: soft in and out."""
GLIDE: dict[str, Knots] = {
    "ballistic": ((0, 0), (0.17, 0.82), (0.4, 1), (0.65, 0.98), (0.85, 0.8), (1, 0)),  # time in the air
    "early": ((0, 0), (0.2, 1), (0.45, 0.75), (0.78, 0.4), (1, 0)),  # light at a blow, long gather
    "late": ((0, 0), (0.25, 0.42), (0.55, 0.75), (0.8, 1), (1, 0)),  # knees pulled up late
    "two": ((0, 0), (0.2, 1), (0.48, 0.6), (0.75, 0.88), (1, 0)),  # the body drops, then the board
    "preland": ((0, 0), (0.3, 1), (0.58, 0.85), (0.76, 0.42), (0.87, 0.55), (1, 0)),  # feet land under 1 g, a dip, push
    "float": ((0, 0), (0.12, 0.85), (0.28, 1), (0.6, 0.6), (0.85, 0.5), (1, 0)),  # skating glide
}
"""Below 1 g, positive."""
GLIDES = ("sin", *GLIDE)


def _through(at: Array, high: Array) -> Shape:
    """Through these knots, its top 1."""
    curve = PchipInterpolator(at, high)
    top = curve(np.linspace(0, 1, 101)).max()
    return lambda x: curve(x) / top


def _own(r: Generator, knots: Knots) -> Shape:
    """The family's knots as one rider has them."""
    at, high = np.array(knots, float).T.copy()
    inner = slice(1, -1)
    at[inner] = np.clip(at[inner] + r.uniform(-0.025, 0.025, len(at) - 2), 0.04, 0.96)
    high[inner] *= 1 + r.uniform(-0.05, 0.05, len(at) - 2)
    return _through(at, high)


def _skewed(skew: float, power: float) -> Shape:
    return lambda x: np.abs(np.sin(PI * x**skew)) ** power


def push_of(r: Generator, family: str) -> Shape:
    if family == "spring":
        return _skewed(r.uniform(0.72, 1.35), r.uniform(0.85, 1.1))
    if family == "bell":
        return _skewed(r.uniform(0.85, 1.2), r.uniform(1.2, 1.5))
    return _own(r, PUSH[family])


def glide_of(r: Generator, family: str) -> Shape:
    if family == "sin":
        return _skewed(r.uniform(0.75, 1.3), r.uniform(0.8, 1.1))
    return _own(r, GLIDE[family])


def half(x: Array) -> Array:
    """A half sine."""
    return np.sin(PI * x)


QUICK = _through(np.array([0, 0.2, 0.35, 0.6, 0.85, 1]), np.array([0, 0.85, 1, 0.55, 0.25, 0]))
"""A blow: sooner up than down."""
TWICE = _through(np.array([0, 0.18, 0.34, 0.6, 1]), np.array([0, 1, 0.45, 0.62, 0]))
"""One foot lands, then the other."""
COAST = _through(np.array([0, 0.1, 0.22, 0.45, 0.7, 0.9, 1]), np.array([0, 0.8, 1, 0.5, 0.42, 0.45, 0]))
"""A glide for as long as two, in which a pump is missed."""


def cycle(
    push: Shape, peak: float, up: int, glide: Shape, down: int, gain: float = 0.0, deepest: float = 0.93
) -> Array:
    """[g] over up and down samples: a push to peak [g], a glide as deep as it must be for the body to gain so much
    speed upwards [m/s]; the push is lower where that were deeper than `deepest` [g]."""
    wave, low = (peak - 1) * sampled(push, up), sampled(glide, down)
    depth = (wave.sum() - gain / (GRAVITY * DT)) / low.sum()
    if depth > deepest:
        wave *= (deepest * low.sum() + gain / (GRAVITY * DT)) / wave.sum()
        depth = deepest
    return 1 + np.concatenate([wave, -max(depth, 0.03) * low])


@dataclass
class Rider:
    """How one pumps, leans and runs."""

    cadence: float
    """[Hz]"""
    share: float
    """Push share of the period."""
    peak: float
    """[g]"""
    push_family: str
    glide_family: str
    push: Shape
    glide: Shape
    cv: float
    """Period's SD over its mean."""
    linger: float
    """How much of a period's error the next one keeps."""
    fade: float
    """Share of its height that the push loses over a flight."""
    drift: float
    """Share that the period changes over a flight."""
    wander: float
    """Likewise from pump to pump, any way."""
    start: str
    """weak, strong or even."""
    lean: float
    """[rad] of the trunk, and how far it swings with the pumps."""
    swing: float
    swing_at: float
    """Phase, so all that end in _at."""
    fore: float
    """[g], once a pump and twice."""
    fore_at: float
    fore_twice: float
    side: float
    """[g]"""
    arm: float
    """[rad] from the trunk, and how far it swings."""
    arm_swing: float
    arm_at: float
    speed: float
    """[m/s]"""
    buzz: float
    """SD [g] of what hull and mast pass on."""
    height_sd: float
    """Scatter of single pumps' height and push share."""
    share_sd: float
    step_rate: float
    """[Hz], and peak [g] of the steps of a run."""
    step_peak: float
    hesitates: float
    """How often a glide is longer; half as often a pump is missed."""
    soft: float
    """SD [samples] of what the trunk rounds off."""


def draw_rider(r: Generator) -> Rider:
    while True:
        cadence, share, peak = r.uniform(1.12, 1.86), r.uniform(0.205, 0.525), r.uniform(1.5, 2.48)
        families = str(r.choice(PUSHES)), str(r.choice(GLIDES))
        push, glide = push_of(r, families[0]), glide_of(r, families[1])
        area = (peak - 1) * share * sampled(push, 400).mean()
        depth = area / ((1 - share) * sampled(glide, 400).mean())
        if _can(cadence, peak, families, area, depth):
            break
    rider = Rider(
        cadence, share, peak, *families, push, glide,
        cv=r.uniform(0.022, 0.056), linger=r.uniform(0, 0.6), fade=r.uniform(0, 0.32), drift=r.uniform(-0.06, 0.06),
        wander=r.uniform(0.004, 0.02), start=str(r.choice(["weak", "strong", "even"], p=[0.45, 0.3, 0.25])),
        lean=r.uniform(4, 30) * DEG, swing=r.uniform(0.8, 5) * DEG, swing_at=r.uniform(0, 0.7),
        fore=r.uniform(0.04, 0.26), fore_at=r.uniform(0, 1), fore_twice=r.uniform(0, 0.1), side=r.uniform(0.01, 0.06),
        arm=r.uniform(8, 38) * DEG, arm_swing=r.uniform(2, 12) * DEG * (1 if r.random() < 0.8 else 1.5),
        arm_at=r.uniform(0, 1), speed=r.uniform(3.9, 5.4), buzz=r.uniform(0.004, 0.03),
        height_sd=r.uniform(0.02, 0.07), share_sd=r.uniform(0.01, 0.05), step_rate=r.uniform(2.5, 3.0),
        step_peak=r.uniform(1.7, 2.6), hesitates=r.uniform(0.002, 0.03), soft=r.uniform(2.2, 4.6),
    )  # fmt: skip
    lively = min(1.0, PI * area / 0.7)  # who pumps lightly swings arms and trunk less
    rider.arm_swing *= lively * (0.55 if rider.glide_family in ("early", "float") else 1)
    rider.swing *= lively
    rider.fore *= 0.4 + 0.6 * lively
    return rider


def _can(cadence: float, peak: float, families: tuple[str, str], area: float, depth: float) -> bool:
    """Would one fly so, with legs for it, and keep each shoulder well clear of 1 g? area: of the push, [g] times
    periods; depth: of the glide [g]."""
    push, glide = families
    travel = 2 * GRAVITY * area * PI / (2 * PI * cadence) ** 2
    low_shoulder = push == "shoulder" and (peak - 1) * 0.24 < 0.13
    shallow = depth < 0.28 and glide in ("preland", "float")
    return not (area < 0.1 or depth > 0.86 or low_shoulder or shallow or travel > 0.42)


@dataclass
class Train:
    """Pumps without a pause: n [g], the samples at which pushes are meant to begin and end, periods [s]."""

    n: Array
    onsets: list[int]
    push_ends: list[int]
    periods: list[float]


def pump_train(r: Generator, rider: Rider, count: int, novice: bool) -> Train:
    drift = np.cumsum(r.normal(0, rider.wander * 0.5, count))
    drift -= np.linspace(0, drift[-1] if count > 12 else 0, count)
    cv = rider.cv * (1.15 if novice else 1)
    off = rising = 0.0
    catching_up = done = 0
    waves: list[Array] = []
    train = Train(np.empty(0), [], [], [])
    for k in range(count):
        off = rider.linger * off + np.sqrt(1 - rider.linger**2) * r.normal()
        gone = k / max(20.0, count - 1.0)
        change = rider.drift * gone + np.clip(drift[k], -0.05, 0.05) + cv * np.clip(off, -2.4, 2.4)
        period = 1 / rider.cadence * (1 + change)
        height = (1 - rider.fade * gone) * (1 + rider.height_sd * np.clip(r.normal(), -2, 2))
        share = rider.share * (1 + rider.share_sd * np.clip(r.normal(), -2, 2)) * (1 + 0.06 * rider.fade * gone)
        height, period = _at_first(r, rider, k, height, period)
        longer, glide = _held(r, rider) if 1 < k < count - 1 and count > 5 else (1.0, rider.glide)
        if longer > 1:
            catching_up = 3
        elif catching_up:
            height, period, catching_up = height * 1.13, period * 0.95, catching_up - 1
        up = samples(period * np.clip(share, 0.19, 0.54))
        down = samples(period) - up + (samples(period * (longer - 1)) if longer > 1 else 0)
        before, rising = rising, 0.75 * rising + r.normal(0, 0.02)
        peak = np.clip(1 + (rider.peak - 1) * height, 1.43, 2.56)
        waves.append(cycle(rider.push, peak, up, glide, down, rising - before))
        train.onsets.append(done)
        train.push_ends.append(done + up)
        train.periods.append(len(waves[-1]) * DT)
        done += len(waves[-1])
    train.n = np.concatenate(waves)
    return train


def _at_first(r: Generator, rider: Rider, k: int, height: float, period: float) -> tuple[float, float]:
    """Height and period of the k-th push: the first ones may be weak and slow, or strong and quick."""
    if k < 4 and rider.start == "weak":
        return height * (0.62 + 0.1 * k + r.uniform(-0.05, 0.05)), period * (1 + 0.05 * (1 - k / 4))
    if k < 6 and rider.start == "strong":
        return height * (1.14 - 0.02 * k), period * (0.94 + 0.01 * k)
    return height, period


def _held(r: Generator, rider: Rider) -> tuple[float, Shape]:
    """How many times as long as usual the cycle is, and its glide: now and then one hesitates or misses a pump."""
    x = r.random()
    if x < rider.hesitates:
        return r.uniform(1.22, 1.5), rider.glide
    if x < rider.hesitates * 1.5:
        return r.uniform(1.8, 2.12), COAST
    return 1.0, rider.glide
