"""How `live` ends: the outing and its last flight in a few lines, in the words that report and tables use."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from cadence_coach.commands.naming import count
from cadence_coach.review.say import minutes, span

PHRASES = (
    ("{starts_held:.0f} of the last {starts_of:.0f} starts held",),
    (
        "cadence {cadence_early_per_min:.0f} to {cadence_late_per_min:.0f} a minute",
        "cadence {cadence_per_min:.0f} a minute",
    ),
    (
        "size {size_percent:.0f} % of body weight ({size_needed_percent:.0f} % needed)",
        "size {size_percent:.0f} % of body weight",
    ),
    ("speed {speed_early_m_s:.1f} to {speed_late_m_s:.1f} m/s",),
    ("steadiness {steadiness_percent:.1f} %",),
    ("landing to push {landing_to_push_s:.2f} s",),
)
"""Of each the first whose figures are all known."""


def end_lines(shown: Any) -> list[str]:
    """Of a last snapshot: how long, what was flown, the last flight's figures, trouble, and the file."""
    flown = f"{count(shown.flights, 'flight')} in {count(shown.attempts, 'try', 'tries')}"
    longest = f", longest {span(shown.best_s)}" if shown.best_s else ""
    lines = [f"{minutes(shown.time_s)} min on the water: {flown}{longest}."]
    figures = {name: value for name, value in (shown.summary or {}).get("figures") or [] if value is not None}
    if figures:
        lines.append("Last flight: " + ", ".join(_told(figures, shown.start)) + ".")
    lines += [text for text in (shown.store, shown.sink_reason and f"No sound: {shown.sink_reason}") if text]
    return [*lines, *([f"Kept: {shown.file}"] if shown.file else [])]


def _told(f: Mapping[str, Any], start: str) -> list[str]:
    """The five figures of core.word, each as one phrase; what is not known is left out. Nothing of a rope drill is
    one's own."""
    where = "on the rope" if start == "rope_drill" else "on your own"
    best = " (best today)" if f.get("best_today") else ""
    said = [f"{span(f['seconds'])} {where}{best}", count(round(f["pumps"]), "pump")]
    for one in PHRASES:
        said += [text.format(**f) for text in one if f.keys() >= set(re.findall(r"{(\w+)", text))][:1]
    return said
