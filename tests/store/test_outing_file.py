"""The outing file reads back what was written, whoever it comes from."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import fields

import attrs
import numpy as np
import pytest

from cadence_coach.errors import CouldNot, Refused
from cadence_coach.store import chunks, schema
from cadence_coach.store.outing_file import load_outing, opened, peek, put_meta, read_meta, save_outing
from tests.store import made


def as_plain(outing):
    """Everything in an outing as text, so that NaN equals NaN."""
    return {
        f.name: value.tolist().__repr__() if isinstance(value := getattr(outing, f.name), np.ndarray) else repr(value)
        for f in attrs.fields(type(outing))
    }


@pytest.mark.parametrize("gyro", [True, False])
def test_round_trip_is_exact(tmp_path, gyro):
    outing = made.outing(gyro=gyro)
    back = load_outing(save_outing(outing, tmp_path / "a.outing"))
    assert as_plain(back) == as_plain(outing)
    assert repr(list(back.rows())) == repr(made.rows(gyro=gyro))


def test_many_chunks_keep_the_order_of_arrival(tmp_path, monkeypatch):
    monkeypatch.setattr("cadence_coach.store.outing_file.CHUNK_ROWS", 7)
    outing = made.outing()
    assert as_plain(load_outing(save_outing(outing, tmp_path / "a.outing"))) == as_plain(outing)


def test_one_file_and_the_original_untouched(tmp_path):
    path = save_outing(made.outing(), tmp_path / "a.outing")
    before = path.read_bytes()
    load_outing(path)
    assert [p.name for p in tmp_path.iterdir()] == ["a.outing"]
    assert path.read_bytes() == before


@pytest.mark.parametrize("limit", ["MOST_ROWS", "MOST_EVENTS", "MOST_NOTES", "MOST_TAGS", "LARGEST_FILE"])
def test_what_would_not_be_read_is_not_written(tmp_path, monkeypatch, limit):
    kept = save_outing(made.outing(20), tmp_path / "a.outing")
    before = kept.read_bytes()
    monkeypatch.setattr(f"cadence_coach.store.outing_file.{limit}", 0)
    with pytest.raises(CouldNot, match=r"a\.outing: .* more than any"):
        save_outing(made.outing(30), kept)
    assert [p.name for p in tmp_path.iterdir()] == ["a.outing"] and kept.read_bytes() == before


def test_every_field_of_an_event_has_a_column():
    for table, (cls, columns) in schema.EVENTS.items():
        assert {field for _, _, field in columns} == {f.name for f in fields(cls)}, table


def test_the_grid_is_exact_for_nine_decimals():
    for text in ("0.000000001", "12345.678901234", "86399.999999999", "0.1"):
        assert chunks.to_grid(float(text)) == float(text)
    values = np.random.default_rng(5).uniform(0, 1e5, 10_000)
    grid = [chunks.to_grid(v) for v in values]
    assert [chunks.to_grid(v) for v in grid] == grid


HOSTILE = {
    "a view instead of a table": "DROP TABLE tags; CREATE VIEW tags AS SELECT randomblob(999999999) AS name",
    "a trigger": "CREATE TRIGGER t AFTER INSERT ON tags BEGIN DELETE FROM notes; END",
    "a computed column": "DROP TABLE tags; CREATE TABLE tags (name, value AS (hex(zeroblob(9999999))))",
    "an index with a function": "CREATE INDEX i ON tags (hex(value))",
    "one table more": "CREATE TABLE more (a)",
    "a newer schema": "PRAGMA user_version = 2",
    "an older schema that never was": "PRAGMA user_version = 0",
    "another program's": "PRAGMA application_id = 1",
    "no uuid": "DELETE FROM meta WHERE key = 'uuid'",
    "a chunk of another length": "UPDATE chunks SET rows = rows + 1",
    "a chunk with a huge claim": "UPDATE chunks SET rows = 1 << 40",
    "a chunk with negative rows": "UPDATE chunks SET rows = -5",
    "a chunk that is no zlib": "UPDATE chunks SET data = x'00112233'",
    "a zip bomb": "UPDATE chunks SET data = :bomb",
    "an unknown codec": "UPDATE chunks SET codec = 9",
    "text where a number belongs": "UPDATE cycles SET peak_g = 'high'",
    "null where a number belongs": "UPDATE cycles SET number = NULL",
    "json that is none": "UPDATE meta SET value = '{' WHERE key = 'settings'",
    "json too deep": "UPDATE meta SET value = replace(hex(zeroblob(60000)), '0', '[') WHERE key = 'settings'",
    "settings that are a list": "UPDATE meta SET value = '[1]' WHERE key = 'settings'",
    "figures of another shape": "UPDATE summaries SET figures = '[[1, 2, 3]]'",
    "commands that are no object": "UPDATE commands SET given = '[1]'",
    "a command after half a row": "UPDATE commands SET after_rows = 0.5",
    "a tag that is no text": "UPDATE tags SET value = x'05'",
    "a note's time in words": "UPDATE notes SET at_s = 'noon'",
    "a text longer than any": "UPDATE notes SET text = hex(zeroblob(8388609))",
    "text that is no UTF-8": "UPDATE tags SET value = CAST(x'fffe' AS TEXT)",
}


@pytest.mark.parametrize("what", HOSTILE)
def test_a_strangers_file_is_refused_in_one_line(tmp_path, what):
    import zlib

    path = save_outing(made.outing(), tmp_path / "a.outing")
    with closing(sqlite3.connect(path)) as db:
        for sql in HOSTILE[what].split("; ") if "TRIGGER" not in HOSTILE[what] else [HOSTILE[what]]:
            db.execute(sql, {"bomb": zlib.compress(bytes(60_000_000), 9)} if ":bomb" in sql else {})
        db.commit()
    with pytest.raises(Refused) as told:
        load_outing(path)
    assert "\n" not in str(told.value)


@pytest.mark.parametrize("content", [b"", b"SQLite format 3\0", b"PK\x03\x04", b"t_s,ax\n0,1\n" * 100])
def test_what_is_no_outing_is_refused(tmp_path, content):
    (tmp_path / "a.outing").write_bytes(content)
    with pytest.raises(Refused, match="no outing file"):
        load_outing(tmp_path / "a.outing")


def test_a_file_larger_than_any_outing_is_not_read(tmp_path, monkeypatch):
    path = save_outing(made.outing(), tmp_path / "a.outing")
    monkeypatch.setattr("cadence_coach.store.outing_file.LARGEST_FILE", path.stat().st_size - 1)
    with pytest.raises(Refused, match="larger than any outing"):
        load_outing(path)
    monkeypatch.setattr("cadence_coach.store.outing_file.LARGEST_FILE", path.stat().st_size)
    path.with_name("a.outing-wal").write_bytes(bytes(path.stat().st_size + 1))
    with pytest.raises(Refused, match="outing-wal: is larger"):
        load_outing(path)


def test_more_entries_than_any_outing_has_are_not_read(tmp_path, monkeypatch):
    path = save_outing(made.outing(), tmp_path / "a.outing")
    monkeypatch.setattr("cadence_coach.store.outing_file.MOST_ROWS", 900)
    with pytest.raises(Refused, match="too long"):
        load_outing(path)


def test_missing_file_and_folder_are_refused(tmp_path):
    for path in (tmp_path / "none.outing", tmp_path):
        with pytest.raises(Refused):
            load_outing(path)


def test_what_cannot_be_written_is_told_and_leaves_nothing(tmp_path):
    (tmp_path / "a.outing").mkdir()
    (tmp_path / "a.outing" / "in-the-way").touch()
    with pytest.raises(CouldNot, match="could not be written"):
        save_outing(made.outing(), tmp_path / "a.outing")
    assert [p.name for p in tmp_path.iterdir()] == ["a.outing"]


def test_a_peek_says_what_the_file_says_of_itself_and_leaves_nothing_behind(tmp_path):
    path = save_outing(made.outing(), tmp_path / "wind?and#wave %20.outing")
    with opened(path) as db:
        assert peek(path) == read_meta(db)
    path.chmod(0o444)
    assert peek(path)["uuid"] == made.outing().uuid and list(tmp_path.iterdir()) == [path]
    (tmp_path / "junk.outing").write_bytes(path.read_bytes()[:100] + bytes(5000))
    with pytest.raises(Refused, match="is damaged"):
        peek(tmp_path / "junk.outing")


def test_a_peek_sees_what_is_in_the_log_of_an_outing_under_way(tmp_path):
    path = save_outing(made.outing(), tmp_path / "a.outing")
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        db.execute("PRAGMA journal_mode = WAL")
        put_meta(db, {"start_utc": "2026-07-01T08:00:00Z"})
        assert peek(path)["start_utc"] == "2026-07-01T08:00:00Z"
