"""The focus of a rider's next outing, chosen in look-back, kept in the data folder until the next look-back changes it.

A line a rider, the focus and then the name: several may share a machine. Without a name it is whose profile has none.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from cadence_coach.core.settings import FOCI
from cadence_coach.foil.profile import WORDS, demo_profile
from cadence_coach.store.folders import home

NAME = "focus.txt"


def rider_of(profile: Mapping[str, Any] | None) -> str:
    """Whose focus it is, by the table of a profile; "" where that names nobody, or the invented rider who stands in."""
    rider = (profile or {}).get("rider")
    name = " ".join(str(rider.get("name", "")).split()) if isinstance(rider, Mapping) else ""
    return "" if name in (WORDS["rider"]["name"], demo_profile().rider) else name


def next_focus(rider: str, folder: Path | None = None) -> str | None:
    """The focus that was taken, None where none was; a line that says something else is as good as none."""
    said = _kept(folder).get(rider)
    return said if said in FOCI else None


def set_focus(focus: str | None, rider: str, folder: Path | None = None) -> None:
    kept = _kept(folder)
    kept.pop(rider, None)
    if focus is not None:
        kept[rider] = focus
    path = (folder or home()) / NAME
    if kept:
        path.write_text("".join(f"{word} {name}".strip() + "\n" for name, word in kept.items()), encoding="utf-8")
    else:
        path.unlink(missing_ok=True)


def _kept(folder: Path | None) -> dict[str, str]:
    """Rider to focus."""
    try:
        lines = ((folder or home()) / NAME).read_text("utf-8").splitlines()
    except (OSError, UnicodeDecodeError):
        return {}
    words = (line.strip().partition(" ") for line in lines)
    return {name: word for word, _, name in words if word}
