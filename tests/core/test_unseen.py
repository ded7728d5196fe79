"""Gaps in the samples: what is put there, and that onsets and pushes that lie in one are found."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from cadence_coach.core.engine import Engine
from cadence_coach.core.events import ACCEL, Gap, Onset, PushEnd, Row
from cadence_coach.core.units import STEP, G
from cadence_coach.core.unseen import LONGEST, MISFIT, carried_on, points_until

SIZE = 512
PERIOD, SHARE, PUSH = 0.64, 0.36, 1.1
"""Of the pump that these tests are flown with [s], dimensionless, [g]: a sine for the push, a flatter one for the glide
that makes its mean 1 g."""


def vertical(t: np.ndarray) -> np.ndarray:
    """In g, over time [s]; an onset at each whole PERIOD."""
    part = np.mod(t / PERIOD, 1.0)
    glide = PUSH * SHARE / (1.0 - SHARE)
    up, down = np.sin(np.pi * part / SHARE), np.sin(np.pi * (part - SHARE) / (1.0 - SHARE))
    return np.asarray(1.0 + np.where(part < SHARE, PUSH * up, -glide * down))


def flown(start: float, end: float, seconds: float = 14.0, rate: float = 100.0) -> list[Row]:
    """Stamped rows of such pumps in a phone held at an odd angle, none from start to end [s]."""
    t = np.arange(0.0, seconds, 1.0 / rate)
    t = t[(t < start) | (t > end)]
    axes = Rotation.from_euler("xyz", [0.5, -0.4, 1.0]).apply(np.outer(vertical(t), [0.0, 0.0, G]))
    return [(ACCEL, a, *row) for a, row in zip(t.tolist(), axes.tolist(), strict=True)]


def found(rows: list[Row]) -> tuple[list[float], list[float], int]:
    """Onsets and push ends [s], and how many gaps were told."""
    engine = Engine()
    engine.receive(rows)
    engine.end()
    events = engine.events()
    onsets, ends = ([e.time for e in events if isinstance(e, kind)] for kind in (Onset, PushEnd))
    return onsets, ends, sum(isinstance(e, Gap) for e in events)


@pytest.mark.parametrize("begins", [-0.32, -0.25, -0.15, -0.05, 0.0, 0.1, 0.2])
@pytest.mark.parametrize("length", [0.15, 0.35])
def test_no_onset_is_lost_in_a_gap_nor_moved(begins: float, length: float) -> None:
    """An onset at 10 periods; a gap from so long before or after it. 0.35 s and 25 ms: design.md 10."""
    at = 10 * PERIOD
    onsets, ends, gaps = found(flown(at + begins, at + begins + length))
    usual, usual_ends, _ = found(flown(-1.0, -1.0))
    assert gaps == 1
    assert len(onsets) == len(usual) and len(ends) == len(usual_ends)
    assert max(abs(a - b) for a, b in zip(onsets, usual, strict=True)) < 0.025
    assert max(abs(a - b) for a, b in zip(ends, usual_ends, strict=True)) < 0.040


def test_three_bounces_are_enough() -> None:
    usual = found(flown(-1.0, -1.0))[0]
    at = usual[3]
    onsets = found(flown(at - 0.25, at + 0.05))[0]
    assert min(abs(t - at) for t in onsets) < 0.025


def test_a_push_that_a_straight_line_would_hide_is_found() -> None:
    """The gap takes the whole push: below 1 g before it and after it."""
    at = 10 * PERIOD
    start, end = at - 0.03, at + SHARE * PERIOD + 0.05
    assert max(vertical(np.array([start - 0.01, end + 0.01]))) < 1.0
    onsets, _, _ = found(flown(start, end))
    assert min(abs(t - at) for t in onsets) < 0.025


def rings(seconds: float) -> tuple[list[list[float]], int]:
    """Rings of x, y, z on the grid, and how many points they hold."""
    n = round(seconds / STEP)
    axes = [[0.0] * SIZE for _ in range(3)]
    for k, v in enumerate(vertical(STEP * np.arange(n)).tolist()):
        axes[2][k % SIZE] = v * G
    return axes, n


@pytest.mark.parametrize("seconds", [4.0, 5.0, 5.3, 7.7])
@pytest.mark.parametrize("count", [8, 20, 34])
def test_the_points_of_a_gap_are_those_of_the_bounce_before(seconds: float, count: int) -> None:
    axes, n = rings(seconds)
    true = vertical(STEP * np.arange(n, n + count + 1))
    points = carried_on(tuple(axes), n, count, (64.0, 64.0), (0.0, 0.0, float(true[-1]) * G))  # type: ignore[arg-type]
    assert len(points) == count
    assert [p[0] for p in points] == [0.0] * count
    assert np.abs(np.array([p[2] for p in points[::-1]]) / G - true[:-1]).max() < 0.01


def test_it_is_stretched_where_the_rider_was_late() -> None:
    """The gap ends half-way up a push that came 50 ms late: so does what stands in it."""
    axes, n = rings(10 * PERIOD - 0.2)
    late = 0.05
    end = float(vertical(np.array([STEP * (n + 29) - late]))[0])
    points = carried_on(tuple(axes), n, 29, (64.0, 64.0), (0.0, 0.0, end * G))  # type: ignore[arg-type]
    values = [p[2] / G for p in points[::-1]]
    rise = next(k for k in range(1, 29) if values[k - 1] < 1.0 <= values[k])
    assert STEP * (n + rise) == pytest.approx(10 * PERIOD + late, abs=0.015)


def test_both_ends_are_met() -> None:
    """Where this pump is 0.4 g higher than the one before at the end of the gap, and 0.2 g at its beginning."""
    axes, n = rings(6.0)
    axes[2][(n - 1) % SIZE] += 0.2 * G
    true = vertical(STEP * np.arange(n, n + 21))
    end = float(true[-1]) + 0.4
    points = carried_on(tuple(axes), n, 20, (64.0, 64.0), (0.0, 0.0, end * G))  # type: ignore[arg-type]
    off = np.array([p[2] for p in points[::-1]]) / G - true[:-1]
    assert off[0] == pytest.approx(0.2, abs=0.05) and off[-1] > 0.1


def test_what_cannot_be_told_is_left_a_straight_line() -> None:
    axes, n = rings(6.0)

    def asked(count: int, end: float, rhythm: tuple[float, float] = (64.0, 64.0), points: int = n) -> int:
        return len(carried_on(tuple(axes), points, count, rhythm, (0.0, 0.0, end)))  # type: ignore[arg-type]

    usual = float(vertical(np.array([STEP * (n + 20)]))[0]) * G
    assert asked(20, usual) == 20
    lowest = float(vertical(STEP * np.arange(64)).min()) * G  # the gap ends near there
    assert asked(20, lowest - 0.9 * MISFIT) == 20
    assert asked(20, lowest - 1.1 * MISFIT) == 0  # nothing like the bounce before
    assert LONGEST * 64 == 48
    assert asked(48, G) == 48 and asked(49, G) == 0
    assert asked(48, G, (62.0, 64.0)) == 0 and asked(48, G, (64.0, 62.0)) == 0
    assert asked(20, usual, points=60) == 0  # nothing that old is known
    assert asked(20, usual, (600.0, 64.0)) == 0


def test_turned_with_the_phone_it_is_the_same() -> None:
    """A fixed rotation turns what stands in the gap, and nothing else."""
    axes, n = rings(6.3)
    turn = Rotation.from_euler("xyz", [1.0, 0.3, -2.0])
    other = turn.apply(np.array(axes).T).T.tolist()
    end = np.array([0.3, -0.2, 1.1 * G])
    one = carried_on(tuple(axes), n, 25, (62.0, 64.0), tuple(end))  # type: ignore[arg-type]
    two = carried_on(tuple(other), n, 25, (62.0, 64.0), tuple(turn.apply(end)))  # type: ignore[arg-type]
    assert len(one) == 25
    assert np.abs(turn.apply(np.array(one)) - np.array(two)).max() < 1e-9


@pytest.mark.parametrize(("t", "points"), [(0.995, 0), (1.0, 0), (1.001, 1), (1.009, 1), (1.011, 2), (1.3401, 35)])
def test_cells_that_end_by_then(t: float, points: int) -> None:
    assert points_until(t, 1.0) == points
    assert math.isclose(STEP, 0.01)
