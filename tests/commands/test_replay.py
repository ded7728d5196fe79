"""replay and demo as a user runs them, with the real engine on simulated and made recordings."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
import wave
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from cadence_coach import VERSIONS, cli
from cadence_coach.commands.demo import FILES, MAKING
from cadence_coach.commands.flight_table import ENDS
from cadence_coach.review.looking import open_looked
from cadence_coach.sim.outing import simulate_outing
from cadence_coach.store.outing_file import load_outing
from cadence_coach.store.recordings import write_recording

KEYS = {
    "cycles": "onset_s peak_s push_end_s peak_g lowest_g size_g travel_m known_s flight",
    "attempts": "start_s end_s pumps started_by landing_g landing_to_push_s ended_by flight",
    "flights": "start_s end_s pumps cadence_hz push_share size_g steadiness started_by ended_by coast_s",
    "gaps": "start_s end_s",
    "faults": "t_s kind count",
    "cues": "t_s kind reason",
    "clicks": "t_s",
}


@pytest.fixture(scope="module")
def outing(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One simulated outing with short flights at 100 Hz."""
    folder = tmp_path_factory.mktemp("made") / "one"
    made = simulate_outing(5, "short", 100.0)
    return write_recording(folder, made.accel, made.gyro, made.fixes, made.meta, made.truth)


def ran(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> tuple[int, str, str]:
    code = cli.run([str(a) for a in arguments])
    out, err = capsys.readouterr()
    return code, out, err


def without_time(document: dict[str, Any], shift: float) -> Any:
    """The same with every time moved by `shift`."""
    return {
        name: [
            {k: v + shift if k.endswith("_s") and v is not None and k not in SPANS else v for k, v in i.items()}
            for i in items
        ]
        if isinstance(items, list)
        else items
        for name, items in document.items()
    }


SPANS = ("landing_to_push_s", "coast_s")


def test_the_json_has_exactly_its_keys(outing: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = ran(capsys, "replay", outing, "--json", tmp_path / "new/out.json")
    assert (code, err) == (0, "")
    document = json.loads((tmp_path / "new/out.json").read_text())
    assert set(document) == {"format", "versions", *KEYS}
    assert document["format"] == "cadence-coach-replay/1"
    assert document["versions"] == VERSIONS
    for name, keys in KEYS.items():
        assert all(set(item) == set(keys.split()) for item in document[name]), name
    truth = json.loads((outing / "truth.json").read_text())
    assert len(document["flights"]) == len(truth["flights"])
    assert out.splitlines()[0].split()[:5] == ["flight", "start", "length", "pumps", "pumps/min"]
    assert len([line for line in out.splitlines() if line.split()[:1] and line.split()[0].isdigit()]) >= len(
        truth["flights"]
    )


def test_every_pump_of_a_flight_is_listed(outing: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ran(capsys, "replay", outing, "--json", tmp_path / "out.json")
    document = json.loads((tmp_path / "out.json").read_text())
    for number, flight in enumerate(document["flights"]):
        pumps = [c for c in document["cycles"] if c["flight"] == number]
        assert len(pumps) == flight["pumps"]
        assert pumps[0]["onset_s"] == flight["start_s"]
    onsets = [c["onset_s"] for c in document["cycles"]]
    assert onsets == sorted(onsets)


def test_a_clock_that_starts_late_changes_nothing_else(
    outing: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """From 0 and from 1e9 s: the same events; 1e9 is added to the text of the file, not to floats."""
    shutil.copytree(outing, tmp_path / "late")
    for name in ("accel", "gyro", "speed"):
        path = tmp_path / f"late/{name}.csv"
        if path.exists():
            head, *lines = path.read_text().splitlines()
            path.write_text("\n".join([head, *(_later(line) for line in lines)]) + "\n")
    ran(capsys, "replay", outing, tmp_path / "late", "--json", tmp_path / "out")
    early, late = (json.loads((tmp_path / f"out/{n}.json").read_text()) for n in ("one", "late"))
    for name in KEYS:
        for a, b in zip(early[name], late[name], strict=True):
            for key, value in a.items():
                if key.endswith("_s") and key not in SPANS and value is not None:
                    assert b[key] - 1e9 == pytest.approx(
                        value, abs=1.2e-6
                    )  # both rounded to 1e-6, floats step by 1.2e-7
                else:
                    assert b[key] == value


def _later(line: str) -> str:
    t, comma, rest = line.partition(",")
    whole, point, part = t.partition(".")
    if t.startswith("-"):  # a first row just before 0
        ns = 10**18 - round(-float(t) * 1e9)
        return f"{ns // 10**9}.{ns % 10**9:09d}{comma}{rest}"
    return f"{int(whole) + 10**9}{point}{part}{comma}{rest}"


def test_several_recordings_go_into_a_folder(outing: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shutil.copy(outing / "accel.csv", tmp_path / "alone.csv")
    code, out, _ = ran(capsys, "replay", outing, tmp_path / "alone.csv", "--json", tmp_path / "out")
    assert code == 0
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == ["alone.json", "one.json"]
    assert "one:" in out.splitlines()
    assert "alone:" in out.splitlines()


def test_bad_rows_are_counted_and_said(outing: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    head, *lines = (outing / "accel.csv").read_text().splitlines()
    for at in range(1000, 3000, 100):
        t = lines[at].partition(",")[0]
        lines[at] = f"{t},nan,0,0"
    for at in range(3000, 3500, 100):
        lines.insert(at, lines[at - 1])
    for at in range(4000, 4500, 100):
        lines.insert(at, lines[at - 10])
    lines[5000] = lines[5000].partition(",")[0] + ",inf,oops,1"
    path = tmp_path / "bad.csv"
    path.write_text("\n".join([head, *lines]) + "\n")
    code, out, err = ran(capsys, "replay", path, "--json", tmp_path / "bad.json")
    assert (code, err) == (0, "")
    counts = _faults(path, tmp_path, capsys)
    own = _faults(outing, tmp_path, capsys)  # the simulated sensor repeats some stamps itself
    added = {kind: count - own.get(kind, 0) for kind, count in counts.items()}
    assert {kind: n for kind, n in added.items() if n} == {"bad_value": 21, "repeated_time": 5, "backward_time": 5}
    (said,) = [line for line in out.splitlines() if line.startswith("Skipped or not used:")]
    for words in ("no number (21)", f"repeated times ({counts['repeated_time']})", "going backward (5)", "1 rows with"):
        assert words in said


def _faults(spec: Path, folder: Path, capsys: pytest.CaptureFixture[str]) -> dict[str, int]:
    """How many of each kind the JSON counts in the end."""
    assert ran(capsys, "replay", spec, "--json", folder / "faults.json")[0] == 0
    return {fault["kind"]: fault["count"] for fault in json.loads((folder / "faults.json").read_text())["faults"]}


@pytest.mark.parametrize("several", [False, True])
def test_a_bad_recording_leaves_nothing_behind(
    several: bool, outing: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "g.csv").write_text("t_s,ax_m_s2,ay_m_s2,az_m_s2\n" + "".join(f"{i / 100},0,0,1\n" for i in range(100)))
    specs = [outing, tmp_path / "g.csv"] if several else [tmp_path / "g.csv"]
    code, out, err = ran(capsys, "replay", *specs, "--json", tmp_path / "out")
    assert (code, out) == (2, "")
    assert err.count("\n") == 1
    assert "g.csv line 2" in err
    assert [p.name for p in tmp_path.iterdir()] == ["g.csv"]


def test_text_that_takes_over_leaves_nothing_behind(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    good = "".join(f"{i / 100},0,0,9.8\n" for i in range(5000))
    (tmp_path / "text.csv").write_text("t_s,ax_m_s2,ay_m_s2,az_m_s2\n" + good + "a,b,c,d\n" * 6000)
    code, out, err = ran(capsys, "replay", tmp_path / "text.csv", "--json", tmp_path / "out.json")
    assert (code, out) == (2, "")
    assert "text.csv line 5002" in err
    assert [p.name for p in tmp_path.iterdir()] == ["text.csv"]


def test_where_text_takes_over_late_what_was_written_before_is_said(
    outing: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    good = "".join(f"{i / 100},0,0,9.8\n" for i in range(5000))
    (tmp_path / "text.csv").write_text("t_s,ax_m_s2,ay_m_s2,az_m_s2\n" + good + "a,b,c,d\n" * 6000)
    into = tmp_path / "out"
    code, _, err = ran(capsys, "replay", outing, tmp_path / "text.csv", "--json", into)
    assert code == 2 and err.count("\n") == 1 and "text.csv line 5002" in err
    assert err.endswith("; of the 1 before it everything is written\n")
    assert [p.name for p in into.iterdir()] == ["one.json"] and json.loads((into / "one.json").read_text())["flights"]
    assert "of those before it everything is" in " ".join(ran(capsys, "replay", "--help")[1].split())


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["{one}", "{one}", "--json", "{tmp}/out"], "one: two recordings of this name"),
        (["{one}", "{alone}", "--json", "{alone}"], "is a file; for several recordings give a folder"),
        (["{tmp}/none"], "no such recording"),
        (["sim:nothing:1"], "no kind 'nothing'"),
        (["sim:short:x"], "is no whole number"),
        (["{one}", "--profile", "{alone}"], "alone.csv"),
    ],
)
def test_asked_wrongly(
    arguments: list[str], words: str, outing: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    alone = tmp_path / "alone.csv"
    shutil.copy(outing / "accel.csv", alone)
    before = alone.read_bytes()
    code, _, err = ran(capsys, "replay", *(a.format(one=outing, tmp=tmp_path, alone=alone) for a in arguments))
    assert code == 2
    assert err.count("\n") == 1
    assert words in err
    assert alone.read_bytes() == before


def test_nothing_but_rest_is_no_flight(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    n = 6000
    rng = np.random.default_rng(3)
    still = np.column_stack([np.arange(n) * 0.01, rng.normal([0, 0, 9.8], 0.02, (n, 3))])
    write_recording(tmp_path / "still", still)
    code, out, _ = ran(capsys, "replay", tmp_path / "still")
    assert code == 0
    assert out.splitlines()[0] == "No flight."


def test_the_detector_can_be_listened_to(outing: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A tick on the exact place of every onset found; without --tick-pumps most of them are silent."""
    levels = []
    for name, more in (("a.wav", ["--tick-pumps"]), ("b.wav", [])):
        code, _, err = ran(capsys, "replay", outing, "--json", tmp_path / "a.json", "--sound", tmp_path / name, *more)
        assert (code, err) == (0, "")
        with wave.open(str(tmp_path / name)) as sound:
            rate = sound.getframerate()
            heard = np.abs(np.frombuffer(sound.readframes(sound.getnframes()), np.int16).astype(float))
        document = json.loads((tmp_path / "a.json").read_text())
        start = json.loads((outing / "truth.json").read_text())["from_s"]
        onsets = [c["onset_s"] - start for c in document["cycles"] if c["flight"] is not None]
        assert len(onsets) > 10
        levels.append(np.array([heard[int(t * rate) : int((t + 0.02) * rate)].max() for t in onsets]))
    assert (levels[0] > 300).all()
    assert np.mean(levels[1] < 100) > 0.5


def test_ticks_without_a_sound_file_are_refused(outing: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = ran(capsys, "replay", outing, "--tick-pumps")
    assert (code, out) == (2, "")
    assert "--sound" in err


def test_the_demo_finds_what_it_made(tmp_path: Path) -> None:
    """In a process of its own, as the README has it; then the three files it leaves, one that was killed before or
    not."""
    (tmp_path / "demo" / MAKING).mkdir(parents=True)
    for name in (*FILES, "demo.outing-wal"):
        (tmp_path / "demo" / MAKING / name).write_bytes(b"half a file")
    for end in ("", "-wal", "-shm", "-journal"):  # SQLite would take these logs for the new file's
        (tmp_path / "demo" / f"demo.outing{end}").write_bytes(b"of the demo before")
    done = subprocess.run(
        [sys.executable, "-m", "cadence_coach", "demo"],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "CADENCE_COACH_HOME": str(tmp_path)},
    )
    assert (done.returncode, done.stderr) == (0, "")
    folder = tmp_path / "demo"
    assert sorted(p.name for p in folder.iterdir()) == ["demo.outing", "heard.wav", "report.html"]
    with wave.open(str(folder / "heard.wav")) as sound:
        seconds = sound.getnframes() / sound.getframerate()
        heard = np.frombuffer(sound.readframes(sound.getnframes()), np.int16)
    assert 400 < seconds < 1500
    assert np.abs(heard).max() > 3000  # a tenth of full scale: clicks and words are in it
    assert "<html" in (folder / "report.html").read_text()
    assert len(load_outing(folder / "demo.outing").accel) > 10_000

    rate = len(heard) / seconds
    told = [line for line in done.stdout.splitlines() if line.startswith(("  clicks ", "  cues ", "  words "))]
    times = [60 * int(m) + int(s) for line in told for m, s in re.findall(r"(\d+):(\d\d)", line)]
    assert len(told) == 3 and len(times) > 6
    for t in times:  # said to the second, and each of them is heard
        assert np.abs(heard[round((t - 1) * rate) : round((t + 2) * rate)].astype(int)).max() > 1000, t
    assert "not found" not in done.stdout
    lines = [line.split() for line in done.stdout.splitlines()]
    truth = [line for line in lines if "truth" in line[:2]]
    estimated = [line for line in lines if line[:1] == ["estimated"]]
    assert len(truth) == len(estimated) >= 4
    assert not [line for line in lines if line[:1] == ["?"]], "a flight that was none"
    (said,) = [line for line in done.stdout.splitlines() if line.startswith("Pumps: ")]
    found, total = int(said.split()[1]), int(said.split()[3])
    assert found >= 0.99 * total

    # One story: table and report agree on the endings; the coach calls the pumps small, the report asks for the same.
    (cues,) = [line for line in told if line.startswith("  cues ")]
    assert cues.count("bigger") >= 3
    page = (folder / "report.html").read_text()
    assert done.stdout.splitlines()[-1].strip() in page
    kept = open_looked(folder / "demo.outing").figures.flights
    assert [" ".join(line[7:]) for line in estimated] == [ENDS[f.ended_by] for f in kept]
    assert "under 0.85 of" not in page  # the core's own line of figures, told more plainly


def test_a_demo_that_is_interrupted_takes_nothing_with_it_and_runs_once_at_a_time(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    yours = {name: tmp_path / name for name in ("demo.outing.backup", "demo.outing-mine")}
    for path in yours.values():
        path.write_text("the only copy")
    first = subprocess.Popen(
        [sys.executable, "-m", "cadence_coach", "demo", "--out", str(tmp_path)], stdout=subprocess.PIPE, text=True
    )
    try:
        until = time.monotonic() + 60.0
        while not (tmp_path / MAKING / "demo.outing").exists() and time.monotonic() < until:
            time.sleep(0.02)
        code, out, err = ran(capsys, "demo", "--out", tmp_path)
        assert (code, out) == (1, "") and err.count("\n") == 1
        assert f"another coach (process {first.pid}) is running" in err
        assert first.poll() is None
        first.send_signal(signal.SIGINT)
        first.communicate(timeout=60)
        assert first.returncode != 0
    finally:
        first.kill()
    assert {p.name: p for p in tmp_path.iterdir()} == yours


def test_the_demo_replaces_nothing_of_yours(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "heard.wav").write_bytes(b"mine")
    code, _, err = ran(capsys, "demo", "--out", tmp_path)
    assert code == 2
    assert "heard.wav: is there already" in err
    assert (tmp_path / "heard.wav").read_bytes() == b"mine"
