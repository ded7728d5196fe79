"""Files damaged or forged: one clear line or a correct result, never a traceback, a hang or a flood of memory.

Short form: some hundred mutations by hypothesis. Long form (CADENCE_COACH_LONG=1): more of them, and atheris, which
follows the branches of the parsers; it has wheels for Linux on x86-64 alone.
"""

from __future__ import annotations

import os
import platform
import resource
import subprocess
import sys
from functools import lru_cache
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cadence_coach.errors import CouldNot, Refused
from cadence_coach.foil.profile import load_profile
from cadence_coach.sources import open_source
from cadence_coach.store import rescue as rescue_
from cadence_coach.store.outing import Outing
from cadence_coach.store.outing_file import load_outing, save_outing
from cadence_coach.store.recordings import write_recording
from tests.store import made

LONG = bool(os.environ.get("CADENCE_COACH_LONG"))
MANY = settings(
    max_examples=3000 if LONG else 120,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
MOST_MORE_MB = 700
"""The process may not grow by more than this, whatever a file claims."""


@lru_cache(maxsize=1)
def outing_bytes() -> bytes:
    import tempfile

    with tempfile.TemporaryDirectory() as room:
        return save_outing(made.outing(n=80), Path(room) / "a.outing").read_bytes()


@lru_cache(maxsize=1)
def recording_texts() -> dict[str, bytes]:
    import tempfile

    with tempfile.TemporaryDirectory() as room:
        outing = made.outing(n=120)
        fixes = outing.fixes[:, [0, 2, 3, 4, 5, 6]]
        folder = write_recording(Path(room) / "r", outing.accel, outing.gyro, fixes, {"device": "made up"})
        return {p.name: p.read_bytes() for p in folder.iterdir()}


@st.composite
def damaged(draw: st.DrawFn, source) -> bytes:  # type: ignore[no-untyped-def]
    """Bytes overwritten, cut out, doubled or put in, at a few places."""
    data = bytearray(source())
    for _ in range(draw(st.integers(1, 6))):
        at = draw(st.integers(0, max(0, len(data) - 1)))
        match draw(st.integers(0, 4)):
            case 0:
                new = draw(st.binary(min_size=1, max_size=8))
                data[at : at + len(new)] = new
            case 1:
                del data[at : at + draw(st.integers(1, 5000))]
            case 2:
                data[at:at] = data[at : at + draw(st.integers(1, 300))]
            case 3:
                data[at:at] = draw(
                    st.sampled_from(
                        [b"nan", b"1e999", b"-", b",", b"\n", b"\0", b"\xff", b"9" * 400, b'"', b"[", b"=" * 3]
                    )
                )
            case _:
                if data:
                    data[at] ^= 1 << draw(st.integers(0, 7))
    return bytes(data)


def one_line(error: Exception) -> None:
    assert str(error) and "\n" not in str(error)


def used_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


@MANY
@given(data=damaged(outing_bytes))
def test_outing_files(data, tmp_path):
    before = used_mb()
    path = tmp_path / "a.outing"
    path.write_bytes(data)
    try:
        outing = load_outing(path)
    except (Refused, CouldNot) as error:
        one_line(error)
    else:
        assert isinstance(outing, Outing) and len(outing.kinds) == sum(1 for _ in outing.rows())
    assert path.read_bytes() == data and used_mb() - before < MOST_MORE_MB


@MANY
@given(data=damaged(outing_bytes), log=st.binary(max_size=3000))
def test_rescue(data, log, tmp_path):
    path = tmp_path / "a.outing"
    for old in tmp_path.iterdir():
        old.unlink()
    path.write_bytes(data)
    (tmp_path / "a.outing-wal").write_bytes(log)
    try:
        rescue_.rescue(path)
    except (Refused, CouldNot) as error:
        one_line(error)
    rescue_.rescue_folder(tmp_path)


@MANY
@given(
    data=damaged(lambda: recording_texts()["accel.csv"]),
    name=st.sampled_from(["accel.csv", "gyro.csv", "speed.csv", "meta.json"]),
)
def test_recordings(data, name, tmp_path):
    for old, content in recording_texts().items():
        (tmp_path / old).write_bytes(content)
    if name != "accel.csv":
        head = recording_texts()[name]
        data = head[: len(head) // 2] + data[: len(data) // 2]
    (tmp_path / name).write_bytes(data)
    from cadence_coach.core.engine import Engine

    try:
        source = open_source(str(tmp_path))
        engine = Engine()
        for rows in source:
            engine.receive(rows)
            engine.events()
        engine.end()
    except (Refused, CouldNot) as error:
        one_line(error)


PROFILE = b"""[rider]
name = "Invented Ina"
mass_kg = 71.5
height_m = 1.7
[foil]
name = "made up"
wing_area_m2 = 0.15
span_m = 1.1
[water]
kind = "salt"
temperature_c = 15
[phone]
worn_at = "chest"
"""


@MANY
@given(data=damaged(lambda: PROFILE))
def test_profiles(data, tmp_path):
    path = tmp_path / "me.toml"
    path.write_bytes(data)
    try:
        load_profile(path)
    except (Refused, CouldNot) as error:
        one_line(error)


GUIDED = """
import sys, tempfile
from pathlib import Path
import atheris
with atheris.instrument_imports(include=["cadence_coach"]):
    from cadence_coach.store import chunks
    from cadence_coach.store.outing_file import load_outing
    from cadence_coach.store.columns import Table
    from cadence_coach.store.recordings import Recording
    from cadence_coach.foil.profile import load_profile
from cadence_coach.errors import CouldNot, Refused
room = Path(tempfile.mkdtemp())
def one(data):
    path = room / ("a.outing", "a.csv", "a.toml")[data[0] % 3 if data else 0]
    path.write_bytes(data[1:])
    try:
        if path.suffix == ".outing":
            chunks.unpack(data[2:], data[1] if len(data) > 1 else 0, 1 + (len(data) & 1))
            load_outing(path)
        elif path.suffix == ".csv":
            for _ in Recording(path).rows(): pass
        else:
            load_profile(path)
    except (Refused, CouldNot):
        pass
atheris.Setup(sys.argv, one)
atheris.Fuzz()
"""


WHEELS = sys.platform == "linux" and platform.machine() == "x86_64"
"""As pyproject.toml has it: there atheris is installed, and a test without it fails."""


@pytest.mark.skipif(not LONG, reason="guided fuzzing belongs to the long form (CADENCE_COACH_LONG=1)")
@pytest.mark.skipif(not WHEELS, reason="guided fuzzing needs atheris, which has no wheel for this machine")
def test_guided(tmp_path):
    corpus = tmp_path / "corpus"
    corpus.mkdir()
    for n, seed in enumerate((outing_bytes(), recording_texts()["accel.csv"], PROFILE)):
        (corpus / str(n)).write_bytes(bytes([n]) + seed)
    limits = ["-max_total_time=180", "-rss_limit_mb=1500", "-timeout=20", f"-artifact_prefix={tmp_path}/"]
    guided = [sys.executable, "-c", GUIDED, *limits, str(corpus)]
    # a shell between: Linux counts this process's own peak of memory as that of what it starts itself
    done = subprocess.run(["sh", "-c", '"$@"; exit $?', "sh", *guided], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr[-3000:]
