"""What all motion of the make `stitched` is cut from: a piece of the trunk's motion at 500 Hz, and ways to draw one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.interpolate import CubicSpline

from .drawn_motion import PI, Array

DT = 0.002
"""[s] step of the motion."""
GRAVITY = 9.81
"""[m/s2] where these riders are: not the standard one in which phones give their range."""
DEG = PI / 180
Generator = np.random.Generator
Shape = Callable[[Array], Array]
"""A push, a glide or a blow: a height for each phase from 0 to 1."""


@dataclass
class Piece:
    """Motion of the trunk for a while; a plain number stands for what stays as it is."""

    n: Array
    """Vertical specific force [g]."""
    fore: Array | float = 0.0
    """[g], level, the way the rider faces."""
    side: Array | float = 0.0
    """[g]"""
    pitch: Array | float = 0.0
    """[rad], so roll, yaw and arm."""
    roll: Array | float = 0.0
    yaw: Array | float = 0.0
    arm: Array | float = 0.0
    """Of the upper arm, from hanging along the trunk."""
    speed: Array | float = 0.0
    """[m/s]"""
    wet: Array | bool = False
    """Is the rider in the water?"""
    knocks: list[tuple[int, float]] = field(default_factory=list)
    """Sample and size of what makes the pouch swing."""


Pieces = list[Piece]
"""One after the other."""


def samples(seconds: float) -> int:
    return max(1, round(seconds / DT))


def sampled(shape: Shape, count: int) -> Array:
    return shape(np.arange(count) / count)


def wander(r: Generator, count: int, hz: float) -> Array:
    """Smooth and random, of size about 1, with content up to about hz."""
    knots = max(6, int(count * DT * 2 * hz) + 5)
    spline = CubicSpline(np.arange(knots), r.normal(0, 1, knots))
    return np.asarray(1.15 * spline(np.linspace(1 + r.uniform(0, 0.9), knots - 2.01, count)))


def strides(r: Generator, count: int, hz: float, cv: float) -> Array:
    """Steps or strokes done at each sample, at hz with periods that scatter by cv."""
    many = int(count * DT * hz) + 4
    periods = 1 / hz * (1 + cv * r.normal(0, 1, many))
    ends = np.concatenate([[0], np.cumsum(periods)])
    return np.asarray(np.interp(np.arange(count) * DT, ends, np.arange(many + 1)))


def risen(count: int, seconds: float) -> Array:
    """From 0 to 1 within seconds, and there it stays."""
    return np.minimum(1, np.arange(count) / samples(seconds))


def in_and_out(count: int, seconds: float) -> Array:
    """From 0 to 1 within seconds, and at the end back."""
    return np.clip(np.minimum(np.arange(count), np.arange(count)[::-1]) / samples(seconds), 0, 1)


def through(count: int, at: Sequence[float], values: Sequence[float] | Array) -> Array:
    """Straight from value to value, which are reached at these samples."""
    return np.interp(np.arange(count), at, values)


def bell(x: Array, middle: float, width: float) -> Array:
    return np.asarray(np.exp(-(((x - middle) / width) ** 2)))
