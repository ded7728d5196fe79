"""An outing looked at as its own rider on its own foil: the one call of whoever opens a file."""

from __future__ import annotations

from pathlib import Path

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
    return looked(load_outing(path))
