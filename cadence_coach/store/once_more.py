"""A recording taken in a second time, with more than the first: what it adds, and what people had said stays.

The same acceleration is the same outing (its UUID), so rotation, speed and place, a date, or a rider and foil may come
later. Samples only ever join; notes go by their moment, corrections by the flight that they were made of.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import chain
from pathlib import Path

import attrs
import numpy as np

from cadence_coach.core.events import ACCEL, FIX, GYRO, Row
from cadence_coach.errors import CouldNot, Refused
from cadence_coach.store.merge import merged
from cadence_coach.store.outing import Note, Outing
from cadence_coach.store.outing_file import load_outing, save_outing
from cadence_coach.store.rescue import died, roll_back


def more_sensors(new: Outing, kept: Outing) -> list[str]:
    """What the samples of `new` tell beyond those of `kept`, in words: a sensor more, or one read otherwise."""
    found = []
    if new.gyro is not None and _tells(new.gyro, kept.gyro):
        found.append("rotation")
    if len(new.fixes) and _tells(new.fixes[:, :7], kept.fixes[:, :7]):
        found.append("speed and place")
    return found


def lacks(new: Outing, kept: Outing) -> bool:
    """Whether `kept` knows a sensor, or a place, where `new` knows none."""
    if new.gyro is None and kept.gyro is not None:
        return True
    if new.fixes.shape != kept.fixes.shape:
        return len(new.fixes) == 0
    return bool((np.isfinite(kept.fixes) & ~np.isfinite(new.fixes)).any())


def rows_of_both(new: Outing, kept: Outing) -> Iterator[list[Row]]:
    """The acceleration, which both have, with the rotation and the fixes of `new`, or of `kept` where it has none; in
    time order, as a recording of all of them is read."""
    gyro = kept.gyro if new.gyro is None else new.gyro
    fixes = new.fixes if len(new.fixes) else kept.fixes
    if new.fixes.shape == kept.fixes.shape:
        fixes = np.where(np.isfinite(new.fixes), new.fixes, kept.fixes)
    turns: list[Row] = [] if gyro is None else [(GYRO, *row) for row in gyro.tolist()]
    others = merged(iter([(FIX, *row) for row in fixes[:, :7].tolist()]), iter([turns]))
    return merged(chain.from_iterable(others), iter([[(ACCEL, *row) for row in new.accel.tolist()]]))


def with_what_was_said(outing: Outing, said_of: Outing, by_flight: Sequence[str]) -> Outing:
    """`outing` with the notes and tags of another reading of it as well; its own go first. by_flight: how the names of
    tags begin that end in a flight's number; they follow their flight. Raises Refused, rather than drop a correction of
    a flight that is none any more."""
    notes: dict[str, Note] = {note.uuid: note for note in outing.notes}
    for note in said_of.notes:
        notes.setdefault(note.uuid, note)
    moved, gone = tags_moved(said_of, outing, by_flight)
    if gone:
        raise Refused(f"flight {gone[0] + 1}, which somebody corrected, would be none any more")
    return attrs.evolve(outing, notes=list(notes.values()), tags=moved | outing.tags)


def tags_moved(said_of: Outing, outing: Outing, by_flight: Sequence[str]) -> tuple[dict[str, str], list[int]]:
    """The tags of `said_of` under the numbers that their flights have in `outing`, and the flights (from 0) that are
    none there."""
    tags: dict[str, str] = {}
    gone: list[int] = []
    for name, value in said_of.tags.items():
        begins = next((b for b in by_flight if name.startswith(b) and name[len(b) :].isdigit()), None)
        if begins is not None:
            old = int(name[len(begins) :])
            flight = _now(said_of, old, outing)
            if flight is None:
                gone.append(old)
                continue
            name = f"{begins}{flight}"
        tags.setdefault(name, value)
    return tags, sorted(set(gone))


def _now(kept: Outing, flight: int, new: Outing) -> int | None:
    """The flight of `new` that shares more than half of its time with that one of `kept`."""
    old = next((f for f in kept.flights if f.flight == flight), None)
    if old is None:
        return None
    for f in new.flights:
        shared = min(f.time, old.time) - max(f.start, old.start)
        if 2 * shared > max(f.time - f.start, old.time - old.start):
            return f.flight
    return None


def _tells(new: np.ndarray, kept: np.ndarray | None) -> bool:
    """Whether there is a number in `new` that is not in `kept`; what a nanosecond's rounding in the file leaves is
    none."""
    if kept is None or new.shape != kept.shape:
        return True
    return bool((np.isfinite(new) & ~np.isclose(new, kept, rtol=0.0, atol=2e-9)).any())


TRIES = 5


def changed(path: Path, change: Callable[[Outing], Outing | None]) -> Outing | None:
    """Puts `change(what is in the file)` in its place, whole or not at all; None, and nothing is touched, where that
    gives None. A note that is written meanwhile is not lost: then all is done again."""
    for _ in range(TRIES):
        roll_back(path)
        if died(path):
            raise CouldNot(f"{path}: is being written, or its program died; `live` makes it whole, import it then")
        state = _state(path)
        outing = change(load_outing(path))
        if outing is None:
            return None
        if _state(path) == state:
            save_outing(outing, path)
            return outing
    raise CouldNot(f"{path}: is being changed all the time; try again when nobody else writes in it")


def _state(path: Path) -> tuple[int, int]:
    stat = path.stat()
    return stat.st_size, stat.st_mtime_ns
