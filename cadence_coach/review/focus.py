"""The focus of the next outing, chosen in look-back, kept in the data folder until the next look-back changes it."""

from __future__ import annotations

from pathlib import Path

from cadence_coach.core.settings import FOCI
from cadence_coach.store.folders import home

NAME = "focus.txt"


def next_focus(folder: Path | None = None) -> str | None:
    """The focus that was taken, None where none was; a file that says something else is as good as none."""
    try:
        said = ((folder or home()) / NAME).read_text("utf-8").strip()
    except OSError:
        return None
    return said if said in FOCI else None


def set_focus(focus: str | None, folder: Path | None = None) -> None:
    path = (folder or home()) / NAME
    if focus is None:
        path.unlink(missing_ok=True)
    else:
        path.write_text(focus + "\n", encoding="utf-8")
