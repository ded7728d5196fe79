"""An outing looked at as its own rider on its own foil: the one call of whoever opens a file."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from cadence_coach.errors import CouldNot, Refused
from cadence_coach.review.figures import Looked, look
from cadence_coach.review.gear import power_of, setup_of, table_of
from cadence_coach.store.outing import Outing
from cadence_coach.store.outing_file import load_outing


def looked(outing: Outing) -> Looked:
    """The outing's figures, against its own rider and foil."""
    table = table_of(outing)
    return look(outing, table, power_of(setup_of(outing), table.cruise_speed if table else None))


def open_looked(path: str | Path) -> Looked:
    """Reads an outing file and looks at it. Raises Refused with one line when it is none, or damaged."""
    with told_as_damage(path):
        return looked(load_outing(path))


@contextmanager
def told_as_damage(path: str | Path) -> Iterator[None]:
    """Whoever wrote the file: what no figure can be made of is damage in one line, and costs no other outing its place
    in a list. Raises Refused for whatever is raised in the block."""
    try:
        yield
    except (Refused, CouldNot, MemoryError):
        raise
    except Exception as error:
        why = " ".join(f"{type(error).__name__}: {error}".split())
        raise Refused(f"{path}: is damaged ({why}); use another copy of the file") from error
