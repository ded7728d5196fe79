"""The detector on drawn outings (tests/makes/drawn.py) of seeds that no weights were fitted to."""

from __future__ import annotations

import sys
from collections.abc import Iterator

from cadence_coach.sim import SimulatedOuting
from tests.makes.drawn import KINDS, RATES, drawn_outing

from .accuracy import HEAD, measure, rows, short_of
from .tables import table

FIRST_SEED, SEEDS = 95_000, 5


def unseen() -> Iterator[tuple[str, SimulatedOuting]]:
    """The outings that are scored, each with its kind: all rates, with and without gyroscope and speed."""
    for k, kind in enumerate(KINDS):
        for i in range(SEEDS):
            gyro, speed = bool((i + k) % 2), i % 2 == 0
            yield kind, drawn_outing(FIRST_SEED + i, kind, RATES[(i + k) % 3], gyro=gyro, speed=speed)


def report() -> tuple[str, list[str]]:
    scores = measure(unseen(), lambda kind: print(f"... drawn, {kind}", file=sys.stderr))
    text = f"{SEEDS * len(KINDS)} drawn outings, seeds from {FIRST_SEED}, 50/100/200 Hz; errors median / p95\n\n"
    short = short_of(scores["ours"]["all"])
    return text + table(["", *HEAD], rows(scores)), [f"drawn: {goal}" for goal in short]
