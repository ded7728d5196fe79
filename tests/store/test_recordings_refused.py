"""What is no recording is refused in one line that says what, where and what to do; so is a unit or a clock of its own."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from cadence_coach.errors import Refused
from cadence_coach.store.columns import BLOCK
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
