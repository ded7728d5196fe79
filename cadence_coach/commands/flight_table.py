"""What a replay found, as lines for a person: a table of flights, the tries that were none, what was not used."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

from cadence_coach.core.units import per_minute
from cadence_coach.review.say import minutes
from cadence_coach.store.outing import Outing
from cadence_coach.store.replay_json import Replayed

STARTS = {"run_up": "run-up", "rope": "rope", "step": "step", "unknown": "unknown"}
ENDS = {
    "fall": "fall",
    "touch_down": "touch-down",
    "coast_out": "coasted out",
    "gap": "gap in the data",
    "end_of_data": "recording ended",
    "unknown": "unknown",
}
FAULTS = {
    "bad_value": "values that are no number",
    "repeated_time": "repeated times",
    "backward_time": "times going backward",
    "out_of_range": "values beyond the sensor's range",
    "silent": "silences of the sensor",
    "stuck": "stuck axes",
    "rate_halved": "drops of the sample rate",
    "clock_jump": "jumps of the clock",
    "speed_lost": "losses of speed",
    "late_rotation": "rotations that came late",
}


def columns(rows: Sequence[Sequence[str]], left: Sequence[int] = ()) -> list[str]:
    """Lines of equal columns; numbers to the right, the columns `left` to the left."""
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    return [
        "  ".join(
            c.ljust(w) if i in left else c.rjust(w) for i, (c, w) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]


def flight_lines(found: Replayed) -> list[str]:
    """One line a flight; times from the start of the recording."""
    if not found.flights:
        return ["No flight."]
    peaks: dict[int, list[float]] = {}
    for cycle in found.cycles():
        if cycle["flight"] is not None and cycle["peak_g"] is not None:
            peaks.setdefault(cycle["flight"], []).append(cycle["peak_g"])
    rows = [
        [
            "flight",
            "start",
            "length",
            "pumps",
            "pumps/min",
            "push share",
            "peak",
            "steadiness",
            "started by",
            "ended by",
        ]
    ]
    for f in found.flights:
        peak = f"{median(peaks[f.flight]):.2f} g" if f.flight in peaks else "-"
        rows.append([str(f.flight + 1), minutes(f.start), f"{f.time - f.start:.1f} s", str(f.pumps)])
        rows[-1] += [_known(per_minute(f.cadence), ".0f"), _known(100 * f.push_share, ".0f", " %"), peak]
        rows[-1] += [_known(100 * f.steadiness, ".1f", " %"), STARTS[f.started_by], ENDS[f.ended_by]]
    return columns(rows, left=(8, 9))


def attempt_lines(found: Replayed) -> list[str]:
    """The tries that were no flight."""
    tries = [a for a in found.attempts if a.flight is None]
    if not tries:
        return []
    rows = [["try", "start", "pumps", "landing", "landing to push", "started by", "ended by"]]
    for a in tries:
        rows.append([str(a.attempt + 1), minutes(a.start), str(a.pumps), _known(a.landing_g, ".1f", " g")])
        rows[-1] += [_known(a.landing_to_push_s, ".2f", " s"), STARTS[a.started_by], ENDS[a.ended_by]]
    return ["Tries that were no flight:", *columns(rows, left=(5, 6))]


def unused_line(found: Replayed | Outing, notes: Sequence[str]) -> str:
    """What was skipped or not used, and why, in one line."""
    counts: dict[str, int] = {}
    for fault in found.faults:
        counts[fault.kind] = max(counts.get(fault.kind, 0), fault.count)
    parts = [f"{FAULTS.get(kind, kind.replace('_', ' '))} ({count})" for kind, count in counts.items()]
    if found.gaps:
        missing = sum(gap.end - gap.time for gap in found.gaps)
        parts.append(f"{len(found.gaps)} gap{'s' * (len(found.gaps) > 1)} in the data ({missing:.1f} s)")
    parts.extend(notes)
    return f"Skipped or not used: {'; '.join(parts)}." if parts else "Nothing was skipped; every row was used."


def _known(x: float | None, form: str, unit: str = "") -> str:
    return "-" if x is None or x != x else f"{x:{form}}{unit}"
