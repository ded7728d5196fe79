"""python -m tests.benchmarks [PART ...]        all parts, some fifteen minutes; or only those named

Every figure stands beside a general-purpose alternative in the same run. CADENCE_COACH_OPEN_DATA names open recordings
of people; CADENCE_COACH_LONG=1: memory over ten simulated hours instead of twenty minutes.
"""

from __future__ import annotations

import sys
import time
from importlib import import_module

from .cost import machine

PARTS = {
    "accuracy": "Accuracy by condition",
    "harder": "Simulated riders on harder days",
    "drawn": "Drawn waveforms instead of simulated riders",
    "lobes": "Two lobes: a third way to make outings, that nothing is learned from",
    "foreign": "Foreign: outings by a maker who had seen none of the others",
    "people": "Open recordings of people",
    "cost": "CPU time and memory",
    "lateness": "From a row to its sound",
    "prediction": "The next onset",
    "audio": "Clicks",
    "looking": "Looking back",
    "screen": "The app's screen",
}
"""Module to title, in the order they are run."""


def main(asked: list[str]) -> int:
    unknown = [part for part in asked if part not in PARTS]
    if unknown:
        print(f"no part {unknown[0]!r}; choose from {', '.join(PARTS)}", file=sys.stderr)
        return 2
    began, short = time.monotonic(), []
    print(f"Machine: {machine()}", flush=True)
    for part in asked or PARTS:
        text, missing = import_module(f"{__package__}.{part}").report()
        short += missing
        print(f"\n## {PARTS[part]}\n\n{text}", flush=True)
    print("\nShort of the goals: " + ("; ".join(short) if short else "nothing"))
    print(f"({time.monotonic() - began:.0f} s)")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
