"""A recording taken in a second time, with more than the first: what it adds, and what people had said stays.

The same acceleration is the same outing (its UUID, which a recording of a ridden one names), so rotation, speed and
place, a date, or a rider and foil may come later. Samples only ever join; notes go by their moment, corrections by the
flight that they were made of.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import chain
from pathlib import Path
from typing import cast

import attrs
import numpy as np

from cadence_coach.core.events import ACCEL, FIX, GYRO, FlightEnded, Row
from cadence_coach.errors import CouldNot, Refused
from cadence_coach.store.merge import merged
from cadence_coach.store.outing import Note, Outing
from cadence_coach.store.outing_file import load_outing, save_outing
from cadence_coach.store.rescue import died, roll_back


def more_samples(new: Outing, kept: Outing) -> list[str]:
    """What the samples of `new` tell beyond those of `kept`, in words: a sensor more, one read otherwise, or what came
    after a copy was made; of a copy that ends earlier nothing is taken. Raises Refused where the acceleration that both
    have is not the same."""
    both = min(len(new.accel), len(kept.accel))
    if not _same(new.accel[:both], kept.accel[:both]):
        raise Refused("the two differ in the acceleration that both have, so they are not the same outing")
    if len(new.accel) < len(kept.accel):
        return []
    longer = len(new.accel) > len(kept.accel)
    found = ["the rest of the samples"] if longer else []
    if not _same(_joined(new.gyro, kept.gyro), kept.gyro) and not (longer and kept.gyro is not None):
        found.append("rotation")
    if not _same(_fixes(new, kept), kept.fixes[:, :7], FROM_ARRIVAL) and not (longer and len(kept.fixes)):
        found.append("speed and place")
    return found


def lacks(new: Outing, kept: Outing) -> bool:
    """Whether `kept` has rotation, speeds or places that `new`, which has all of its acceleration, has not."""
    return not (
        _same(_joined(new.gyro, kept.gyro), new.gyro) and _same(_fixes(new, kept), new.fixes[:, :7], FROM_ARRIVAL)
    )


def rows_of_both(new: Outing, kept: Outing) -> Iterator[list[Row]]:
    """The acceleration of `new`, with the rotation and the fixes of both; in time order, as a recording of all of them
    is read."""
    gyro = _joined(new.gyro, kept.gyro)
    turns: list[Row] = [] if gyro is None else [(GYRO, *row) for row in gyro.tolist()]
    others = merged(iter([(FIX, *row) for row in _fixes(new, kept).tolist()]), iter([turns]))
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
            old = next((f for f in said_of.flights if name == f"{begins}{f.flight}"), None)
            if old is None:
                continue  # of no flight of its own either: nothing is lost
            flight = _now(old, outing)
            if flight is None:
                gone.append(old.flight)
                continue
            name = f"{begins}{flight}"
        tags.setdefault(name, value)
    return tags, sorted(set(gone))


def _now(old: FlightEnded, new: Outing) -> int | None:
    """The flight of `new` that shares more than half of its time with an old one."""
    for f in new.flights:
        shared = min(f.time, old.time) - max(f.start, old.start)
        if 2 * shared > max(f.time - f.start, old.time - old.start):
            return f.flight
    return None


FROM_ARRIVAL = [0, 2, 3, 4, 5, 6]
"""Of a fix what a recording has too: not when it was true."""
ROUNDING_S = 2e-9
"""What a nanosecond's rounding in a file leaves [s]."""


def _same(one: np.ndarray | None, other: np.ndarray | None, columns: list[int] | slice = slice(None)) -> bool:
    if one is None or other is None or one.shape != other.shape:
        return one is other
    return np.allclose(one[:, columns], other[:, columns], rtol=0.0, atol=ROUNDING_S, equal_nan=True)


def _fixes(new: Outing, kept: Outing) -> np.ndarray:
    return cast(np.ndarray, _joined(new.fixes[:, :7], kept.fixes[:, :7]))


def _joined(new: np.ndarray | None, kept: np.ndarray | None) -> np.ndarray | None:
    """One sensor as two files have it: the longer, what it lacks filled in from the other where that is its beginning;
    else the one with more numbers."""
    if new is None or kept is None:
        return kept if new is None else new
    longer, other = (new, kept) if len(new) >= len(kept) else (kept, new)
    begun = longer[: len(other)]
    if not _same(begun[:, :1], other[:, :1]):
        return max(new, kept, key=lambda samples: np.count_nonzero(np.isfinite(samples)))
    return np.concatenate([np.where(np.isfinite(begun), begun, other), longer[len(other) :]])


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
