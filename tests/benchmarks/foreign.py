"""The detector on foreign outings (tests/makes/foreign.py): its judge. Nothing may be chosen by what this says."""

from __future__ import annotations

import sys
from collections.abc import Iterator

from cadence_coach.sim import SimulatedOuting
from tests.makes.foreign import MIX, foreign_outing, kind_of

from .accuracy import HEAD, measure, short_of
from .tables import table

FIRST_SEED, OUTINGS = 720_000, 60


def unseen() -> Iterator[tuple[str, SimulatedOuting]]:
    for i in range(OUTINGS):
        yield kind_of(i), foreign_outing(FIRST_SEED + i, i)


def report() -> tuple[str, list[str]]:
    scores = measure(unseen(), lambda kind: print(f"... foreign, {kind}", file=sys.stderr))
    rows = [[f"**{way}**", *by["all"].cells()] for way, by in scores.items()]
    for kind in dict.fromkeys(MIX):
        rows += [[kind + way.removeprefix("ours"), *scores[way][kind].cells()] for way in ("ours", "ours, no speed")]
    text = f"{OUTINGS} outings, seeds from {FIRST_SEED}, 50/100/200 Hz, a gyroscope in half, speed in three quarters;"
    return f"{text} errors median / p95\n\n" + table(["", *HEAD], rows), [
        f"foreign: {goal}" for goal in short_of(scores["ours"]["all"])
    ]
