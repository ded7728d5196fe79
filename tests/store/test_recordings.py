"""Recordings: what is written is read, what is broken is refused in one line, single bad rows are passed on."""

from __future__ import annotations

import csv
import gzip
import json
import math
import sys
import tracemalloc
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cadence_coach.core.events import ACCEL, FIX, GYRO
from cadence_coach.errors import Refused
from cadence_coach.store import recordings
from cadence_coach.store.columns import BLOCK, exact_seconds, nanoseconds
from cadence_coach.store.merge import merged
from cadence_coach.store.recordings import FORMAT, Recording, write_recording

HEADER = "t_s,ax_m_s2,ay_m_s2,az_m_s2\n"
REST = "".join(f"{i * 0.01:.2f},0.1,0.2,9.8\n" for i in range(50))


def rows_of(path: Path) -> list[tuple[float, ...]]:
    return [row for rows in Recording(path).rows() for row in rows]


def made(n: int, start: float = 0.0, seed: int = 1) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Acceleration, rotation and fixes of n samples at 100 Hz, rotation on the same or other moments."""
    rng = np.random.default_rng(seed)
    t = start + np.arange(n) * 0.01
    accel = np.column_stack([t, rng.normal(0, 1, (n, 2)), rng.normal(9.8, 2, n)])
    gyro = np.column_stack([t + (np.arange(n) % 2) * 0.004, rng.normal(0, 1, (n, 3))])
    m = n // 100
    fixes = np.column_stack(
        [start + np.arange(m), rng.uniform(0, 6, m), 47 + rng.uniform(0, 1e-3, (m, 2)), *[np.ones(m)] * 2]
    )
    fixes[::3, 2:] = np.nan
    return accel, gyro, fixes


# ---- round trip ----


@pytest.mark.parametrize("gz", [False, True])
@pytest.mark.parametrize("start", [0.0, 1e9, 1.7e9 + 0.123])
def test_what_is_written_is_read(tmp_path: Path, gz: bool, start: float) -> None:
    accel, gyro, fixes = made(2 * BLOCK + 7, start)
    truth = {"kind": "made", "pumps": [{"onset_s": np.float64(start + 1.5)}]}
    write_recording(tmp_path / "one", accel, gyro, fixes, {"worn_at": "chest"}, truth, gz=gz)
    recording = Recording(tmp_path / "one")
    rows = [row for block in recording.rows() for row in block]
    for kind, data in ((ACCEL, accel), (GYRO, gyro)):
        got = np.array([row[1:] for row in rows if row[0] == kind])
        assert np.array_equal(got[:, 1:], data[:, 1:].astype(np.float32).astype(float))
        exact = [float(Fraction(t) - Fraction(start)) for t in data[:, 0].tolist()]
        assert np.abs(got[:, 0] - exact).max() <= 0.5000001e-9 * 2  # both ends kept to the nearest nanosecond
    got = np.array([row[1:] for row in rows if row[0] == FIX])
    assert np.array_equal(got[:, 2:], fixes[:, 1:], equal_nan=True)
    assert np.array_equal(got[:, 0], got[:, 1])
    assert recording.start_s == start
    assert recording.meta == {"format": FORMAT, "worn_at": "chest"}
    assert recording.truth() == {"kind": "made", "pumps": [{"onset_s": start + 1.5}]}
    assert recording.notes == []


def test_rows_come_in_time_order_with_ties_settled(tmp_path: Path) -> None:
    write_recording(tmp_path / "one", *made(BLOCK + 500))
    rows = rows_of(tmp_path / "one")
    order = {FIX: 0, GYRO: 1, ACCEL: 2}
    assert rows == sorted(rows, key=lambda row: (row[1], order[int(row[0])]))
    assert sum(row[0] == GYRO for row in rows) == BLOCK + 500


def test_a_late_start_changes_no_time(tmp_path: Path) -> None:
    """1e9 s and 0 s give equal rows: floats near 1e9 step by 1.2e-7 s, the file's text does not."""
    for name, start in (("zero", 0), ("late", 1_000_000_000)):
        (tmp_path / name).mkdir()
        lines = [f"{start + i // 1000}.{i % 1000:03d},{i % 10},0.5,9.8\n" for i in range(0, 5000, 7)]
        (tmp_path / name / "accel.csv").write_text(HEADER + "".join(lines))
    assert rows_of(tmp_path / "zero") == rows_of(tmp_path / "late")
    assert Recording(tmp_path / "late").start_s == 1e9


@pytest.mark.parametrize("stale", [-7200.0, -0.5, 7200.0])
def test_time_0_is_the_first_row_that_another_follows(tmp_path: Path, stale: float) -> None:
    """A sensor's first stamp may be an old one: the outing does not begin hours before its samples."""
    lines = [f"{t:.2f},0.1,0.5,9.8\n" for t in (10_000 + stale, *(10_000 + 0.01 * k for k in range(300)))]
    (tmp_path / "accel.csv").write_text(HEADER + "".join(lines))
    assert Recording(tmp_path).start_s == (10_000.0 if abs(stale) > 1.0 else 10_000 + stale)
    (tmp_path / "accel.csv").write_text(HEADER + lines[0])
    assert Recording(tmp_path).start_s == 10_000 + stale, "the only one there is"


@given(st.floats(0, 2e9, allow_nan=False).filter(lambda t: t == 0 or t > 1e-6))
@settings(max_examples=300)
def test_seconds_are_exact_to_the_nanosecond(t: float) -> None:
    """Checked with exact fractions."""
    ns = nanoseconds(exact_seconds(t))
    assert ns is not None
    assert abs(Fraction(ns, 10**9) - Fraction(t)) <= Fraction(1, 2 * 10**9)


@pytest.mark.parametrize(
    ("text", "ns"),
    [
        ("0", 0),
        ("1.5", 1_500_000_000),
        ("-0.25", -250_000_000),
        ("1e3", 10**12),
        (" 7.0 ", 7 * 10**9),
        ("nan", None),
        ("inf", None),
        ("0.1234567894", 123_456_789),
        ("1700000000.000000001", 1_700_000_000_000_000_001),
        ("5.", 5 * 10**9),
        ("0.1e999090095483", None),
        ("1e-999090095483", 0),
        ("9" * 400 + ".5", None),
    ],
)
def test_times_are_read_without_a_float(text: str, ns: int | None) -> None:
    assert nanoseconds(text) == ns


@pytest.mark.parametrize("text", ["", "abc", "1.2.3", "12:30", "1,5", "\u00b2.\u00b2"])
def test_what_is_no_time(text: str) -> None:
    with pytest.raises(ValueError):
        nanoseconds(text)


@given(st.lists(st.floats(width=32, allow_nan=False, allow_infinity=False), min_size=1, max_size=40))
@settings(max_examples=100)
def test_every_float32_survives(values: list[float]) -> None:
    import tempfile

    n = len(values)
    data = np.column_stack([np.arange(n) * 0.01, values, np.zeros(n), np.full(n, 9.8)])
    with tempfile.TemporaryDirectory() as folder:
        write_recording(Path(folder) / "r", data)
        with (Path(folder) / "r" / "accel.csv").open() as file:
            read = [float(np.float32(line["ax_m_s2"])) for line in csv.DictReader(file)]  # an independent reader
    assert read == values


def test_the_same_numbers_give_the_same_bytes(tmp_path: Path) -> None:
    for name in "ab":
        write_recording(tmp_path / name, *made(300), gz=True)
    packed = (tmp_path / "a/accel.csv.gz").read_bytes()
    assert packed == (tmp_path / "b/accel.csv.gz").read_bytes()
    assert packed[4:8] == bytes(4), "RFC 1952, MTIME: 0 means that no time is told"


def test_a_folder_with_something_in_it_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine")
    with pytest.raises(Refused, match="there already"):
        write_recording(tmp_path, *made(200))
    assert [p.name for p in tmp_path.iterdir()] == ["mine.txt"]


# ---- what a file may look like ----


@pytest.mark.parametrize(
    "text",
    [
        "az_m_s2,note,t_s,ay_m_s2,ax_m_s2\n" + "".join(f"9.8,x,{i * 0.01:.2f},0.2,0.1\n" for i in range(50)),
        "\ufeff" + HEADER + REST,
        (HEADER + REST).replace("\n", "\r\n"),
        HEADER + REST.rstrip("\n"),
        HEADER + REST + "\n\n",
        HEADER + "\n" * BLOCK * (sys.getrecursionlimit() + 1) + REST,
        HEADER + REST.replace("\n", ",, \n"),
        '"t_s", "ax_m_s2", "ay_m_s2", "az_m_s2"\n'
        + "".join(f'"{i * 0.01:.2f}","0.1","0.2","9.8"\n' for i in range(50)),
    ],
    ids=[
        "order and extra column",
        "byte order mark",
        "crlf",
        "no last newline",
        "blank lines",
        "blocks of blank lines",
        "empty cells",
        "quoted",
    ],
)
def test_a_single_csv_in_any_dress(tmp_path: Path, text: str) -> None:
    path = tmp_path / "walk.csv"
    path.write_text(text, "utf-8", newline="")
    recording = Recording(path)
    rows = [row for block in recording.rows() for row in block]
    assert recording.name == "walk"
    assert rows[0] == (ACCEL, 0.0, float(np.float32(0.1)), float(np.float32(0.2)), float(np.float32(9.8)))
    assert len(rows) == 50
    assert rows[-1][1] == 0.49
    assert recording.notes == []


def test_single_bad_rows_are_passed_on(tmp_path: Path) -> None:
    path = tmp_path / "bad.csv"
    bad = [
        "0.50,nan,0,9.8",
        "0.51,inf,0,9.8",
        "0.52,oops,0,9.8",
        "0.53,1",
        "oops,1,2,3",
        "0.40,1,2,9",
        "0.40,1,2,9",
        "0.54,1e39,0,0",
    ]
    path.write_text(HEADER + REST + "\n".join(bad) + "\n0.60,0,0,9.8\n")
    recording = Recording(path)
    rows = [row for block in recording.rows() for row in block][50:]
    assert len(rows) == len(bad) + 1
    assert math.isnan(rows[0][2])
    assert math.isinf(rows[1][2])
    assert math.isnan(rows[2][2])
    assert math.isnan(rows[3][4])
    assert math.isnan(rows[4][1])
    assert rows[5][1] == rows[6][1] == 0.40
    assert math.isinf(rows[7][2])
    assert rows[8][1] == 0.60
    assert recording.notes == [
        "bad.csv: 3 rows with text, the first in line 54: ax_m_s2 is 'oops' where a number belongs"
    ]


def test_a_row_without_time_pulls_nothing_with_it() -> None:
    nan = float("nan")
    rotation = iter([(GYRO, 0.0), (GYRO, 0.01), (GYRO, nan), (GYRO, 0.02), (GYRO, 5.0)])
    accel = [[(ACCEL, 0.0), (ACCEL, nan)], [(ACCEL, 0.01), (ACCEL, 0.02)]]
    out = [row for rows in merged(rotation, iter(accel)) for row in rows]  # type: ignore[arg-type]
    assert [(int(k), t) for k, t in out if t == t] == [
        (1, 0.0),
        (0, 0.0),
        (1, 0.01),
        (0, 0.01),
        (1, 0.02),
        (0, 0.02),
        (1, 5.0),
    ]
    assert sum(t != t for _, t in out) == 2


@pytest.mark.parametrize("back", [0.4, 30.0, 3600.0])
def test_a_clock_set_back_keeps_the_streams_together(back: float) -> None:
    """Rotation and acceleration 4 ms apart, the clock set back after 50 s: rows stay beside each other."""
    t = [i * 0.01 - back * (i >= 5000) for i in range(10_000)]
    rotation = iter([(GYRO, x + 0.004) for x in t])
    out = [row for rows in merged(rotation, iter([[(ACCEL, x) for x in t]])) for row in rows]  # type: ignore[misc]
    ahead = np.cumsum([1 if kind == GYRO else -1 for kind, _ in out])
    assert np.abs(ahead).max() <= max(2, back * 100 + 2 if back < 1 else 2)


@pytest.mark.parametrize("back", [20.0, 59.0, 3600.0])
@pytest.mark.parametrize("hole", [(50.0, 50.0), (45.0, 62.0), (35.0, 49.0), (51.0, 63.0)])
def test_a_hole_where_the_clock_is_set_back_brings_no_fix_early(back: float, hole: tuple[float, float]) -> None:
    """A fix a second but for the hole, the clock set back after 50 s by more than that: each comes with its
    acceleration again; only what came before the acceleration showed it may be early."""
    t = [i * 0.01 for i in range(10_000)]
    fixes = [(FIX, s, k) for k in range(100) if not hole[0] < (s := k + 0.005) < hole[1]]
    raw = [(kind, s - back * (s > 50.0), s) for kind, s, *_ in fixes]
    accel = [[(ACCEL, s - back * (s > 50.0), s) for s in t]]
    out = [row for rows in merged(iter(raw), iter(accel)) for row in rows]  # type: ignore[arg-type]
    reached, off = 0.0, []
    for kind, _, true in out:
        if kind == FIX and reached > 50.0:
            off.append(true - reached)
        reached = true if kind == ACCEL else reached
    assert len(off) > 30 and max(map(abs, off)) < 0.05


def test_a_single_row_astray_keeps_the_streams_together() -> None:
    t = [i * 0.01 for i in range(3000)]
    t[1000] = -500.0
    t[2000] = 9.0
    rotation = iter([(GYRO, i * 0.01) for i in range(3000)])
    out = [row for rows in merged(rotation, iter([[(ACCEL, x) for x in t]])) for row in rows]  # type: ignore[misc]
    assert np.abs(np.cumsum([1 if kind == GYRO else -1 for kind, _ in out])).max() <= 2


def test_a_packed_file_that_is_cut_short_is_read_up_to_there(tmp_path: Path) -> None:
    write_recording(tmp_path / "one", made(3 * BLOCK)[0], gz=True)
    path = tmp_path / "one/accel.csv.gz"
    path.write_bytes(path.read_bytes()[:-9000])
    recording = Recording(tmp_path / "one")
    assert BLOCK < sum(map(len, recording.rows())) < 3 * BLOCK
    assert len(recording.notes) == 1
    assert "cut short after line" in recording.notes[0]


def test_what_cannot_be_used_is_said(tmp_path: Path) -> None:
    write_recording(tmp_path / "one", *made(200))
    (tmp_path / "one/meta.json").write_text("{oops")
    (tmp_path / "one/speed.csv").write_text("t_s,speed_m_s\n")
    (tmp_path / "one/accel.csv.gz").write_bytes(gzip.compress(HEADER.encode()))
    notes = Recording(tmp_path / "one").notes
    assert len(notes) == 3
    assert notes[0].startswith("accel.csv.gz")
    assert notes[1] == "speed.csv has no rows"
    assert notes[2].startswith("meta.json (")


def test_memory_does_not_grow_with_the_file(tmp_path: Path) -> None:
    """Peak memory of Python objects while reading a file three times as long; the long form is in the benchmarks."""
    peaks = []
    for n in (4 * BLOCK, 12 * BLOCK):
        path = tmp_path / f"{n}.csv"
        path.write_text(HEADER + "".join(f"{i / 100:.2f},{i % 97},0.5,9.8\n" for i in range(n)))
        tracemalloc.start()
        assert sum(map(len, Recording(path).rows())) == n
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[1] < 1.1 * peaks[0]


def test_meta_goes_through_json(tmp_path: Path) -> None:
    write_recording(tmp_path / "one", made(200)[0], meta={"start_utc": "2026-05-01T10:00:00Z", "rate": np.int64(100)})
    kept = {"format": FORMAT, "start_utc": "2026-05-01T10:00:00Z", "rate": 100}
    assert json.loads((tmp_path / "one/meta.json").read_text()) == kept


def test_writing_that_is_interrupted_leaves_no_half_recording(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def breaks_off(path: Path, *rest: Any, **more: Any) -> None:
        path.write_text("t_s,ax_m_s2\n0,")
        raise KeyboardInterrupt

    monkeypatch.setattr(recordings, "write_table", breaks_off)
    with pytest.raises(KeyboardInterrupt):
        write_recording(tmp_path / "lake", np.zeros((10, 4)))
    assert not (tmp_path / "lake").exists()
