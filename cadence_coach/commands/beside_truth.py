"""A replay beside the truth of a simulated outing: lines for a person. The exact scores are in tests/benchmarks."""

from __future__ import annotations

from itertools import pairwise
from statistics import median
from typing import Any

from cadence_coach.commands.flight_table import ENDS, STARTS, columns
from cadence_coach.review.say import minutes
from cadence_coach.store.replay_json import Replayed

NEAR = 0.05
"""A pump is found when its onset is within this of a true one [s]."""
START_NEAR, END_NEAR = 1.0, 1.5
"""A flight is found when start and end are within these [s]."""


def pairs(truth: list[float], found: list[float], near: float) -> list[tuple[int, int]]:
    """Indexes of one-to-one pairs at most `near` apart; both lists rise. Greedy from the left, which is the largest
    matching for points on a line with one tolerance."""
    out, i, j = [], 0, 0
    while i < len(truth) and j < len(found):
        apart = found[j] - truth[i]
        if abs(apart) <= near:
            out.append((i, j))
            i, j = i + 1, j + 1
        elif apart > 0:
            i += 1
        else:
            j += 1
    return out


def truth_lines(found: Replayed, truth: dict[str, Any]) -> list[str]:
    """Each flight of the truth with the one found for it, what is left over on either side, then the pumps."""
    rows = [["flight", "", "start", "length", "pumps", "pumps/min", "started by", "ended by"]]
    left = list(found.flights)
    start = found.start_s
    for i, true in enumerate(truth["flights"]):
        onsets = [p["onset_s"] for p in truth["pumps"] if true["start_s"] <= p["onset_s"] <= true["end_s"]]
        rows.append([str(i + 1), "truth", minutes(true["start_s"] - start), _length(true["end_s"] - true["start_s"])])
        rows[-1] += [str(true["pumps"]), _cadence(onsets), STARTS[true["started_by"]], ENDS[true["ended_by"]]]
        match = next((f for f in left if _same(f.start + start, f.time + start, true)), None)
        if match is None:
            rows.append(["", "estimated", "", "", "", "", "not found", ""])
            continue
        left.remove(match)
        rows.append(_estimated(match))
    rows.extend(_estimated(f, "?") for f in left)
    cycles = [c for c in found.cycles() if c["flight"] is not None]
    true_onsets = sorted(p["onset_s"] for p in truth["pumps"])
    found_onsets = sorted(c["onset_s"] for c in cycles)
    matched = pairs(true_onsets, found_onsets, NEAR)
    line = f"Pumps: {len(matched)} of {len(true_onsets)} found within {NEAR * 1000:.0f} ms, "
    line += f"{len(found_onsets) - len(matched)} that were none"
    if matched:
        apart = [abs(found_onsets[j] - true_onsets[i]) for i, j in matched]
        late = [c["known_s"] - c["onset_s"] for c in cycles]
        line += (
            f"; onsets are off by {1000 * median(apart):.1f} ms and known after {1000 * median(late):.0f} ms (medians)"
        )
    return [*columns(rows, left=(1, 6, 7)), line + "."]


def _same(start: float, end: float, true: dict[str, Any]) -> bool:
    return abs(start - true["start_s"]) < START_NEAR and abs(end - true["end_s"]) < END_NEAR


def _estimated(f: Any, number: str = "") -> list[str]:
    first = [number, "estimated", minutes(f.start), _length(f.time - f.start), str(f.pumps), f"{60 * f.cadence:.0f}"]
    return [*first, STARTS[f.started_by], ENDS[f.ended_by]]


def _length(seconds: float) -> str:
    return f"{seconds:.1f} s"


def _cadence(onsets: list[float]) -> str:
    periods = [b - a for a, b in pairwise(onsets)]
    return f"{60 / median(periods):.0f}" if periods else "-"
