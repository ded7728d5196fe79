"""How `live` ends: the outing and its last flight in a few lines, in the words that report and tables use."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from cadence_coach.commands.flight_table import clock
from cadence_coach.commands.naming import count


def end_lines(shown: Any) -> list[str]:
    """Of a last snapshot: how long, what was flown, the last flight's figures, trouble, and the file."""
    flown = f"{count(shown.flights, 'flight')} in {count(shown.attempts, 'attempt')}"
    longest = f", longest {shown.best_s:.0f} s" if shown.best_s else ""
    lines = [f"{clock(shown.time_s)} min on the water: {flown}{longest}."]
    figures = {name: value for name, value in (shown.summary or {}).get("figures") or [] if value is not None}
    if figures:
        lines.append("Last flight: " + ", ".join(_told(figures)) + ".")
    lines += [text for text in (shown.store, shown.sink_reason and f"No sound: {shown.sink_reason}") if text]
    return [*lines, *([f"Kept: {shown.file}"] if shown.file else [])]


def _told(f: Mapping[str, Any]) -> list[str]:
    """The five figures of core.word, each as one phrase; what is not known is left out."""
    best = " (best today)" if f.get("best_today") else ""
    said = [f"{f['seconds']:.0f} s on your own{best}", count(round(f["pumps"]), "pump")]
    if "starts_held" in f:
        said.append(f"{f['starts_held']:.0f} of the last {f['starts_of']:.0f} starts held")
    if "cadence_early_per_min" in f:
        said.append(f"cadence {f['cadence_early_per_min']:.0f} to {f['cadence_late_per_min']:.0f} a minute")
    elif "cadence_per_min" in f:
        said.append(f"cadence {f['cadence_per_min']:.0f} a minute")
    if "size_percent" in f:
        needed = f" ({f['size_needed_percent']:.0f} % needed)" if "size_needed_percent" in f else ""
        said.append(f"size {f['size_percent']:.0f} % of body weight{needed}")
    if "speed_early_m_s" in f:
        said.append(f"speed {f['speed_early_m_s']:.1f} to {f['speed_late_m_s']:.1f} m/s")
    if "steadiness_percent" in f:
        said.append(f"steadiness {f['steadiness_percent']:.1f} %")
    if "landing_to_push_s" in f:
        said.append(f"landing to push {f['landing_to_push_s']:.2f} s")
    return said
