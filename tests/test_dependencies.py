"""Every direct dependency is in the table of DEVELOPERS.md, with the licence it really has and a sign of life."""

from __future__ import annotations

import ast
import importlib.metadata
import os
import sys
from datetime import timedelta
from pathlib import Path
from urllib.error import HTTPError

import pytest

from tests.dependencies import GOOD_YEARS, PROJECT, asked, families, last_release, licence, rows

LONG = bool(os.environ.get("CADENCE_COACH_LONG"))
FREE_TO_SHIP = {"MIT", "BSD", "Apache", "PSF", "ISC"}
"""What a program under MIT can be handed out with, without further conditions on its own code."""
ON_THE_PHONE_ALONE = {"jnius", "android", "host", "service"}


def test_the_table_lists_what_is_asked_for_and_nothing_else() -> None:
    assert {row.name: row.use for row in rows()} == asked()
    assert all(len(row.why) > 10 for row in rows())


@pytest.mark.parametrize("row", [row for row in rows() if row.name in asked(False)], ids=lambda row: row.name)
def test_the_licence_is_the_installed_one(row) -> None:  # type: ignore[no-untyped-def]
    real = families(licence(row.name))  # what is not installed fails: all of them belong to the tests' environment
    assert real and real == families(row.licence), f"{row.name}: {licence(row.name)}"
    if row.use != "test":
        assert real <= FREE_TO_SHIP, row.name


def test_families_of_licences() -> None:
    """Names as the package index's classifiers and SPDX have them."""
    assert families("GNU Lesser General Public License v3") == {"LGPL"} != families("GNU General Public License v3")
    assert families("GPL-3.0") == {"GPL"} and families("LGPL-3.0-only") == {"LGPL"}
    assert families("BSD-3-Clause AND MIT") == {"BSD", "MIT"} and families("Apache-2.0") == {"Apache"}
    assert not families("Proprietary")


def test_nothing_is_abandoned() -> None:
    """Judged from the newest date in the table, which is when it was last made."""
    newest = max(row.released for row in rows())
    for row in rows():
        quiet = newest - row.released > timedelta(days=365.25 * GOOD_YEARS)
        assert quiet == ("quiet" in row.why), f"{row.name}: last release {row.released}"


@pytest.mark.skipif(not LONG, reason="asking the package index for releases belongs to the long form")
def test_the_dates_are_the_indexs() -> None:
    for row in rows():
        try:
            released = last_release(row.name)
        except HTTPError:
            raise  # the index was there and refused: the name is wrong, or the project is gone
        except OSError as e:
            pytest.skip(f"the package index was not reached: {e}")
        assert released >= row.released, row.name
        assert (released - row.released).days < 365, f"{row.name}: python -m tests.dependencies makes the table anew"


def test_what_is_imported_is_asked_for() -> None:
    """Every library that the program's own files import, by name of what is installed, and only in its rooms."""
    told = {name for name, use in asked().items() if use in ("run", "club")}
    brought = importlib.metadata.packages_distributions()
    seen: set[str] = set()
    for path in (PROJECT / "cadence_coach").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            names = [a.name for a in node.names] if isinstance(node, ast.Import) else []
            names += [node.module] if isinstance(node, ast.ImportFrom) and node.module and not node.level else []
            for name in {n.split(".")[0] for n in names} - sys.stdlib_module_names - ON_THE_PHONE_ALONE:
                if name != "cadence_coach":
                    seen.add(name)
                    owners = {d.lower().replace("_", "-") for d in brought.get(name, [name])}
                    assert owners & told, f"{Path(path).relative_to(PROJECT)} imports {name}"
    assert {"numpy", "attr", "typer"} & seen
