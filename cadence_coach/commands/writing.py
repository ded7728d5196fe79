"""Files that commands write: whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from cadence_coach.errors import CouldNot


def write_text(path: Path, text: str) -> None:
    """UTF-8 text; an older file of that name is replaced only by a complete one."""
    fresh = path.with_name(f".{path.name}.{os.getpid()}.new")
    try:
        fresh.write_text(text, encoding="utf-8")
        os.replace(fresh, path)
    except OSError as error:
        fresh.unlink(missing_ok=True)
        raise CouldNot(f"{path}: cannot be written ({error.strerror}); choose another place") from None


def write_json(path: Path, body: dict[str, Any]) -> None:
    """JSON; on the screen when the path is "-"."""
    import json

    text = json.dumps(body, ensure_ascii=False, indent=1, allow_nan=False) + "\n"
    if str(path) == "-":
        print(text, end="")
    else:
        write_text(path, text)
