"""app: the screens, in a window."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated

import typer


def app(
    source: Annotated[
        str | None, typer.Option(help="What is ridden: sim:KIND:SEED or a recording.", metavar="SOURCE")
    ] = None,
    attach: Annotated[bool, typer.Option("--attach", help="Show the outing that `live --serve` is riding.")] = False,
    size: Annotated[
        str | None, typer.Option(help="Size of the window: phone, or WIDTHxHEIGHT.", metavar="SIZE")
    ] = None,
    lang: Annotated[
        str | None, typer.Option(help="en or de, instead of what was chosen there.", metavar="LANG")
    ] = None,
    theme: Annotated[
        str | None, typer.Option(help="sun or dark, instead of what was chosen there.", metavar="THEME")
    ] = None,
    sound: Annotated[str, typer.Option(help="device, device:NAME, wav:FILE or silent.", metavar="OUTPUT")] = "device",
) -> None:
    """Set up on shore, ride, look back: the app of the phone in a window, with a simulated rider or a recording.

    The coach runs in a process of its own: closing the window does not end the outing, and the app comes back to it.

    Example: cadence-coach app --source sim:calm:7 --size phone
    """
    import os

    from cadence_coach.app import run
    from cadence_coach.app.theme import THEMES
    from cadence_coach.app.words import LANGUAGES
    from cadence_coach.commands.screen import headless
    from cadence_coach.errors import CouldNot, Refused

    for what, value, allowed in (("--lang", lang, LANGUAGES), ("--theme", theme, THEMES)):
        if value is not None and value not in allowed:
            raise Refused(f"{what} {value}: choose one of {', '.join(allowed)}")
    if attach and source is not None:
        raise Refused("--attach shows an outing that has its source already; leave out one of the two")
    if source is not None:
        source = _checked(source)
    window = None if size is None else _size(size)
    if headless() and not os.environ.get("SDL_VIDEODRIVER"):
        raise CouldNot("no screen here: neither DISPLAY nor WAYLAND_DISPLAY is set; type it on the desktop itself")
    run(source=source, sound=sound, attach=attach, size=window, lang=lang, look=theme)


def _checked(source: str) -> str:
    """The source as it will be opened later, looked at now: a mistake is told before a window opens."""
    from cadence_coach.commands.naming import look_at
    from cadence_coach.errors import Refused
    from cadence_coach.sources.simulated import DEMO

    kind, _, rest = source.partition(":")
    if kind == "phone":
        raise Refused("a phone's sensors are on the phone; give sim:KIND:SEED or a recording")
    if kind == "sim" and not rest:
        source = f"sim:{DEMO}"
    look_at(source)
    if kind == "sim":
        return source
    return str(Path(rest if kind == "recording" else source).resolve())


def _size(text: str) -> tuple[int, int]:
    from cadence_coach.app import SIZES
    from cadence_coach.errors import Refused

    if text in SIZES:
        return SIZES[text]
    found = re.fullmatch(r"(\d{3,5})x(\d{3,5})", text)
    if not found or not all(320 <= int(n) <= 8000 for n in found.groups()):
        raise Refused(f"--size {text}: give phone, or WIDTHxHEIGHT with 320 to 8000 each")
    return int(found[1]), int(found[2])
