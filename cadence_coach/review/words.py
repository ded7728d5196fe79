"""Figures as words, the same in report, terminal and pasted text. Unknown is a dash, never a blank or a zero."""

from __future__ import annotations

import re
from datetime import datetime

from cadence_coach.review.figures import OutingFigures
from cadence_coach.review.flight import FlightFigures

NONE = "–"

STARTED = {"run_up": "run-up", "rope": "rope", "step": "step", "unknown": "unknown start"}
ENDED = {
    "fall": "fall",
    "touch_down": "touch-down",
    "coast_out": "coasted out",
    "gap": "hole in the data",
    "end_of_data": "recording ended",
    "unknown": "end unknown",
}
CUES = {
    "quicker": "quicker",
    "slower_bigger": "slower and bigger",
    "bigger": "bigger",
    "lighter": "lighter",
    "even_out": "even out",
    "shove_later": "shove later",
    "shove_sooner": "shove sooner",
    "speed_first": "speed first",
}


def span(seconds: float) -> str:
    """12 s, 4:05 min, 1:02 h."""
    if seconds < 100.0:
        return f"{seconds:.0f} s"
    if seconds < 3600.0:
        return f"{int(seconds // 60)}:{int(seconds % 60):02d} min"
    return f"{int(seconds // 3600)}:{int(seconds % 3600 // 60):02d} h"


def number(value: float | None, digits: int = 0, unit: str = "") -> str:
    return NONE if value is None else f"{value:.{digits}f}{unit and ' ' + unit}"


def percent(value: float | None, digits: int = 0) -> str:
    return number(None if value is None else 100.0 * value, digits, "%")


def per_minute(hz: float | None) -> str:
    return number(None if hz is None else 60.0 * hz, 0)


def course(f: FlightFigures) -> str:
    """Cadence early to late, one figure where there is only one: "98 → 91"."""
    if f.cadence_early_hz is None or f.cadence_late_hz is None:
        return per_minute(f.cadence_hz)
    return f"{per_minute(f.cadence_early_hz)} → {per_minute(f.cadence_late_hz)}"


def when(start_utc: str | None) -> str:
    """13 June 2026, 09:00 UTC."""
    try:
        at = datetime.fromisoformat((start_utc or "").replace("Z", "+00:00"))
    except ValueError:
        return "date unknown"
    return f"{at.day} {at:%B %Y, %H:%M} UTC"


def held_together(text: str) -> str:
    """A number and its unit stay on one line."""
    return re.sub(r"(?<=\d) (?=(?:%|s|g|W|m|cm|ms|min|m/s|kJ|h)(?![\w/]))", "\u00a0", text)


def cue(kind: str) -> str:
    return CUES.get(kind, kind.replace("_", " "))


def kit(figures: OutingFigures) -> str:
    return " · ".join(
        part for part in (figures.rider, figures.foil, figures.water and f"{figures.water} water") if part
    )


def plain_text(figures: OutingFigures, says: str, why: tuple[str, ...]) -> str:
    """The outing as a few lines to paste into a message."""
    lines = [f"On the water, {when(figures.start_utc)}" + (f" ({kit(figures)})" if kit(figures) else "")]
    tries = sum(s.tries for s in figures.starts.values())
    lines.append(
        f"{tries} tries, {len(figures.flights)} flights, {figures.pumps} pumps, {span(figures.own_s)} on your own"
    )
    if figures.best is not None:
        best = figures.flights[figures.best]
        lines.append(
            f"Best: {span(best.own_s)}, {best.pumps} pumps at {course(best)} a minute, ended by {ENDED[best.ended_by]}"
        )
    lines.append(f"Work on: {says}")
    lines += [f"- {line}" for line in why]
    return "\n".join(lines) + "\n"
