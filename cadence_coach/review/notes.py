"""Notes that travel: a coach's notes on an outing as a small JSON file, which the rider's `import` merges.

The file names the outing by its UUID, so it can come back by any way, and a note by its own, so that merging twice
changes nothing. Text is text: it is never read as anything else.
"""

from __future__ import annotations

import json
import math
import uuid
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from cadence_coach.errors import CouldNot, Refused
from cadence_coach.store.outing import Note, Outing

FORMAT = "cadence-coach-notes/1"
LARGEST = 1 << 20
LONGEST = 4000
"""Characters of one note: a page. More belongs into a letter."""


def new_note(who: str, text: str, at_s: float | None = None, when: datetime | None = None) -> Note:
    """A note of now; refused where it says nothing or too much."""
    text, who = text.strip(), who.strip()
    if not text or len(text) > LONGEST:
        raise Refused(f"a note has 1 to {LONGEST} characters, this one {len(text)}; write it again")
    if not who or len(who) > 80:
        raise Refused("a note needs a name of 1 to 80 characters; say who with --who")
    stamp = (when or datetime.now(UTC)).astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    return Note(str(uuid.uuid4()), who, stamp, at_s, text)


def write_notes(path: str | Path, outing: Outing, notes: Sequence[Note]) -> None:
    """The notes as a file that `import` merges into the same outing elsewhere."""
    rows = [{"uuid": n.uuid, "who": n.who, "when_utc": n.when_utc, "at_s": n.at_s, "text": n.text} for n in notes]
    body = {"format": FORMAT, "outing": outing.uuid, "notes": rows}
    try:
        Path(path).write_text(json.dumps(body, ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
    except OSError as error:
        raise CouldNot(f"{path}: cannot be written ({error.strerror}); choose another place") from None


def is_notes_file(path: str | Path) -> bool:
    """Whether a file says that it holds notes; reads its first kilobyte alone."""
    try:
        with open(path, "rb") as file:
            return FORMAT.encode() in file.read(1024)
    except OSError:
        return False


def read_notes(path: str | Path) -> tuple[str, list[Note]]:
    """UUID of the outing and the notes of a file; Refused with one line where it is none."""
    path = Path(path)
    try:
        if path.stat().st_size > LARGEST:
            raise Refused(f"{path}: larger than any notes file ({LARGEST >> 10} kB)")
        body = json.loads(path.read_text("utf-8"))
        if body.get("format") != FORMAT or not isinstance(body["outing"], str) or not isinstance(body["notes"], list):
            raise ValueError(f"format is not {FORMAT}")
        return body["outing"], [_note(row) for row in body["notes"]]
    except (OSError, ValueError, KeyError, TypeError, AttributeError, OverflowError, RecursionError) as error:
        raise Refused(f"{path}: is no file of notes ({error}); ask for it again") from None


def _note(row: dict[str, Any]) -> Note:
    at = row["at_s"]
    if at is not None:
        at = float(at)
        if not math.isfinite(at):
            raise ValueError("at_s is not a time")
    values = [row[name] for name in ("uuid", "who", "when_utc", "text")]
    if not all(isinstance(v, str) and len(v) <= LONGEST for v in values):
        raise ValueError("a note has a text that is none")
    "".join(values).encode()  # half a character, as JSON may hold it, is a ValueError too
    return Note(values[0], values[1], values[2], at, values[3])
