"""python -m tests.benchmarks        accuracy, open recordings, cost; a few minutes

CADENCE_COACH_LONG=1: memory over ten simulated hours instead of twenty minutes.
"""

from __future__ import annotations

import os
import sys
import time

import numpy as np

from . import accuracy, cost

COST_GOAL = 10.0
"""us a sample, the whole live path."""


def table(head: list[str], rows: list[list[str]]) -> str:
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


def short_of(s: accuracy.Score) -> list[str]:
    """Which goals the whole falls short of."""

    def at(values: list[float], q: float) -> float:
        v = np.array(values)
        return float(np.percentile(v[np.isfinite(v)], q))

    found = {
        f"F1 at 50 ms {s.f50:.4f}, goal 0.995": s.f50 >= 0.995,
        f"F1 at 25 ms {s.f25:.4f}, goal 0.99": s.f25 >= 0.99,
        f"onset median {1e3 * at(s.onset, 50):.1f} ms, goal 3.5": at(s.onset, 50) <= 0.0035,
        f"onset p95 {1e3 * at(s.onset, 95):.1f} ms, goal 11": at(s.onset, 95) <= 0.011,
        f"push end median {1e3 * at(s.end, 50):.1f} ms, goal 3.5": at(s.end, 50) <= 0.0035,
        f"push end p95 {1e3 * at(s.end, 95):.1f} ms, goal 11": at(s.end, 95) <= 0.011,
        f"known p95 {1e3 * at(s.late, 95):.0f} ms, goal 60": at(s.late, 95) <= 0.060,
        f"travel {100 * at(s.travel, 50):.1f} %, goal 8": at(s.travel, 50) <= 0.08,
        f"flights {s.right} of {s.flights}, {s.told - s.right} wrong; goal all, none": s.right == s.flights == s.told,
    }
    return [text for text, met in found.items() if not met]


def main() -> None:
    began = time.monotonic()
    print(f"Machine: {cost.machine()}")
    scores = accuracy.measure(lambda kind: print(f"... {kind}", file=sys.stderr))
    print(f"\nSimulated riders, seeds from {accuracy.FIRST_SEED}, 50/100/200 Hz; errors median / p95\n")
    rows = [[f"**{way}**", *by["all"].cells()] for way, by in scores.items()]
    rows += [[kind, *s.cells()] for kind, s in scores["ours"].items() if kind != "all"]
    print(table(["", *accuracy.HEAD], rows))
    missing = short_of(scores["ours"]["all"])
    if os.environ.get("CADENCE_COACH_OPEN_DATA"):
        from tests.core import test_open_data as people

        walk, run = people.walking(), people.running()
        print("\nOpen recordings of people (goal in brackets)\n")
        flights = sum(len(people.replayed(n)[1]["flights"]) for k in ("walk", "run") for n in people.names(k))
        print(table(["walking: count", "cadence", "F1 100 ms", "running: push time SD", "flights"], [[
            f"{walk['count_percent']:.1f} % (1.5)", f"{walk['cadence_per_min']:.2f}/min (1.5)",
            f"{walk['f1']:.3f} (0.92)", f"{run['push_sd_ms']:.1f} ms (8)", f"{flights} (0)",
        ]]))  # fmt: skip
    else:
        print("\nCADENCE_COACH_OPEN_DATA is not set: open recordings of people were not tried.")
    print("\nCPU time, us a sample\n")
    costs = []
    for rate in (50.0, 100.0, 200.0):
        plain = cost.stream(rate, gyro=False)
        ours = cost.engine_us(plain)
        turned = cost.engine_us(cost.stream(rate))
        costs.append([f"{rate:.0f} Hz", f"{ours:.1f}", f"{turned:.1f}", f"{cost.scipy_us(plain, rate):.1f}"])
        if ours > COST_GOAL:
            missing.append(f"{ours:.1f} us a sample at {rate:.0f} Hz, goal 10")
    print(table(["rate", "whole engine with coach", "with gyroscope rows", "scipy sosfilt alone, blocks of 20"], costs))
    hours = cost.HOURS if os.environ.get("CADENCE_COACH_LONG") else 1 / 3
    gone, first, last = cost.memory(hours)
    print(f"\nMemory of the engine over {gone:.2f} h at 50 Hz: {first:.0f} kB, at the end {last:.0f} kB")
    print("\nShort of the goals: " + ("; ".join(missing) if missing else "nothing"))
    print(f"({time.monotonic() - began:.0f} s)")


if __name__ == "__main__":
    main()
