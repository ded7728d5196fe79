"""Files that commands write, whole or not at all, the folders they lie in, and the bar while they are made; the console
that shows text as it is."""

from __future__ import annotations

import contextlib
import errno
import os
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cadence_coach.errors import CouldNot, Refused
from cadence_coach.store.beside import beside, into_place

if TYPE_CHECKING:
    from rich.console import Console
    from rich.progress import Progress


def console(stderr: bool = False) -> Console:
    """A console that takes text as it is: names, files and devices may hold [brackets] or :colons:."""
    from rich.console import Console

    return Console(stderr=stderr, markup=False, emoji=False, highlight=False)


def bar(*columns: Any) -> Progress:
    """A progress bar on stderr that goes when it is done, and leaves no trace where nobody watches."""
    from rich.progress import Progress

    screen = console(stderr=True)
    return Progress(*columns, console=screen, transient=True, disable=not screen.is_terminal)


def folder_at(path: Path, option: str) -> Path:
    """The folder, made where it is not there yet. Raises Refused or CouldNot, with the option that named it."""
    if path.exists() and not path.is_dir():
        raise Refused(f"{path}: is a file; give a folder for {option}")
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise CouldNot(f"{path}: no folder can be made there ({error.strerror}); choose another for {option}") from None
    return path


def as_wav(path: Path, option: str) -> Path:
    """The path, Refused where its name promises another format than the one that is written."""
    if path.suffix.lower() != ".wav":
        raise Refused(f"{option} {path}: what is written is a WAV; give a name that ends in .wav")
    return path


RECORDED = tuple(f"{name}.csv{packed}" for name in ("accel", "gyro", "speed") for packed in ("", ".gz"))
"""What a recording's folder holds, with meta.json and truth.json beside it."""


def keep_apart(outputs: Iterable[tuple[str, Path | None]], inputs: Iterable[str | Path | None] = ()) -> None:
    """Before any work: Refused where a file that is to be written is an outing file, is one of those that are read, or
    is what another option writes. outputs: option and path, None or "-" for none. inputs: files, recordings, folders.
    """
    read = {_known(path) for spec in inputs if spec is not None for path in _files(spec)}
    taken: dict[object, str] = {}
    for option, path in outputs:
        if path is None or str(path) == "-" or (path.exists() and not path.is_file()):  # /dev/null takes everything
            continue
        where = _known(path)
        if path.resolve().suffix.lower() == ".outing":
            raise Refused(f"{option} {path}: the name of an outing file, which nothing is written over; choose another")
        if where in read:
            raise Refused(f"{option} {path}: is read here, and would be written over; choose another name")
        if where in taken:
            raise Refused(f"{option} {path}: is where {taken[where]} goes; choose another name")
        taken[where] = option


def _files(spec: str | Path) -> list[Path]:
    path = Path(str(spec).removeprefix("recording:"))
    return [path, *(path / name for name in (*RECORDED, "meta.json", "truth.json"))] if path.is_dir() else [path]


def _known(path: Path) -> object:
    """The same for every name of one file."""
    try:
        found = path.stat()
        return found.st_dev, found.st_ino
    except OSError:
        return path.resolve()


def write_text(path: Path, text: str) -> None:
    """UTF-8 text; an older file of that name is replaced only by a complete one."""
    fresh = _fresh(path)
    try:
        fresh.write_text(text, encoding="utf-8", errors="replace")  # a name may hold bytes that are no text
        into_place(fresh, path)
    except OSError as error:
        if fresh != path:
            with contextlib.suppress(OSError):  # its folder may be none
                fresh.unlink(missing_ok=True)
        raise _not_there(path, error.strerror) from None


def writable(*paths: Path | None) -> None:
    """Raises CouldNot where `write_text` would, before what cannot be taken back or had again."""
    for path in paths:
        if path is None or str(path) == "-":
            continue
        fresh = _fresh(path)
        if fresh == path:
            continue
        try:
            fresh.touch()
            fresh.unlink()
        except OSError as error:
            raise _not_there(path, error.strerror) from None


def _fresh(path: Path) -> Path:
    """As `beside`; a folder is refused."""
    if path.is_dir():
        raise _not_there(path, os.strerror(errno.EISDIR))
    return beside(path)


def _not_there(path: Path, why: str | None) -> CouldNot:
    return CouldNot(f"{path}: cannot be written ({why}); choose another place")


def write_json(path: Path, body: dict[str, Any]) -> None:
    """JSON; on the screen when the path is "-"."""
    import json

    text = json.dumps(body, ensure_ascii=False, indent=1, allow_nan=False) + "\n"
    if str(path) == "-":
        print(text, end="")
    else:
        write_text(path, text)
