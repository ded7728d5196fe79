"""What is no recording is refused in one line: what, where, what to do. So is a unit or a clock of its own."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from cadence_coach import cli
from cadence_coach.errors import Refused
from cadence_coach.sim import simulate_outing
from cadence_coach.store.columns import BLOCK
from cadence_coach.store.outing_file import load_outing
from cadence_coach.store.recordings import Recording, write_recording
from tests.store.test_recordings import HEADER, REST, made, rows_of

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
    "commas in numbers": (
        HEADER + "".join(f"0,{i:02d},0,1,0,2,9,8\n" for i in range(50)),
        r"line 2: 8 cells under 4 names, and so in most rows; write numbers with points",
    ),
    "commas in numbers, in quotation marks": (
        HEADER + "".join(f'"0,{i:02d}","0,1","0,2","9,8"\n' for i in range(50)),
        r"line 2: 8 cells under 4 names, and so in most rows; write numbers with points",
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


# ---- the tables beside the acceleration ----

SPEEDS = np.array([0.4, 1.2, 3.9, 4.8, 5.3, 5.6, 5.4, 5.0, 1.1, 0.3] * 4)


def beside(folder: Path, gyro: object = None, fixes: object = None) -> Path:
    """A recording of 40 s with a rotation or fixes of its own: a function of those that fit."""
    accel, turns, _ = made(4000)
    speeds = np.full((len(SPEEDS), 6), np.nan)
    speeds[:, 0], speeds[:, 1] = np.arange(len(SPEEDS)), SPEEDS
    for change, data in ((gyro, turns), (fixes, speeds)):
        if change:
            change(data)  # type: ignore[operator]
    return write_recording(folder, accel, turns, speeds)


def scaled(column: int, by: float = 1.0, later: float = 0.0):
    def change(data: np.ndarray) -> None:
        data[:, column] = data[:, column] * by + later

    return change


@pytest.mark.parametrize(
    ("gyro", "fixes", "words"),
    [
        (scaled(0, 1000), None, r"gyro.csv line 2: t_s goes up by 14 a row; it must be seconds, divide milliseconds"),
        (None, scaled(0, 1000), r"speed.csv line 2: t_s goes up by 1000 a row; it must be seconds, divide millisec"),
        (None, scaled(0, 100), r"speed.csv line 2: t_s goes up by 100 a row"),  # ms, 10 Hz
        (scaled(0, 1, 1.78e9), None, r"gyro.csv line 2: t_s is about 1780000020 where it is 19.99 in accel.csv; count"),
        (None, scaled(0, 1, 1.78e9), r"speed.csv line 2: t_s is about 1780000019 where it is 19.99 in accel.csv; coun"),
        (None, scaled(0, 1, -90_000), r"speed.csv line 2: t_s is about -89981 where it is 19.99 in accel.csv"),
    ],
)
def test_another_clock_beside_the_acceleration_is_refused(tmp_path, gyro, fixes, words) -> None:
    with pytest.raises(Refused, match=words) as told:
        Recording(beside(tmp_path / "rec", gyro, fixes))
    assert "\n" not in str(told.value)


def test_two_fixes_far_apart_are_no_milliseconds(tmp_path: Path) -> None:
    """A phone on the chest under water."""

    fixes = np.full((5, 6), np.nan)
    fixes[:, 0], fixes[:, 1] = 300 * np.arange(5), 4.0
    Recording(write_recording(tmp_path / "rec", made(4000)[0], None, fixes)).close()


def test_a_first_row_astray_is_no_other_clock(tmp_path: Path) -> None:
    def astray(data: np.ndarray) -> None:
        data[0, 0] = 1.78e9

    Recording(beside(tmp_path / "rec", astray, astray)).close()


@pytest.mark.parametrize("later", [-100.0, 100.0, 3600.0])
@pytest.mark.parametrize("table", ["gyro", "fixes"])
def test_no_moment_in_common_is_said(tmp_path: Path, table: str, later: float) -> None:
    recording = Recording(beside(tmp_path / "rec", **{table: scaled(0, 1, later)}))
    assert sum(map(len, recording.rows())) == 2 * 4000 + len(SPEEDS)
    name = {"gyro": "gyro.csv", "fixes": "speed.csv"}[table]
    assert recording.notes == [f"{name} and accel.csv have no moment in common"]


def test_speeds_of_no_rider_are_said_and_taken(tmp_path: Path) -> None:
    """In km/h, or in a boat: nothing in the figures tells which."""
    recording = Recording(beside(tmp_path / "rec", None, scaled(1, 3.6)))
    assert recording.notes == [
        "speed.csv was taken as m/s, though a tenth of it is over 19.5: if it is km/h, divide it by 3.6"
    ]
    assert [row[3] for block in recording.rows() for row in block if row[0] == 2] == list(SPEEDS * 3.6)
    assert Recording(beside(tmp_path / "rider")).notes == []


def in_degrees(seed: int, kind: str):
    """A simulated outing, and its rotation in deg/s."""
    while (outing := simulate_outing(seed, kind, 100.0)).gyro is None:
        seed += 100
    return outing, np.column_stack([outing.gyro[:, 0], np.degrees(outing.gyro[:, 1:])])


@pytest.mark.parametrize(
    ("kind", "seed"), [("calm", 8), ("rough", 12), ("dock", 14), ("landwalk", 16), ("tow", 3), ("mixed", 4)]
)
def test_degrees_a_second_are_refused_and_radians_taken(tmp_path: Path, kind: str, seed: int) -> None:
    outing, degrees = in_degrees(seed, kind)
    Recording(write_recording(tmp_path / "rad", outing.accel, outing.gyro)).close()
    with pytest.raises(Refused, match=r"gyro.csv line 2: the rotation has a median .*multiply degrees by 0.0174533$"):
        Recording(write_recording(tmp_path / "deg", outing.accel, degrees))


@pytest.mark.parametrize("slowly", [0.0, 0.5])
def test_a_phone_that_is_shaken_is_no_degrees(tmp_path: Path, slowly: float) -> None:
    """Up to six radians a second or more, for as long as it is looked at."""
    t = np.arange(BLOCK) / 100
    angle = 0.6 * np.sin(10 * t) + slowly * np.sin(0.6 * t)
    accel = np.column_stack([t, 9.81 * np.sin(angle), 0 * t, 9.81 * np.cos(angle)])
    gyro = np.column_stack([t, 0 * t, -np.gradient(angle, t), 0 * t])
    assert np.median(np.abs(gyro[:, 2])) > 4
    Recording(write_recording(tmp_path / "rec", accel, gyro)).close()


def test_degrees_that_the_acceleration_says_nothing_of(tmp_path: Path) -> None:
    """Lying still, as if upright on a turntable: three turns a second are no body."""
    t = np.arange(BLOCK) / 100
    still = np.column_stack([t, 0 * t, 0 * t, 9.81 + 0 * t])
    with pytest.raises(Refused, match=r"median length of 20 where rad/s belong"):
        Recording(write_recording(tmp_path / "rec", still, np.column_stack([t, 0 * t, 0 * t, 20 + 0 * t])))


def test_import_says_how_degrees_are_taken_and_so_it_is(tmp_path: Path, capsys, monkeypatch) -> None:
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path / "home"))
    outing, degrees = in_degrees(8, "calm")
    folder = write_recording(tmp_path / "deg", outing.accel, degrees, outing.fixes)
    assert cli.run(["import", str(folder)]) == 2
    assert cli.run(capsys.readouterr().err.split("`")[1].split()) == 0
    kept = load_outing(next((tmp_path / "home" / "outings").iterdir()))
    np.testing.assert_allclose(kept.gyro[:, 1:], outing.gyro[:, 1:], rtol=1e-5, atol=1e-6)
    assert (kept.fixes is None) == (outing.fixes is None)
