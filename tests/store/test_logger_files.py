"""Several CSVs of one logger, a sensor each, as one recording: against the same motion in one file of ours."""

from __future__ import annotations

import subprocess
import sys
import zipfile
from pathlib import Path

import numpy as np
import pytest

from cadence_coach.errors import Refused
from cadence_coach.store import logger_files
from cadence_coach.store.recordings import write_recording
from tests.store.test_generic_csv import A, G, T, W, read_back, write

EPOCH = 1780306200
"""2026-06-01 09:30:00 UTC (GNU date -d @1780306200)."""
TG = T[7:-20] + 0.0031
"""The gyroscope begins later, ends sooner and has moments of its own."""
WG = np.stack([np.interp(TG, T, w) for w in W.T], 1)
TF = np.arange(0.25, 29.0, 1.0)
KMH = 15.0 + np.floor(TF) / 10.0
AXES_M_S2 = [f"a{c} (m/s2)" for c in "xyz"]


def iso(t: float) -> str:
    whole, milli = divmod(round(t * 1000), 1000)
    return f"2026-06-01T09:30:{whole:02d}.{milli:03d}Z"


def dated(folder: Path) -> list[Path]:
    """Acceleration in g by ns from 1970, rotation in deg/s by ms from 1970, place by dates with km/h, and a compass."""
    folder.mkdir(exist_ok=True)
    ns = [str(EPOCH * 10**9 + round(t * 1e9)) for t in T]
    ms = [f"{EPOCH * 1000 + t * 1e3:.4f}" for t in TG]
    return [
        write(folder / "Accelerometer.csv", ["time", "x", "y", "z"], [ns, *(A / G).T]),
        write(folder / "Compass.csv", ["time", "x", "y", "z"], [ns, *(A * 5).T]),
        write(folder / "Gyroscope.csv", ["timestamp (ms)", "z", "y", "x"], [ms, *np.degrees(WG[:, ::-1]).T], ";"),
        write(folder / "Place.csv", ["date", "speed (km/h)", "lat", "lon"],
              [[iso(t) for t in TF], KMH, 54 + TF * 1e-5, 10 + 0 * TF]),
    ]  # fmt: skip


def bare(folder: Path) -> list[Path]:
    """The same counted from the logger's start, each in another unit; the place without a position."""
    folder.mkdir(exist_ok=True)
    return [
        write(folder / "acc.csv", ["seconds", "ax", "ay", "az"], [T, *A.T]),
        write(folder / "gyr.csv", ["t (us)", "gx (rad/s)", "gy (rad/s)", "gz (rad/s)"], [TG * 1e6, *WG.T]),
        write(folder / "speed.csv", ["time ms", "speed m/s"], [TF * 1e3, KMH / 3.6]),
    ]


def taken(tmp_path: Path, paths: list[Path], **options):
    parts = logger_files.joined(logger_files.sheets(paths))
    made, said = logger_files.to_recording(parts, tmp_path / "made", **options)
    recording, rows = read_back(made)
    return recording, [np.array([r[1:] for r in rows if r[0] == kind], float) for kind in (0, 1, 2)], said


@pytest.mark.parametrize(("files", "start"), [(dated, "2026-06-01T09:30:00Z"), (bare, None)])
def test_each_sensor_in_its_own_file_clock_and_unit(tmp_path, files, start):
    recording, (a, w, f), said = taken(tmp_path, files(tmp_path / "in"))
    assert recording.meta.get("start_utc") == start
    np.testing.assert_allclose(a[:, 0], T, atol=2e-6)
    np.testing.assert_allclose(a[:, 1:], A, rtol=1e-6, atol=1e-6)
    np.testing.assert_allclose(w[:, 0], TG, atol=2e-6)  # a double holds 2026 in ms to 0.0002 ms
    np.testing.assert_allclose(w[:, 1:], WG, rtol=1e-6, atol=1e-6)
    np.testing.assert_allclose(f[:, 0], TF, atol=2e-6)
    np.testing.assert_allclose(f[:, 2], KMH / 3.6, atol=1e-6)
    assert not any("Compass" in line for line in said)


def test_gravity_in_a_file_of_its_own_is_added_again(tmp_path):
    """Motion without gravity beside gravity, the two sampled at other moments."""
    up = np.stack([np.convolve(c, np.ones(101) / 101, "same") for c in A.T], 1)
    paths = [
        write(tmp_path / "linear acceleration.csv", ["t (s)", "x", "y", "z"], [T, *(A - up).T]),
        write(tmp_path / "gravity.csv", ["t (s)", "x", "y", "z"], [T[::2], *up[::2].T]),
    ]
    _, (a, _, _), said = taken(tmp_path, paths)
    assert "gravity added to the acceleration" in said
    inner = (a[:, 0] > 1.0) & (a[:, 0] < 28.0)
    k = np.searchsorted(T, a[inner, 0] - 1e-4)
    np.testing.assert_allclose(a[inner, 1:], A[k], atol=0.06)  # between two samples of gravity, on a straight line


def test_of_two_accelerations_the_one_with_gravity_and_its_own_correction(tmp_path):
    write(tmp_path / "LinearAcceleration.csv", ["t (s)", "x", "y", "z"], [T, *(A * 0.1).T])
    write(tmp_path / "AccelerometerUncalibrated.csv", ["t (s)", "x", "y", "z"], [T, *(A + 1).T])
    files = sorted([*tmp_path.glob("*.csv"), *bare(tmp_path)])
    _, (a, _, _), _ = taken(tmp_path, files)
    np.testing.assert_allclose(a[:, 1:], A, rtol=1e-6, atol=1e-6)


def test_recordings_that_are_whole_stay_recordings_of_their_own(tmp_path):
    names = ["t (s)", "ax", "ay", "az", "wx", "wy", "wz"]
    paths = [write(tmp_path / f"{n}.csv", names, [T, *A.T, *W.T]) for n in "ab"]
    assert logger_files.joined(logger_files.sheets(paths)) is None


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda p: dated(p.parent / "d")[3].rename(p / "speed.csv"), "speed.csv tells the date and acc.csv does not"),
        (lambda p: write(p / "gyr.csv", ["t (s)", "x", "y", "z"], [TG + 900.0, *WG.T]), "no moment in common"),
        (lambda p: (p / "acc.csv").unlink(), "no file holds an acceleration"),
        (lambda p: write(p / "acc2.csv", ["t (s)", "ax", "ay", "az"], [T, *A.T]), "acc.csv and acc2.csv hold the same"),
        (lambda p: write(p / "acc.csv", ["t (s)", *AXES_M_S2], [T, *(A - A.mean(axis=0)).T]), "gravity was taken out"),
        (lambda p: write(p / "gyr.csv", ["n", "gx", "gy", "gz"], [TG, *WG.T]), "no column looks like the time"),
    ],
)  # fmt: skip
def test_what_does_not_belong_together_is_refused_in_one_line(tmp_path, change, says):
    folder = tmp_path / "in"
    bare(folder)
    change(folder)
    with pytest.raises(Refused, match=says) as refused:
        taken(tmp_path, sorted(folder.iterdir()))
    assert "\n" not in str(refused.value)
    assert not (tmp_path / "made").exists()


def test_columns_and_units_that_a_person_names(tmp_path):
    folder = tmp_path / "in"
    paths = bare(folder)
    write(folder / "gyr.csv", ["n", "gx", "gy", "gz"], [TG, *np.degrees(WG).T])
    _, (_, w, _), _ = taken(tmp_path, paths, columns={"time": "n"}, units={"gyro": "deg/s"})
    np.testing.assert_allclose(w[:, 1:], WG, rtol=1e-6, atol=1e-6)
    for wrong in ({"columns": {"time": "nope"}}, {"columns": {"up": "n"}}, {"units": {"gyro": "stone"}}):
        with pytest.raises(Refused, match=r"--(columns|units)"):
            taken(tmp_path, paths, **wrong)


# ---- packed, and through the command ----


def pack(path: Path, files: list[Path], inside: str = "") -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        for file in files:
            packed.write(file, f"{inside}{file.name}")
    return path


def test_names_in_a_packed_file_stay_in_the_room(tmp_path):
    files = bare(tmp_path / "in")
    room = tmp_path / "deep" / "room"
    room.mkdir(parents=True)
    found = logger_files.unpacked(pack(tmp_path / "walk.zip", files, "../../"), room)
    assert found == [room / p.name for p in files]
    assert sorted(p.name for p in tmp_path.iterdir()) == ["deep", "in", "walk.zip"]


@pytest.mark.parametrize(
    ("damage", "says"),
    [
        (lambda p, files: p.write_bytes(b"PK\x03\x04 nothing"), "cannot be unpacked"),
        (lambda p, files: p.write_bytes(pack(p, files).read_bytes()[:-300]), "cannot be unpacked"),
        (lambda p, files: pack(p, [Path(__file__)]), "no .csv, .txt, .tsv is in it"),
        (lambda p, files: pack(p, files) and zipfile.ZipFile(p, "a").write(files[0], "b/acc.csv"), "in it twice"),
    ],
)
def test_a_packed_file_that_is_none_is_refused(tmp_path, damage, says):
    path = tmp_path / "walk.zip"
    damage(path, bare(tmp_path / "in"))
    room = tmp_path / "room"
    room.mkdir()
    with pytest.raises(Refused, match=says) as refused:
        logger_files.unpacked(path, room)
    assert "\n" not in str(refused.value)


def test_a_packed_file_that_grows_beyond_all_outings_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(logger_files, "MOST_BYTES", 1 << 20)
    big = tmp_path / "acc.csv"
    big.write_bytes(b"0" * (2 << 20))
    (tmp_path / "room").mkdir()
    with pytest.raises(Refused, match="unpacks to more than"):
        logger_files.unpacked(pack(tmp_path / "walk.zip", [big]), tmp_path / "room")
    assert not any((tmp_path / "room").iterdir())


def run(*arguments):
    command = [sys.executable, "-m", "cadence_coach", "import", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, stdin=subprocess.DEVNULL)


def test_files_folder_and_packed_file_become_the_same_one_outing(tmp_path):
    """Through the command line itself, beside our own recording of the same samples."""
    from cadence_coach.store.outing_file import load_outing

    files = dated(tmp_path / "in")
    ways = {
        "files": files,
        "folder": [tmp_path / "in"],
        "zip": [pack(tmp_path / "walk.zip", files, "walk/")],
    }
    seen = {}
    for name, what in ways.items():
        told = run(*what, "--out", tmp_path / name)
        assert told.returncode == 0, told.stderr
        assert "left out: Compass.csv" in told.stdout and "speed in km/h" in told.stdout
        [made] = (tmp_path / name).glob("*.outing")
        seen[name] = load_outing(made)
    again = run(tmp_path / "walk.zip", "--out", tmp_path / "files")
    assert "is there already" in again.stdout
    fixes = np.column_stack([TF, KMH / 3.6, 54 + TF * 1e-5, 10 + 0 * TF, np.full((len(TF), 2), np.nan)])
    ours = write_recording(
        tmp_path / "rec",
        np.column_stack([T, A]),
        np.column_stack([TG, WG]),
        fixes,
        {"start_utc": "2026-06-01T09:30:00Z"},
    )
    told = run(pack(tmp_path / "ours.zip", list(ours.iterdir())), "--out", tmp_path / "zipped")
    assert told.returncode == 0, told.stderr
    [made] = (tmp_path / "zipped").glob("*.outing")
    truth = load_outing(made)
    assert truth.start_utc == "2026-06-01T09:30:00Z"
    for found in seen.values():
        assert found.uuid == seen["files"].uuid and found.start_utc == truth.start_utc
        assert len(found.cycles) == len(truth.cycles) > 20
        onsets = [[c.onset for c in o.cycles] for o in (found, truth)]
        np.testing.assert_allclose(*onsets, atol=1e-4)
        assert len(found.fixes) == len(truth.fixes) == len(TF)


def test_rows_without_numbers_are_counted_file_by_file(tmp_path):
    paths = bare(tmp_path)
    for path, at in ((paths[0], 3), (paths[1], 7)):
        lines = path.read_text().splitlines()
        lines[at : at + 2] = [f"{line.split(',')[0]},-,-,-" for line in lines[at : at + 2]]
        path.write_text("\n".join(lines) + "\n")
    left_out: list[str] = []
    taken(tmp_path, paths, left_out=left_out)
    assert left_out == [
        "acc.csv: 2 rows without numbers, the first in line 4",
        "gyr.csv: 2 rows without numbers, the first in line 8",
    ]
