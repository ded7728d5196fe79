"""What the app remembers between two starts: one small JSON file in the data folder, replaced in one step.

A file that cannot be read is as good as none: the app begins with its defaults and says nothing.
"""

from __future__ import annotations

import contextlib
import json
import os
from pathlib import Path
from typing import Any

import attrs

from cadence_coach.app.theme import SCALES, THEMES
from cadence_coach.app.words import LANGUAGES
from cadence_coach.core.settings import LEADS, LEVELS, STARTS
from cadence_coach.store.folders import home

FILE = "app.json"
PROFILE = "me.toml"


def _one_of(allowed: tuple[Any, ...]) -> Any:
    def check(_: Any, attribute: Any, value: Any) -> None:
        if value not in allowed:
            raise ValueError(f"{attribute.name} is {value!r}")

    return check


@attrs.frozen
class State:
    """Choices with a sensible default each. `kept` is a room for whatever a screen wants to find again (plain
    values)."""

    lang: str = attrs.field(default="en", validator=_one_of(tuple(LANGUAGES)))
    theme: str = attrs.field(default="sun", validator=_one_of(THEMES))
    scale: float = attrs.field(default=1.0, validator=_one_of(SCALES))
    start: str = attrs.field(default="dock", validator=_one_of(STARTS))
    lead: str = attrs.field(default="rider", validator=_one_of(LEADS))
    level: str = attrs.field(default="full", validator=_one_of(LEVELS))
    awake: bool = attrs.field(default=True, validator=attrs.validators.instance_of(bool))
    """Whether the screen stays on while riding."""
    kept: dict[str, Any] = attrs.field(factory=dict, validator=attrs.validators.instance_of(dict))


def load(folder: Path | None = None, lang: str = "en") -> State:
    """What was kept. Each value that is none is left at its default; `lang` is the phone's own, for the first start."""
    state = State(lang=lang if lang in LANGUAGES else "en")
    try:
        told = json.loads(((folder or home()) / FILE).read_text("utf-8"))
    except (OSError, ValueError, RecursionError):
        return state
    for name in attrs.fields_dict(State):
        if isinstance(told, dict) and name in told:
            with contextlib.suppress(ValueError, TypeError):
                state = attrs.evolve(state, **{name: told[name]})
    return state


def save(state: State, folder: Path | None = None) -> None:
    write(((folder or home()) / FILE), json.dumps(attrs.asdict(state), indent=1))


def write(path: Path, text: str) -> None:
    """Whole or not at all, also when the phone dies in the middle."""
    new = path.with_name(path.name + ".new")
    with open(new, "w", encoding="utf-8") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    os.replace(new, path)


def profile_path(folder: Path | None = None) -> Path | None:
    """The rider's own profile; None before it was filled in."""
    path = (folder or home()) / PROFILE
    return path if path.is_file() else None
