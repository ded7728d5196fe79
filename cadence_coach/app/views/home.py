"""The first page: where one can go."""

from __future__ import annotations

from cadence_coach.app.link import Line
from cadence_coach.app.words import Words

ROWS = ("gear", "land", "back", "ladder", "season", "phone")
LEADS_TO = {"gear": "gear", "land": "land", "back": "outings", "ladder": "ladder", "season": "season", "phone": "phone"}
"""Row of the page -> name of a screen."""


def rows(words: Words, known: frozenset[str], gear: str) -> tuple[tuple[str, str, str], ...]:
    """(screen, text, a word more) of each row whose screen there is. gear: rider and foil in a line."""
    return tuple(
        (LEADS_TO[row], words(f"home.{row}"), gear if row == "gear" else words(f"home.{row}_sub"))
        for row in ROWS
        if LEADS_TO[row] in known
    )


def top(line: Line, words: Words) -> tuple[str, str, str]:
    """(screen, text, a word more) of the row that stands first, by the line to the engine."""
    trains = line.snapshot is not None and line.snapshot.land is not None
    if line.kind in ("here", "coming"):
        if trains:
            return ("land", words("home.training"), words("home.riding_sub"))
        return ("water", words("home.riding"), words("home.riding_sub"))
    if line.kind == "ended" and trains:
        return ("land", words("home.trained"), words("home.trained_sub"))
    if line.kind in ("gone", "failed", "ended"):
        return ("water", words(f"home.{line.kind}"), words(f"home.{line.kind}_sub"))
    return ("before", words("home.ride"), words("home.ride_sub"))
