"""The detector on simulated riders of harder days than their kinds have: sensor, water and style at their worst."""

from __future__ import annotations

import sys
from collections.abc import Iterator

from cadence_coach.sim import SimulatedOuting, simulate_outing

from .accuracy import HEAD, OUTINGS, RATES, measure, rows, short_of
from .tables import table

FIRST_SEED, LAPS = 493_500, 12
HARSH = (0.5, 0.8, 1.0)


def unseen() -> Iterator[tuple[str, SimulatedOuting]]:
    """Each kind LAPS times, each lap another rate and harshness."""
    for i in range(LAPS):
        for k, kind in enumerate(OUTINGS):
            yield kind, simulate_outing(FIRST_SEED + 10 * i + k, kind, RATES[i % len(RATES)], harsh=HARSH[i % 3])


def report() -> tuple[str, list[str]]:
    scores = measure(unseen(), lambda kind: print(f"... harder, {kind}", file=sys.stderr))
    text = f"{LAPS * len(OUTINGS)} outings, seeds from {FIRST_SEED}, 50/100/200 Hz; errors median / p95\n\n"
    return text + table(["", *HEAD], rows(scores)), [f"harder: {goal}" for goal in short_of(scores["ours"]["all"])]
