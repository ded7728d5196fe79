"""Files of every schema there ever was still open. Each is kept as it was written then, never made anew."""

from __future__ import annotations

from pathlib import Path

import pytest

from cadence_coach.store import migrate, schema
from cadence_coach.store.outing_file import load_outing
from tests.store import made
from tests.store.test_outing_file import as_plain

FILES = Path(__file__).parent / "files"


@pytest.mark.parametrize("number", range(1, schema.SCHEMA + 1))
def test_a_file_of_each_schema_opens(number):
    outing = load_outing(FILES / f"schema-{number}.outing")
    assert as_plain(outing) == as_plain(made.outing(n=80))


def test_there_is_a_step_from_each_schema_to_the_next():
    assert set(migrate.STEPS) == set(range(1, schema.SCHEMA))


def test_the_step_is_taken_on_a_copy(tmp_path, monkeypatch):
    """A made-up next schema: one table more. The file itself stays as it is."""
    path = tmp_path / "a.outing"
    path.write_bytes((FILES / "schema-1.outing").read_bytes())
    more = "CREATE TABLE more (id INTEGER PRIMARY KEY)"
    monkeypatch.setattr(schema, "SCHEMA", 2)
    monkeypatch.setattr(migrate, "SCHEMA", 2)
    monkeypatch.setattr(schema, "TABLES", (*schema.TABLES, more))
    monkeypatch.setitem(migrate.STEPS, 1, lambda db: db.execute(more))
    before = path.read_bytes()
    assert as_plain(load_outing(path)) == as_plain(made.outing(n=80))
    assert path.read_bytes() == before
