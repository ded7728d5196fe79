"""The detector on outings of two lobes (tests/makes/lobes.py), of which nothing is learned."""

from __future__ import annotations

from collections.abc import Iterator

from cadence_coach.sim import SimulatedOuting
from tests.makes.lobes import RATES, lobed_outing

from .accuracy import HEAD, measure, rows, short_of
from .tables import table

FIRST_SEED, OUTINGS = 610_000, 48


def unseen() -> Iterator[tuple[str, SimulatedOuting]]:
    for i in range(OUTINGS):
        yield "two lobes", lobed_outing(FIRST_SEED + i, RATES[i % len(RATES)])


def report() -> tuple[str, list[str]]:
    scores = measure(unseen(), lambda _: None)
    for by in scores.values():
        del by["two lobes"]  # the same as all
    del scores["ours, no speed"]  # there is none
    text = f"{OUTINGS} outings, seeds from {FIRST_SEED}, 50/100/200 Hz, no speed, no gyroscope\n\n"
    return text + table(["", *HEAD], rows(scores)), [f"two lobes: {t}" for t in short_of(scores["ours"]["all"])]
