"""Recordings: what is written is read, what is broken is refused in one line, single bad rows are passed on."""

from __future__ import annotations

import csv
import gzip
import json
import math
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
        '"t_s", "ax_m_s2", "ay_m_s2", "az_m_s2"\n'
        + "".join(f'"{i * 0.01:.2f}","0.1","0.2","9.8"\n' for i in range(50)),
    ],
    ids=["order and extra column", "byte order mark", "crlf", "no last newline", "blank lines", "quoted"],
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


# ---- what is refused, and with which words ----

BAD = {
    "empty file": ("", r"accel.csv line 1: the file is empty; its first line must be t_s,ax_m_s2"),
    "no rows": (HEADER, r"accel.csv line 2: no rows"),
    "missing column": (
        "t_s,ax_m_s2,ay_m_s2\n0,1,2\n",
        r"line 1: no column az_m_s2 .*needs t_s,ax_m_s2,ay_m_s2,az_m_s2",
    ),
    "g by name": ("t_s,ax_g,ay_g,az_g\n0,0,0,1\n", r"line 1: no column ax_m_s2 .*multiply g by 9.80665"),
    "milliseconds by name": (
        "t_ms,ax_m_s2,ay_m_s2,az_m_s2\n0,0,0,9.8\n",
        r"line 1: no column t_s .*divide milliseconds by 1000",
    ),
    "no header": ("0,0,0,9.8\n0.01,0,0,9.8\n", r"line 1: no column t_s but numbers .*put the column names"),
    "semicolons": ("t_s;ax_m_s2;ay_m_s2;az_m_s2\n0;0;0;9,8\n", r"line 1: .*separate the columns by commas"),
    "twice": ("t_s,ax_m_s2,ay_m_s2,az_m_s2,t_s\n0,0,0,9.8,0\n", r"line 1: column t_s is there twice"),
    "g by size": (
        HEADER + "".join(f"{i * 0.01:.2f},0,0.1,0.99\n" for i in range(50)),
        r"line 2: .*length of 1.00 .*9.80665",
    ),
    "mg by size": (
        HEADER + "".join(f"{i * 0.01:.2f},0,0,1000\n" for i in range(50)),
        r"line 2: .*length of 1000 .*m/s2",
    ),
    "milliseconds by step": (
        HEADER + "".join(f"{i * 10},0,0,9.8\n" for i in range(50)),
        r"line 2: t_s goes up by 10 .*by 1000",
    ),
    "milliseconds at 1 kHz": (
        HEADER + "".join(f"{i},0,0,9.8\n" for i in range(50)),
        r"line 2: t_s goes up by 1 .*by 1000",
    ),
    "time stands": (HEADER + "1.7e9,0,0,9.8\n" * 50, r"line 2: t_s never moves forward"),
    "no time": (HEADER + "nan,0,0,9.8\n" * 50, r"line 2: no row has a time"),
    "text in most rows": (
        HEADER + REST + "a,b,c,d\n" * 60,
        r"line 52: t_s is 'a' where a number belongs; so it is in most rows",
    ),
    "short in most rows": (HEADER + "0,1\n1,2\n", r"line 2: ay_m_s2 is '' where a number belongs"),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_structure_is_one_clear_line(tmp_path: Path, case: str) -> None:
    text, words = BAD[case]
    (tmp_path / "accel.csv").write_text(text)
    with pytest.raises(Refused, match=words) as caught:
        Recording(tmp_path)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("swing", [0.05, 1.5, 5.0])
def test_gravity_taken_out_is_refused_under_our_names_too(tmp_path: Path, swing: float) -> None:
    """Lying still with noise, or pumping: without gravity what is left averages to little."""
    t = np.arange(600) / 100
    rng = np.random.default_rng(1)
    up = swing * np.sin(2 * np.pi * 1.5 * t) + 0.02 * rng.standard_normal(len(t))
    write_recording(tmp_path / "rec", np.column_stack([t, 0.3 * up, 0 * t, up]))
    with pytest.raises(Refused, match=r"accel.csv line 2: .* m/s2 over a second, .*gravity was taken out"):
        Recording(tmp_path / "rec")
    write_recording(tmp_path / "with", np.column_stack([t, 0.3 * up, 0 * t, up + 9.81]))
    Recording(tmp_path / "with").close()


def test_a_phone_that_tumbles_and_falls_at_first_is_no_such_file(tmp_path: Path) -> None:
    """A quarter of what is looked at: spun over three times a second, then thrown."""
    t = np.arange(BLOCK) / 100
    spin = np.where(t < 7, 2 * np.pi * 3.0 * t, 0.0)
    length = np.where((t > 7) & (t < 10), 0.2, 9.81)
    write_recording(tmp_path / "rec", np.column_stack([t, length * np.sin(spin), 0 * t, length * np.cos(spin)]))
    Recording(tmp_path / "rec").close()


def test_text_in_most_rows_is_found_late_too(tmp_path: Path) -> None:
    path = tmp_path / "late.csv"
    path.write_text(
        HEADER + "".join(f"{i * 0.01:.2f},0,0,9.8\n" for i in range(BLOCK + 10)) + "a,b,c,d\n" * (BLOCK + 20)
    )
    with pytest.raises(Refused, match=f"line {BLOCK + 12}: t_s is 'a'"):
        rows_of(path)


def test_other_bad_structures(tmp_path: Path) -> None:
    write_recording(tmp_path / "rec", *made(200))
    with pytest.raises(Refused, match=r"no accel.csv.*give the recordings in it.*rec"):
        Recording(tmp_path)
    with pytest.raises(Refused, match="is an outing file; look at it with review"):
        Recording(tmp_path / "lake.outing")
    with pytest.raises(Refused, match="no such recording"):
        Recording(tmp_path / "nowhere")
    (tmp_path / "rec/gyro.csv").write_text("t_s,wx_deg_s,wy_deg_s,wz_deg_s\n0,0,0,0\n")
    with pytest.raises(Refused, match=r"gyro.csv line 1: no column wx_rad_s .*0.0174533"):
        Recording(tmp_path / "rec")
    (tmp_path / "packed.csv.gz").write_bytes(b"this is not packed")
    with pytest.raises(Refused, match=r"packed.csv.gz line 1: cannot be unpacked"):
        Recording(tmp_path / "packed.csv.gz")


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
