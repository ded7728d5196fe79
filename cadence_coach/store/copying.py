"""A private copy of an outing file with the log that lies beside it: of one moment, or taken again.

`-wal` lies there while an outing goes on, or when its program died: what is not in the file yet. `-journal` lies there
while a note, a tag or a repair is written, or when that was cut off: the pages as they were before, which SQLite puts
back as soon as the copy is opened. Without its journal a file that was cut off in between is torn.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import stat
import time
from pathlib import Path

from cadence_coach.errors import CouldNot, Refused

LOGS = ("-wal", "-journal")
TRIES = 40
LONGEST_PAUSE_S = 0.1
"""A note is on the disk after some hundredths of a second: all tries together wait for more than three seconds."""
NAMES_ANOTHER = bytes.fromhex("d9d505f920a163d7")
"""The end of a journal that names a second one (SQLite's file format, "The Rollback Journal"; written where several
files are changed at once, as we never do)."""


def log_of(path: Path, end: str) -> Path | None:
    """The log beside the file, None where there is none or nothing in it."""
    log = path.with_name(path.name + end)
    try:
        state = log.stat()
    except FileNotFoundError:
        return None
    return log if stat.S_ISREG(state.st_mode) and state.st_size > 0 else None


def state_of(path: Path) -> list[int]:
    """Size [bytes] and time [ns] of an outing file with its log: all of an outing that goes on lies there, and the file
    itself stays as it was. Raises OSError."""
    stats = [path.stat()]
    if (log := log_of(path, "-wal")) is not None:
        with contextlib.suppress(FileNotFoundError):  # it has just ended
            stats.append(log.stat())
    return [sum(s.st_size for s in stats), max(s.st_mtime_ns for s in stats)]


def own_journal(path: Path) -> None:
    """Raises Refused for a journal that names another file: rolling back, SQLite would delete that one."""
    if (journal := log_of(path, "-journal")) is None:
        return
    with journal.open("rb") as file:
        file.seek(max(0, journal.stat().st_size - len(NAMES_ANOTHER)))
        if file.read() == NAMES_ANOTHER:
            raise Refused(f"{journal}: names another file, as no outing's does; use another copy of the outing")


def copy_whole(path: Path, copy: Path, most: int) -> None:
    """Raises Refused for a log of more than `most` bytes, CouldNot when the file never stays still."""
    for n in range(TRIES):
        time.sleep(min(0.01 * n, LONGEST_PAUSE_S))
        try:
            if _copied(path, copy, most):
                return
        except FileNotFoundError as e:  # an outing that is closed puts its log away, a note its journal
            if not path.exists():
                raise Refused(f"{path}: cannot be read ({e.strerror}); name an .outing file") from None
    raise CouldNot(f"{path}: is being written all the time; try again when the outing is over")


def _copied(path: Path, copy: Path, most: int) -> bool:
    """One try; False when the file was written meanwhile. File first, then its log: a log that only grew, or a journal
    begun before the first page was changed, makes an older file whole. The order of the looks matters: whoever is done
    between the logs' and the file's is seen by the file's."""
    file, logs = _file(path), _logs(path)
    shutil.copyfile(path, copy)
    for end in LOGS:
        mine = copy.with_name(copy.name + end)
        mine.unlink(missing_ok=True)  # of the try before
        if (log := log_of(path, end)) is not None:
            if log.stat().st_size > most:
                raise Refused(f"{log}: is larger than any outing ({most >> 20} MB)")
            shutil.copyfile(log, mine)
    own_journal(copy)
    return logs == _logs(path) and file == _file(path)


def _file(path: Path) -> tuple[int, int, bytes]:
    """What changes with each change: size, time, and SQLite's own counter, as two changes may have the same time."""
    with path.open("rb") as file:
        state = os.fstat(file.fileno())
        return state.st_size, state.st_mtime_ns, file.read(28)[24:]


def _logs(path: Path) -> list[bytes]:
    """Their heads: salted anew each time that a log begins."""
    return [log.open("rb").read(32) if (log := log_of(path, end)) is not None else b"" for end in LOGS]
