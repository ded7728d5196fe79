"""From each earlier schema of the outing file to the present one, one step a number; there is one schema so far."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

from cadence_coach.errors import Refused
from cadence_coach.store.schema import SCHEMA

STEPS: dict[int, Callable[[sqlite3.Connection], None]] = {}
"""Schema number -> the function that takes a (private copy of a) file of it to the next."""


def migrate(db: sqlite3.Connection, version: int, path: Path) -> None:
    """Takes an open copy from `version` to SCHEMA. Raises Refused for a version that is not known."""
    if version > SCHEMA:
        raise Refused(
            f"{path}: has schema {version}, this program knows up to {SCHEMA}; use a newer version of the program"
        )
    for number in range(version, SCHEMA):
        if number not in STEPS:
            raise Refused(f"{path}: has schema {version}, which never was; the file is damaged")
        STEPS[number](db)
        db.execute(f"PRAGMA user_version = {number + 1}")
