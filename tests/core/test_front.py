"""The hot path's one loop against the same written plainly: the same events, bit for bit."""

from __future__ import annotations

import math
import random
from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cadence_coach.core import engine as tied
from cadence_coach.core.afoot import Afoot
from cadence_coach.core.cycles import CycleDetector
from cadence_coach.core.engine import Engine
from cadence_coach.core.events import ACCEL, FIX, Event, Row
from cadence_coach.core.flights import FlightFinder
from cadence_coach.core.motion import Motion
from cadence_coach.core.slaps import SlapFinder
from cadence_coach.sim import simulate_outing
from cadence_coach.sources.simulated import rows_of

from .plain import PlainFront


def rows(kind: str, rate: float, gyro: bool, seed: int = 17) -> list[Row]:
    outing = simulate_outing(seed, kind, rate)
    return [r for part in rows_of(outing.accel, outing.gyro if gyro else None, outing.fixes) for r in part]


def events(stream: list[Row], sizes: list[int], plain: bool = False) -> list[Event | float]:
    """All events of a stream cut into lists of these sizes, over and over; then the mean that slaps stand out of."""
    with pytest.MonkeyPatch.context() as patch:
        if plain:
            patch.setattr(tied, "Front", PlainFront)
        engine = Engine()
    out, at, turn = [], 0, 0
    while at < len(stream):
        size = sizes[turn % len(sizes)]
        engine.receive(stream[at : at + size])
        out += engine.events()
        at, turn = at + size, turn + 1
    engine.end()
    return [*out, *engine.events(), engine._slaps.mean]


@pytest.mark.parametrize(
    ("kind", "rate", "gyro"),
    [("mixed", 50.0, True), ("rough", 100.0, False), ("landwalk", 200.0, True), ("swell", 400.0, False)],
)
def test_the_loop_is_the_plain_path(kind: str, rate: float, gyro: bool) -> None:
    stream = rows(kind, rate, gyro)
    got = events(stream, [20])
    assert len(got) > 100
    assert list(map(repr, got)) == list(map(repr, events(stream, [20], plain=True)))


def test_a_part_is_shown_the_points_that_matter_alone() -> None:
    """Shares of the grid points of half a minute on land and half a minute in flight that a part is asked about: what
    makes the loop quick. Regression values, rounded up; a bound drawn too wide changes no event, but this."""
    shares = {
        (CycleDetector, "point"): 0.2,
        (Afoot, "point"): 0.05,
        (Motion, "settle"): 0.02,
        (Motion, "extreme"): 0.1,
        (FlightFinder, "look"): 0.002,
        (SlapFinder, "look"): 0.06,
    }
    stream, asked = [*rows("landwalk", 50.0, False)[:1500], *rows("calm", 50.0, False)[-3000:]], Counter()

    def counting(part: type, name: str):  # type: ignore[no-untyped-def]
        real = getattr(part, name)

        def counted(*values):  # type: ignore[no-untyped-def]
            asked[part, name] += 1
            return real(*values)

        return counted

    with pytest.MonkeyPatch.context() as patch:
        for part, name in shares:
            patch.setattr(part, name, counting(part, name))
        events(stream, [100])
    points = 100.0 * 90
    never = {(FlightFinder, "look")}  # the detector's own word comes first
    assert all((asked[key] > 0 or key in never) and asked[key] <= share * points for key, share in shares.items())


def spoilt(stream: list[Row], seed: int) -> list[Row]:
    """With what sensors do: lost stretches, broken numbers, stamps that repeat, go back, leap, an axis that sticks."""
    rng, out, by = random.Random(seed), [], 0.0
    stuck: float | None = None
    for row in stream:
        kind, t, *rest = row
        luck = rng.random()
        if luck < 0.002:
            by += rng.choice([0.05, 0.2, 0.7, 1.5, 30.0, 5000.0, -0.4, -90.0])
        if luck > 0.999:
            stuck = rest[0] if stuck is None else None
        if kind == ACCEL and stuck is not None:
            rest[0] = stuck
        if 0.002 < luck < 0.006:
            rest[rng.randrange(3)] = rng.choice([math.nan, math.inf, 1e5])
        at = t + by + (rng.choice([math.nan, -0.3, 1e7]) if 0.006 < luck < 0.009 else 0.0)
        if not 0.009 < luck < 0.02:
            out.append((kind, at, at - 0.1, *rest[1:]) if kind == FIX else (kind, at, *rest))
    return out


@settings(max_examples=12, deadline=None)
@given(seed=st.integers(0, 2**31), sizes=st.lists(st.integers(1, 90), min_size=1, max_size=5))
def test_trouble_and_cutting_do_not_part_them(seed: int, sizes: list[int]) -> None:
    stream = spoilt(SHORT[:6000], seed)
    assert list(map(repr, events(stream, sizes))) == list(map(repr, events(stream, [64], plain=True)))


SHORT = rows("short", 50.0, True)
