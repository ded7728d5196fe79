"""Open recordings of people on foot: steps that others counted, cadence, push time, and no flight among them."""

from __future__ import annotations

import os

from .tables import table


def report() -> tuple[str, list[str]]:
    if not os.environ.get("CADENCE_COACH_OPEN_DATA"):
        return "CADENCE_COACH_OPEN_DATA is not set: open recordings of people were not tried.", []
    from tests.core import test_open_data as people

    walk, run = people.walking(), people.running()
    flights = sum(len(people.replayed(n)[1]["flights"]) for k in ("walk", "run") for n in people.names(k))
    rows = [[
        f"{walk['count_percent']:.1f} % (1.5)", f"{walk['cadence_per_min']:.2f}/min (1.5)",
        f"{walk['f1']:.3f} (0.92)", f"{run['push_sd_ms']:.1f} ms (8)", f"{flights} (0)",
    ]]  # fmt: skip
    head = ["walking: count", "cadence", "F1 100 ms", "running: push time SD", "flights"]
    return "Goal in brackets.\n\n" + table(head, rows), []
