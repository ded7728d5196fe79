"""Files that are whole or not there: written beside their place, then moved into it."""

from __future__ import annotations

import os
from pathlib import Path


def beside(path: Path) -> Path:
    """Where to write what is for `path`: a name that nobody uses, in the folder of the file that a link leads to. What
    is no file, such as /dev/null or a pipe, is itself written into: moved over, it would be gone for all programs."""
    if path.exists() and not path.is_file():
        return path
    real = path.resolve()
    return real.with_name(f".{real.name}.{os.getpid()}.new")


def into_place(fresh: Path, path: Path) -> None:
    """Moves what was written to `beside(path)`."""
    if fresh != path:
        os.replace(fresh, path.resolve())
