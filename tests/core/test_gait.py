"""Bounces in all three axes, made by hand: two legs told from one beat, sway, repetition, lean."""

from __future__ import annotations

import math

import numpy as np
import pytest

from cadence_coach.core.afoot import RING
from cadence_coach.core.gait import Gait, Look
from cadence_coach.core.units import STEP, G
from cadence_coach.sim.sensor import random_rotation

PERIOD = 0.6
COUNT = round(PERIOD / STEP)


def looked(
    shapes: list[np.ndarray], hole_before: int | None = None, vertical: np.ndarray | None = None, whole: bool = True
) -> list[Look | None]:
    """What is seen of each bounce; a shape is [points, 3], all three axes over one bounce [m/s2]."""
    gait, out, n, t = Gait(), [], 0, 10.0
    for k, shape in enumerate(shapes):
        t += 0.5 if k == hole_before else 0.0
        for i, row in enumerate(shape):
            for ring, value in zip((gait.x, gait.y, gait.z), row, strict=True):
                ring[(n + i) % RING] = float(value)
        up = np.ones(len(shape)) if vertical is None else vertical
        end = t + len(shape) * STEP
        out.append(gait.look(t, end, n, list(map(float, up)), whole))
        n, t = n + len(shape), end
    return out


def legs(shapes: list[np.ndarray], **more: int) -> list[float | None]:
    return [look.legs if look else None for look in looked(shapes, **more)]


def some(seed: int, points: int = COUNT) -> np.ndarray:
    return np.random.default_rng(seed).standard_normal((points, 3)).cumsum(axis=0)


def test_left_and_right_in_turn_are_two_legs() -> None:
    """Each bounce equals the one before the last: the ratio of differences has no bound (here 1e9 of them)."""
    told = legs([some(k % 2) for k in range(6)])
    assert told[:3] == [None] * 3
    assert all(x is not None and x > 15.0 for x in told[3:])


def test_all_of_a_bounce_is_compared() -> None:
    """Legs that differ in the last quarter of the bounce alone, and bounces of 0.8 s; those that are all the same show
    no leg."""
    base = some(5, 80)
    other = base.copy()
    other[60:] += 4.0
    assert all(x is not None and x > 10 for x in legs([(base, other)[k % 2] for k in range(7)])[3:])
    assert legs([base] * 7)[3:] == [0.0] * 4


def test_one_beat_is_no_two_legs() -> None:
    """The same shape with independent noise: as far from the last as from the one before, on average."""
    rng = np.random.default_rng(3)
    base = some(1)
    told = legs([base + 0.3 * rng.standard_normal(base.shape) for _ in range(60)])
    assert np.mean([x for x in told if x is not None]) == pytest.approx(0.0, abs=0.1)


def test_a_slow_change_is_less_than_one_leg() -> None:
    """Farther from the one before the last than from the last: log of (1 + 1) / (4 + 4)."""
    told = legs([some(1) * (1.0 + 0.1 * k) for k in range(6)])
    assert told[-1] == pytest.approx(-math.log(4.0))


def test_bounces_of_unlike_length_or_with_a_hole_between_are_not_compared() -> None:
    assert legs([some(k % 2, COUNT if k != 4 else round(1.4 * COUNT)) for k in range(6)])[4:] == [None, None]
    assert legs([some(k % 2) for k in range(7)], hole_before=4)[4:] == [None] * 3
    open_ended = looked([some(k % 2) for k in range(5)], whole=False)
    assert all(look is not None and look.legs is None for look in open_ended)
    long = looked([np.zeros((RING, 3))])
    assert long == [None], "the rings do not hold it"


def test_sway_is_what_lies_across_the_vertical() -> None:
    """A square wave of 0.3 g across the vertical has an RMS of 0.3 g; what is along it does not count, nor any
    fixed orientation, nor a splash of two points."""
    flat = np.tile([0.3, -0.3], COUNT // 10)
    across = np.repeat(flat, 5)
    along = 1.0 + 0.5 * np.sin(2 * np.pi * np.arange(COUNT) / COUNT)
    shape = G * np.column_stack([across, 0 * across, along])
    turned = shape @ random_rotation(np.random.default_rng(5)).T
    splashed = shape.copy()
    splashed[[10, 15], 1] += 40.0  # both are among the points that are asked
    for case, tolerance in ((shape, 1e-9), (turned, 1e-9), (splashed, 0.05)):
        (look,) = looked([case], vertical=along)
        assert look is not None and look.sway == pytest.approx(0.3, abs=tolerance)


def test_lean_against_the_nearer_of_the_two_before() -> None:
    """A turn by 0.5 rad is 0.5 rad off both before it, then none off the last; one odd bounce is off, the next is not,
    since it is like the one before that."""
    straight = np.tile([0.0, 0.0, G], (COUNT, 1))
    leaning = np.tile([G * math.sin(0.5), 0.0, G * math.cos(0.5)], (COUNT, 1))
    tilts = [x.tilt for x in looked([straight, straight, leaning, leaning]) if x]
    assert tilts == pytest.approx([0.0, 0.0, 0.5, 0.0], abs=1e-6)
    tilts = [x.tilt for x in looked([straight, straight, leaning, straight]) if x]
    assert tilts == pytest.approx([0.0, 0.0, 0.5, 0.0], abs=1e-6)


def test_apart_says_how_far_a_bounce_is_from_the_last() -> None:
    """Independent shapes of the same size differ by twice their mean square: log 1 = 0 on average; the same shape
    again by nothing; none before it, nothing to say."""
    rng = np.random.default_rng(8)
    noise = [20.0 * rng.standard_normal((COUNT, 3)) for _ in range(200)]
    told = [x.apart for x in looked(noise) if x]
    assert told[0] is None
    assert np.mean([x for x in told if x is not None]) == pytest.approx(0.0, abs=0.1)
    same = [x.apart for x in looked([noise[0], noise[0]]) if x]
    assert same[1] is not None and same[1] < -6.0
