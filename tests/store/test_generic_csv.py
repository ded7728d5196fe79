"""Any logger's CSV as a recording: columns and units from names and numbers, a question where in doubt.

Units: BIPM SI brochure; nautical mile 1852 m, statute mile 1609.344 m. Motion: made here from a known rotation; and
human recordings from open data (CADENCE_COACH_OPEN_DATA), rewritten in other units.
"""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import butter, sosfiltfilt

from cadence_coach.errors import Refused
from cadence_coach.sim import simulate_outing
from cadence_coach.store import generic_csv, unit_guess
from cadence_coach.store.recordings import Recording

G = 9.80665


def motion(seconds: float = 30.0, rate: float = 100.0, seed: int = 1, turn_hz: float = 0.11):
    """t, acceleration [m/s2], rotation [rad/s] of a body that turns by 0.35 rad about two axes, bouncing at 1.6 Hz."""
    rng = np.random.default_rng(seed)
    t = np.arange(int(seconds * rate)) / rate
    phase = rng.uniform(0, 6, 2)
    a, b = (0.35 * np.sin(2 * np.pi * turn_hz * (1 + 0.3 * k) * t + phase[k]) for k in range(2))
    up = np.stack([np.sin(b), -np.cos(b) * np.sin(a), np.cos(b) * np.cos(a)], 1)
    # w from up' = -w x up, the smallest w that does it: w = up' x up ... about up itself nothing turns
    rate_of_up = np.gradient(up, t, axis=0)
    gyro = -np.cross(up, rate_of_up)
    size = 1 + 0.5 * np.sin(2 * np.pi * 1.6 * t)
    accel = up * (size * G)[:, None] + rng.normal(0, 0.05, up.shape)
    return t, accel, gyro + rng.normal(0, 0.01, gyro.shape)


def write(path: Path, names: list[str], columns: list, delimiter: str = ",", comma: bool = False) -> Path:
    def cell(value) -> str:
        text = value if isinstance(value, str) else f"{value:.9g}" if value == value else ""
        return text.replace(".", ",") if comma and not isinstance(value, str) else text

    lines = [delimiter.join(names), *(delimiter.join(cell(v) for v in row) for row in zip(*columns, strict=True))]
    path.write_text("\n".join(lines) + "\n")
    return path


def read_back(folder: Path):
    recording = Recording(folder)
    rows = [row for block in recording.rows() for row in block]
    return recording, rows


T, A, W = motion()


def taken(tmp_path, path, **options):
    made, said = generic_csv.to_recording(path, tmp_path / "out", **options)
    recording, rows = read_back(made)
    accel = np.array([r[1:] for r in rows if r[0] == 0])
    gyro = np.array([r[1:] for r in rows if r[0] == 1])
    return recording, accel, gyro, said


def axes(*patterns: str) -> list[str]:
    return [pattern.replace("?", axis) for pattern in patterns for axis in "xyz"]


@pytest.mark.parametrize(
    ("names", "time", "accel", "gyro", "options"),
    [
        (["timestamp", *axes("acc?", "gyro?")], 1e3, 1 / G, 180 / np.pi, {}),
        (["Time (s)", *axes("Acceleration ? (m/s^2)", "w ?")], 1, 1, 1, {}),
        (["t_us", *axes("a?", "g?")], 1e6, 1, 180 / np.pi, {"delimiter": ";", "comma": True}),
        (["elapsed_ns", *axes("acc.?[mg]", "rot ? [deg/s]")], 1e9, 1e3 / G, 180 / np.pi, {"delimiter": "\t"}),
        (["Zeit", *axes("Beschleunigung ?", "omega_?")], 1e3, 1, 1, {"delimiter": ";"}),
    ],
)
def test_columns_and_units_are_found(tmp_path, names, time, accel, gyro, options):
    path = write(tmp_path / "log.csv", names, [T * time, *(A * accel).T, *(W * gyro).T], **options)
    recording, a, w, said = taken(tmp_path, path)
    assert len(a) == len(w) == len(T)
    np.testing.assert_allclose(a[:, 0], T - T[0], atol=2e-6)
    np.testing.assert_allclose(a[:, 1:], A, rtol=2e-6, atol=2e-5)  # float32, and nine digits in the text
    np.testing.assert_allclose(w[:, 1:], W, rtol=2e-6, atol=2e-6)
    assert recording.meta["device"] == "imported from log.csv"
    assert len([line for line in said if "column" in line]) == 7


def test_dates_give_the_time_and_the_day(tmp_path):
    from datetime import UTC, datetime, timedelta

    start = datetime(2026, 6, 1, 9, 30, tzinfo=UTC)
    stamps = [(start + timedelta(seconds=t)).isoformat() for t in T]
    path = write(tmp_path / "log.csv", ["datetime", "x", "y", "z"], [stamps, *A.T])
    recording, a, w, _ = taken(tmp_path, path)
    assert recording.meta["start_utc"] == "2026-06-01T09:30:00Z" and not len(w)
    np.testing.assert_allclose(a[:, 0], T, atol=1e-6)


DATES = [f"2026-06-01 09:30:{t:09.6f}" for t in T]


@pytest.mark.parametrize("last", ["202", "2026-06", "3000", "", "nan"])
def test_a_date_that_is_cut_and_a_footer_are_rows_without_numbers(tmp_path, last):
    path = write(tmp_path / "log.csv", ["time", "ax", "ay", "az"], [DATES, *A.T])
    path.write_text(path.read_text() + (last or ",,,") + "\n")
    left_out: list[str] = []
    _, a, _, _ = taken(tmp_path, path, left_out=left_out)
    np.testing.assert_allclose(a[:, 0], T, atol=2e-6)
    assert left_out == [f"log.csv: 1 rows without numbers, the first in line {len(T) + 2}"]


def test_what_is_neither_number_nor_date_is_the_cell_that_is_shown(tmp_path):
    path = write(tmp_path / "log.csv", ["time", "ax", "ay", "az"], [["5", "2026-06-01 09:30:00", *"abc"], *A[:5].T])
    with pytest.raises(Refused, match="time is 'a', neither a number nor a date"):
        generic_csv.to_recording(path, tmp_path / "out")


@pytest.mark.parametrize(
    ("time", "options", "says"),
    [
        (
            [date[:19] for date in DATES],
            {},
            "'time' in dates goes up by 1 s a row.*; write it with parts of a second, or .* time=NAME$",
        ),
        (T * 1e3, {"units": {"time": "us"}}, "'time' in us goes up by 1e-05 s a row.*; give its unit .* time=NAME$"),
        (T * 1e3, {"units": {"time": "s"}}, "'time' in s goes up by 10 s a row.*; give its unit .* time=NAME$"),
    ],
)
def test_a_time_too_coarse_or_too_fine_is_no_time(tmp_path, time, options, says):
    """What is advised is not what has just been done."""
    path = write(tmp_path / "log.csv", ["time", "ax", "ay", "az"], [time, *A.T])
    with pytest.raises(Refused, match=says):
        generic_csv.to_recording(path, tmp_path / "out", **options)


def test_milliseconds_since_1970_give_the_day_and_keep_the_steps(tmp_path):
    path = write(tmp_path / "log.csv", ["epoch"], [[f"{1780306200000 + 10 * k}" for k in range(len(T))]])
    names = ["epoch", "ax", "ay", "az"]
    path = write(path, names, [[f"{1780306200000 + 10 * k}" for k in range(len(T))], *A.T])
    recording, a, _, _ = taken(tmp_path, path)
    assert recording.meta["start_utc"] == "2026-06-01T09:30:00Z"  # date -u -d @1780306200
    np.testing.assert_allclose(np.diff(a[:, 0]), 0.01, atol=1e-9)


def test_speed_beside_it_and_rows_of_one_sensor_alone(tmp_path):
    """A logger that writes a row for whichever sensor spoke, and repeats the last fix."""
    fix = np.floor(T)
    empty = np.full(len(T), np.nan)
    gyro = np.where((np.arange(len(T)) % 2 == 0)[:, None], W, np.nan)
    columns = [T * 1e3, *A.T, *gyro.T, 18 + fix, 54 + fix * 1e-5, 10 + empty * 0 + fix * 0]
    columns[-1] = np.full(len(T), 10.2)
    names = ["ms", "ax", "ay", "az", "wx", "wy", "wz", "speed (km/h)", "latitude", "longitude"]
    path = write(tmp_path / "log.csv", names, columns)
    made, _ = generic_csv.to_recording(path, tmp_path / "out", columns={"time": "ms"})
    _, rows = read_back(made)
    fixes = [r for r in rows if r[0] == 2]
    assert [round(f[3] * 3.6, 6) for f in fixes] == [18 + k for k in range(30)]
    assert [f[4] for f in fixes[:2]] == [54.0, 54.00001]
    assert len([r for r in rows if r[0] == 1]) == len(T) // 2


def asked_with(answers: dict[str, str]):
    seen = []

    def ask(question):
        seen.append(question)
        return answers[question.key]

    return ask, seen


@pytest.mark.parametrize(
    ("names", "scale", "answers", "unit"),
    [
        (["t", "ax", "ay", "az"], 1000 / G, {"accel": "mg"}, "mg"),  # 1000: mg or cm/s2
        (["t", "ax [g]", "ay [g]", "az [g]"], 1.0, {"accel": "m/s2"}, "m/s2"),  # the name says g, the numbers 9.8
    ],
)
def test_what_is_in_doubt_is_asked(tmp_path, names, scale, answers, unit):
    path = write(tmp_path / "log.csv", names, [T, *(A * scale).T])
    ask, seen = asked_with(answers)
    _, a, _, said = taken(tmp_path, path, ask=ask)
    assert [q.key for q in seen] == ["accel"] and len(seen[0].choices) == 2
    np.testing.assert_allclose(a[:, 1:], A, rtol=2e-6, atol=2e-5)
    assert f"acceleration in {unit}" in said
    with pytest.raises(Refused, match="--units accel=UNIT"):
        generic_csv.to_recording(path, tmp_path / "other")
    generic_csv.to_recording(path, tmp_path / "third", units={"accel": unit})


def test_a_still_gyroscope_without_a_unit_is_asked_about(tmp_path):
    path = write(tmp_path / "log.csv", ["t", "ax", "ay", "az", "gx", "gy", "gz"], [T, *A.T, *(W * 0 + 0.01).T])
    ask, seen = asked_with({"gyro": "deg/s"})
    taken(tmp_path, path, ask=ask)
    assert [q.key for q in seen] == ["gyro"]


def test_two_candidates_are_asked_about_and_gravity_stays(tmp_path):
    names = ["t", "acc x", "acc y", "acc z", "linear acc x", "linear acc y", "linear acc z"]
    path = write(tmp_path / "log.csv", names, [T, *A.T, *(A * 0.1).T])
    _, a, _, said = taken(tmp_path, path)
    assert "ax: column 'acc x'" in said and len(a)
    names = ["t", "left acc x", "left acc y", "left acc z", "right acc x", "right acc y", "right acc z"]
    path = write(tmp_path / "two.csv", names, [T, *A.T, *A.T])
    doubts = "; ".join(f"a{c} could be 'left acc {c}' or 'right acc {c}'" for c in "xyz")
    with pytest.raises(Refused, match=f"{doubts}; say it with --columns ax=NAME,ay=NAME,az=NAME"):
        generic_csv.to_recording(path, tmp_path / "other")


def test_notes_before_the_table_are_passed_over(tmp_path):
    path = write(tmp_path / "log.csv", ["t", "ax", "ay", "az"], [T, *A.T])
    path.write_text("# rate, 100, Hz, as asked\nworn at the back\n\n" + path.read_text())
    _, a, _, _ = taken(tmp_path, path)
    assert len(a) == len(T)
    np.testing.assert_allclose(a[:, 1:], A, rtol=2e-6, atol=2e-5)


def test_days_before_months_where_points_say_so(tmp_path):
    stamps = [f"3.6.2026 9:{int(t) // 60:02d}:{t % 60:09.6f}" for t in T]
    path = write(tmp_path / "log.csv", ["Zeit", "ax", "ay", "az"], [stamps, *A.T], delimiter=";", comma=True)
    recording, a, _, _ = taken(tmp_path, path)
    assert recording.meta["start_utc"] == "2026-06-03T09:00:00Z"
    np.testing.assert_allclose(a[:, 0] - a[0, 0], T, atol=1e-6)


@pytest.mark.parametrize(("unit", "scale"), [("g", 1 / G), ("m/s2", 1.0)])
def test_motion_and_gravity_apart_are_added_up(tmp_path, unit, scale):
    up = A / np.linalg.norm(A, axis=1)[:, None] * G
    names = ["time", "user_ax", "user_ay", "user_az", "gravity x", "gravity y", "gravity z"]
    path = write(tmp_path / "log.csv", names, [T, *((A - up) * scale).T, *(up * scale).T])
    _, a, _, said = taken(tmp_path, path)
    assert f"acceleration in {unit}" in said and "gravity_x: column 'gravity x'" in said
    np.testing.assert_allclose(a[:, 1:], A, rtol=2e-6, atol=2e-5)


def test_a_whole_acceleration_has_its_gravity_already(tmp_path):
    names = ["time", "acc x", "acc y", "acc z", "gravity x", "gravity y", "gravity z"]
    _, a, _, _ = taken(tmp_path, write(tmp_path / "log.csv", names, [T, *A.T, *A.T]))
    np.testing.assert_allclose(a[:, 1:], A, rtol=2e-6, atol=2e-5)


@pytest.mark.parametrize("kind", ["short", "rough", "landwalk", "swell"])
def test_gravity_taken_out_is_never_mistaken_for_another_unit(tmp_path, kind):
    """What is left of a simulated outing without its slow part averages 0.4 to 1.2 m/s2, as 1 g in g would."""
    accel = simulate_outing(1, kind, 100.0).accel
    accel = accel[np.isfinite(accel).all(axis=1)]
    slow = sosfiltfilt(butter(2, 0.15, fs=100, output="sos"), accel[:, 1:], axis=0)
    left = accel[:, 1:] - slow / np.linalg.norm(slow, axis=1)[:, None] * G
    path = write(tmp_path / "log.csv", ["time", "ax", "ay", "az"], [accel[:, 0], *left.T])
    with pytest.raises(Refused, match="gravity was taken out"):
        generic_csv.to_recording(path, tmp_path / "out")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "the file is empty"),
        ("a word\nand another\n", "no table"),
        ("PK\x03\x04,\x00,,,,\n", "is not text"),
        ("t,ax,ay,az\n3/6/2026 9:00:00,0,0,9.8\n", "--columns time=NAME"),
        ("1,2,3,4\n5,6,7,8\n", "no names"),
        ("t,ax,ay,az\n", "no rows"),
        ("t,ax,ay,az\n5,0,0,9.8\n5,0,0,9.8\n", "never moves forward"),
        ("t,ax,ay,az\n2026-06-01,0,0,9.8\n2026-06-01,0,0,9.8\n", "t never moves forward; choose the time.s column"),
        ("t,ax,ay,az\nmonday,0,0,9.8\ntuesday,0,0,9.8\n", "neither a number nor a date"),
        ("t,ax,ay,az\n0,0,0,0.1\n0.01,0,0,0.2\n0.02,0,0,0.1\n", "gravity was taken out"),
        ("t,depth,b,c\n0,0,0,1\n0.01,0,0,1\n", "no column looks like ax"),
        ("t,ax,ay,az\n0,,,\n0.01,,,\n", "no row has an acceleration"),
    ],
)
def test_what_is_no_recording_is_refused_in_one_line(tmp_path, text, says):
    path = tmp_path / "log.csv"
    path.write_text(text)
    with pytest.raises(Refused, match=says) as refused:
        generic_csv.to_recording(path, tmp_path / "out")
    assert "\n" not in str(refused.value)
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    "wrong",
    [{"columns": {"ax": "nope"}}, {"columns": {"up": "ax"}}, {"units": {"accel": "stone"}}, {"units": {"weight": "g"}}],
)
def test_wrong_options_are_refused(tmp_path, wrong):
    path = write(tmp_path / "log.csv", ["t", "ax", "ay", "az"], [T, *A.T])
    with pytest.raises(Refused, match=r"--(columns|units)"):
        generic_csv.to_recording(path, tmp_path / "out", **wrong)


def test_ours_is_known_as_ours(tmp_path):
    assert generic_csv.is_ours(write(tmp_path / "a.csv", ["t_s", "ax_m_s2", "ay_m_s2", "az_m_s2"], [T, *A.T]))
    assert not generic_csv.is_ours(write(tmp_path / "b.csv", ["t", "ax", "ay", "az"], [T, *A.T]))
    (tmp_path / "c.csv").write_text("# a note\n" + (tmp_path / "a.csv").read_text())
    assert not generic_csv.is_ours(tmp_path / "c.csv")


@settings(max_examples=25, deadline=None)
@given(
    st.integers(0, 10**6),
    st.floats(0.04, 0.4),
    st.sampled_from(["rad/s", "deg/s"]),
    st.sampled_from([50.0, 100.0, 200.0]),
)
def test_the_rotations_unit_is_told_by_how_gravity_turns(seed, turn_hz, unit, rate):
    t, accel, gyro = motion(30.0, rate, seed, turn_hz)
    told = unit_guess.rotation_unit(t, accel, gyro / unit_guess.ROTATION[unit])
    assert told in (unit, None)
    if turn_hz < 0.3:
        assert told == unit


def test_people_in_other_units_come_back_the_same(tmp_path):
    """Open human recordings, written as another logger would: g, degrees a second, milliseconds, semicolons."""
    where = os.environ.get("CADENCE_COACH_OPEN_DATA")
    if not where:
        print("\nNOT RUN: import of people's recordings in other units; set CADENCE_COACH_OPEN_DATA", flush=True)
        pytest.skip("CADENCE_COACH_OPEN_DATA is not set")
    told = []
    folders = sorted(p for p in Path(where).iterdir() if (p / "accel.csv").exists() or (p / "accel.csv.gz").exists())
    assert folders, f"no recordings in {where}"
    for folder in folders:
        _, rows = read_back(folder)
        a = np.array([r[1:] for r in rows if r[0] == 0])
        w = np.array([r[1:] for r in rows if r[0] == 1])
        names, columns = ["ms", "accx", "accy", "accz"], [np.round(a[:, 0] * 1e3, 6), *(a[:, 1:] / G).T]
        if len(w) == len(a):
            names += ["gyrx", "gyry", "gyrz"]
            columns += [*(w[:, 1:] * 180 / np.pi).T]
        path = write(tmp_path / f"{folder.name}.csv", names, columns, delimiter=";")
        made, said = generic_csv.to_recording(path, tmp_path / folder.name, columns={"time": "ms"})
        _, again = read_back(made)
        b = np.array([r[1:] for r in again if r[0] == 0])
        np.testing.assert_allclose(b[:, 1:], a[:, 1:], rtol=5e-6, atol=5e-5)
        told += [line for line in said if line.startswith("rotation")]
    assert set(told) <= {"rotation in deg/s"}


def test_the_command_takes_it_and_makes_the_same_outing_as_of_a_recording(tmp_path):
    """Through the command line itself: another logger's CSV and our own recording of the same samples."""
    import subprocess
    import sys

    from cadence_coach.store.outing_file import load_outing
    from cadence_coach.store.recordings import write_recording

    def run(*arguments):
        command = [sys.executable, "-m", "cadence_coach", "import", *map(str, arguments)]
        return subprocess.run(command, capture_output=True, text=True, stdin=subprocess.DEVNULL)

    exact = np.round(A / G, 4)
    write(tmp_path / "log.csv", ["ms", "accx", "accy", "accz"], [T * 1e3, *exact.T], delimiter=";")
    write_recording(tmp_path / "rec", np.column_stack([T, exact * G]))
    told = run(tmp_path / "log.csv", "--columns", "time=ms", "--out", tmp_path / "a")
    assert told.returncode == 0, told.stderr
    assert "acceleration in g" in told.stdout
    again = run(tmp_path / "log.csv", "--columns", "time=ms", "--out", tmp_path / "a")
    assert "is there already" in again.stdout
    assert run(tmp_path / "rec", "--out", tmp_path / "b").returncode == 0
    one, other = (load_outing(next((tmp_path / x).glob("*.outing"))) for x in "ab")
    np.testing.assert_array_equal(one.accel, other.accel)
    assert one.cycles == other.cycles and one.flights == other.flights
    assert len(one.cycles) > 20
    write(tmp_path / "doubt.csv", ["ms", "accx", "accy", "accz"], [T * 1e3, *(A * 100).T])
    refused = run(tmp_path / "doubt.csv", "--columns", "time=ms", "--out", tmp_path / "c")
    assert refused.returncode == 2 and "--units accel=UNIT" in refused.stderr
    assert "\n" not in refused.stderr.strip()


def test_at_a_terminal_the_question_is_asked(tmp_path):
    """In a real terminal (pty): the question stands there, the typed answer is taken."""
    import pty
    import subprocess
    import sys

    path = write(tmp_path / "doubt.csv", ["time_ms", "accx", "accy", "accz"], [T * 1e3, *(A * 1000 / G).T])
    ours, theirs = pty.openpty()
    command = [sys.executable, "-m", "cadence_coach", "import", str(path), "--out", str(tmp_path / "out")]
    running = subprocess.Popen(command, stdin=theirs, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    os.write(ours, b"mg\n")
    out, err = running.communicate(timeout=120)
    os.close(ours)
    os.close(theirs)
    assert running.returncode == 0, err
    assert "is it mg or cm/s2?" in err and "acceleration in mg" in out
    assert len(list((tmp_path / "out").glob("*.outing"))) == 1
