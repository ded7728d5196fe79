"""Raw rows through both codecs: the same rows come back, and what is none is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cadence_coach.core.events import ACCEL, FIX, GYRO, Row
from cadence_coach.errors import Refused
from cadence_coach.store import chunks

TIMES = st.one_of(
    st.floats(0.0, 36_000.0).map(chunks.to_grid), st.sampled_from([math.nan, math.inf, -math.inf, 1e18, -3.0])
)
FLOAT32 = st.floats(width=32)


def plain(rows: list[Row]) -> bytes:
    return b"".join(chunks.columns(rows))


def row(kind: int) -> st.SearchStrategy[Row]:
    if kind == FIX:
        return st.tuples(st.just(FIX), TIMES, TIMES, *[st.floats()] * 5)
    return st.tuples(st.just(kind), TIMES, FLOAT32, FLOAT32, FLOAT32)


ROW = st.sampled_from([ACCEL, ACCEL, GYRO, FIX]).flatmap(row)


@given(st.lists(st.lists(ROW, max_size=9), min_size=1, max_size=5))
def test_chunks_joined_column_by_column_are_their_rows_one_after_the_other(parts):
    joined = chunks.of_columns(*(b"".join(column) for column in zip(*map(chunks.columns, parts), strict=True)))
    rows = [r for part in parts for r in part]
    assert repr(list(joined.rows())) == repr(list(chunks.unpack(plain(rows), len(rows), chunks.PLAIN_CODEC).rows()))


@given(st.lists(ROW, max_size=40))
def test_both_codecs_give_back_the_same_rows(rows):
    as_is = chunks.unpack(plain(rows), len(rows), chunks.PLAIN_CODEC)
    packed = chunks.unpack(chunks.pack(chunks.Rows.of(rows)), len(rows))
    assert repr(list(as_is.rows())) == repr(list(packed.rows()))
    assert chunks.span_of(rows) == chunks.Rows.of(rows).span()
    on_grid = [(r[0], chunks.to_grid(r[1]), chunks.to_grid(r[2]), *r[3:]) if r[0] == FIX else
               (r[0], chunks.to_grid(r[1]), *r[2:]) for r in rows]  # fmt: skip
    assert repr(list(as_is.rows())) == repr([tuple(r) for r in on_grid])


@given(st.binary(max_size=400), st.integers(-1, 20), st.sampled_from([chunks.CODEC, chunks.PLAIN_CODEC]))
def test_any_bytes_are_rows_or_refused(blob, n, codec):
    try:
        assert len(chunks.unpack(blob, n, codec)) == n
    except Refused as told:
        assert "\n" not in str(told)


ROWS = [(ACCEL, 1.0, 0.0, 1.0, 9.75), (GYRO, 1.5, 0.0, 0.5, 0.25), (FIX, 2.0, 1.5, 4.0, *[math.nan] * 4)]


@pytest.mark.parametrize("n", range(len(ROWS)))
def test_a_plain_chunk_of_another_length_is_refused(n):
    blob = plain(ROWS)
    for wrong in (blob[:-1], blob + b"\0", blob[:n], b""):
        with pytest.raises(Refused, match="does not fit"):
            chunks.unpack(wrong, len(ROWS), chunks.PLAIN_CODEC)
    with pytest.raises(Refused):
        chunks.unpack(blob, n, chunks.PLAIN_CODEC)


def test_a_kind_of_row_that_is_none_is_refused():
    blob = bytearray(plain(ROWS[:2]))
    blob[1] = 3
    with pytest.raises(Refused, match="does not fit"):
        chunks.unpack(bytes(blob), 2, chunks.PLAIN_CODEC)


def test_a_plain_chunk_is_laid_out_as_said():
    """The bytes as chunks.py lists them, written out by numpy with the order in its type names."""
    written = (
        bytes([ACCEL, GYRO, FIX])
        + np.array([1.0, 1.5], "<f8").tobytes()
        + np.array([0.0, 1.0, 9.75, 0.0, 0.5, 0.25], "<f4").tobytes()
        + np.array(ROWS[2][1:], "<f8").tobytes()
    )
    assert plain(ROWS) == written
