"""What comes from outside as text: notes, commands to a running coach, tables of other loggers and of flights, what a
stranger's outing says beside its samples. One clear line or a right result; the coach goes on.

Short form: some dozens of drawn inputs each; long form (CADENCE_COACH_LONG=1): thousands.
"""

from __future__ import annotations

import json
import os
import socket
from pathlib import Path
from typing import Any

import attrs
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from cadence_coach.errors import CouldNot, Refused
from cadence_coach.foil.flights import read_flights
from cadence_coach.live import PROTOCOL, Client, Server
from cadence_coach.live.asked import COMMANDS
from cadence_coach.live.begin import engine_for
from cadence_coach.review.notes import FORMAT, read_notes
from cadence_coach.store.generic_csv import to_recording
from cadence_coach.store.outing import Command
from cadence_coach.store.outing_file import load_outing, save_outing
from cadence_coach.store.recordings import Recording
from cadence_coach.store.rescue import add_note, rerun
from tests.live import build
from tests.store import made

LONG = bool(os.environ.get("CADENCE_COACH_LONG"))
MANY = settings(
    max_examples=2000 if LONG else 60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
FEW = settings(MANY, max_examples=300 if LONG else 15)

texts = st.text(max_size=20) | st.sampled_from(["\ud800", "\0", "\n", "a" * 5000, "NaN", "null", "-1e999", "\u202e"])
numbers = (
    st.integers(-5, 5)
    | st.sampled_from([10**400, -(10**400), 2**63, 2**64, 1e308, -1e308, 5e-324])
    | st.floats(allow_nan=True, allow_infinity=True)
)
plain = st.recursive(
    st.none() | st.booleans() | numbers | texts,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(texts, inner, max_size=3),
    max_leaves=6,
)


def one_line(error: Exception) -> None:
    assert str(error) and "\n" not in str(error)


@st.composite
def changed(draw: st.DrawFn, whole: Any) -> Any:
    """A value in which some parts are replaced by anything, left out, or joined by others."""
    if draw(st.integers(0, 9)) == 0:
        return draw(plain)
    if isinstance(whole, dict):
        out = {k: draw(changed(v)) for k, v in whole.items() if draw(st.integers(0, 19))}
        return out if draw(st.integers(0, 9)) else out | draw(st.dictionaries(texts, plain, max_size=2))
    return [draw(changed(v)) for v in whole] if isinstance(whole, list) else whole


# ---- notes ----

NOTE = {"uuid": "n1", "who": "Coach Carl (invented)", "when_utc": "2026-05-01T09:00:00Z", "at_s": 4.5, "text": "later"}
NOTES = {"format": FORMAT, "outing": "7a9f6f4e-0000-4000-8000-000000000001", "notes": [NOTE, NOTE | {"uuid": "n2"}]}


@MANY
@given(body=changed(NOTES))
@example(body=NOTES | {"notes": [NOTE | {"at_s": 10**400}]})
@example(body=NOTES | {"notes": [NOTE | {"text": "\ud800"}]})
def test_notes_are_refused_or_kept_as_they_are(tmp_path: Path, body: Any) -> None:
    path, outing = tmp_path / "notes.json", tmp_path / "a.outing"
    path.write_bytes(json.dumps(body).encode("ascii"))
    try:
        _, notes = read_notes(path)
    except Refused as error:
        one_line(error)
        return
    if not outing.exists():
        save_outing(attrs.evolve(made.outing(n=20), notes=[]), outing)
    for note in notes:
        add_note(outing, note)
    kept = load_outing(outing).notes
    assert all(note in kept for note in notes)


# ---- commands to a running coach ----


class Talk:
    """A connection that is made anew when the coach hangs up."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.file, self.socket = folder, None, None

    def ask(self, line: bytes) -> dict[str, Any] | None:
        if self.file is None:
            told = json.loads((self.folder / "engine.json").read_text())
            self.socket = socket.socket(socket.AF_UNIX)
            self.socket.settimeout(30)
            self.socket.connect(told["socket"])
            self.file = self.socket.makefile("rb")
            hello = {"ask": "hello", "protocol": PROTOCOL, "token": told["token"]}
            assert self.ask(json.dumps(hello).encode())["ok"]  # type: ignore[index]
        assert self.socket is not None
        try:
            self.socket.sendall(line.replace(b"\n", b" ") + b"\n")
            answer = self.file.readline()
        except (BrokenPipeError, ConnectionResetError):
            answer = b""
        if not answer:
            self.socket.close()
            self.file = None
            return None
        return json.loads(answer)  # type: ignore[no-any-return]


@pytest.fixture(scope="module")
def coach(tmp_path_factory: pytest.TempPathFactory) -> Any:
    folder = tmp_path_factory.mktemp("coach")
    running = build.live(build.Device(made.rows(3000), stalls={20: 600.0}), None, fast=False, count_in=0)
    running.start()
    server = Server(running, folder)
    build.until(running, lambda: running.snapshot.time_s > 1.0)
    yield running, Talk(folder), folder
    assert not running.finished.is_set(), "nothing that was asked ended the coach"
    running.command("stop")
    running.join(30)
    server.close()


values = st.dictionaries(
    st.sampled_from(["start", "focus", "lead", "level", "seconds", "pumps", "on", "name", "given"]), plain, max_size=3
)
asked = st.one_of(
    st.fixed_dictionaries(
        {"ask": st.just("command"), "name": st.sampled_from(sorted(set(COMMANDS) - {"stop"})), "given": values}
    ),
    changed({"ask": "command", "name": "set_goal", "given": {"seconds": 30.0, "pumps": 40}}),
    changed({"ask": "snapshot"}),
    plain,
).filter(lambda a: not (isinstance(a, dict) and a.get("ask") == "follow"))


@MANY
@given(lines=st.lists(asked.map(lambda a: json.dumps(a).encode()) | st.binary(max_size=60), max_size=4))
def test_nothing_that_is_asked_harms_the_coach(coach: Any, lines: list[bytes]) -> None:
    running, talk, folder = coach
    for line in lines:
        answer = talk.ask(line)
        if answer is not None and not answer["ok"]:
            assert answer["error"] and "\n" not in answer["error"]
    with Client(folder) as client:
        client.command("mark")
        assert client.snapshot().phase in ("going", "paused", "armed")
    assert not running.finished.is_set()


def test_a_number_beyond_all_numbers_is_refused(coach: Any) -> None:
    """JSON has no largest number; a float has."""
    talk = Talk(coach[2])  # one that has said nothing wrong before, of which too much is hung up on
    for goal in ('{"seconds": 1' + "0" * 400 + "}", '{"pumps": -1' + "0" * 400 + "}", '{"seconds": 1e999}'):
        answer = talk.ask(b'{"ask": "command", "name": "set_goal", "given": ' + goal.encode() + b"}")
        assert answer is not None and not answer["ok"] and "\n" not in answer["error"], goal


# ---- tables ----

cells = st.sampled_from(["", "nan", "1e999", "-", '"', "0,5", "9" * 400, "2026-05-01T08:00:00Z", "08:00:00", "\0", "١"])


@st.composite
def table(draw: st.DrawFn, names: list[str], rows: int) -> str:
    """A table of a steady 100 Hz logger, some of its cells and its header damaged."""
    delimiter = draw(st.sampled_from([",", ";", "\t"]))
    step = draw(st.sampled_from([0.01, 10.0, 1e7]))
    lines = [
        [f"{step * n:.6g}", *(f"{v:.3f}" for v in (0.1, 0.2, 9.8, 0.0, 0.1, 0.0))][: len(names)] for n in range(rows)
    ]
    head = list(names)
    for _ in range(draw(st.integers(0, 4))):
        row = draw(st.integers(0, rows - 1))
        lines[row][draw(st.integers(0, len(names) - 1))] = draw(cells | numbers.map(str) | texts)
    if draw(st.booleans()):
        head[draw(st.integers(0, len(head) - 1))] = draw(texts | cells | st.sampled_from(names))
    for _ in range(draw(st.integers(0, 2))):
        del lines[draw(st.integers(0, rows - 1))][draw(st.integers(0, 2)) :]
    notes = draw(st.sampled_from(["", "# made up\n", "\ufeff", "device;x\n\n"]))
    return notes + "\n".join(delimiter.join(c) for c in [head, *lines]) + draw(st.sampled_from(["", "\n", "\n\n\n"]))


def beginning_at(first: int, step: int) -> str:
    """A table whose first time lies far away."""
    times = [first, *(step * k for k in range(1, 60))]
    return "time,acc_x,acc_y,acc_z\n" + "".join(f"{t},0.1,0.2,9.8\n" for t in times)


@MANY
@given(text=table(["time", "acc_x", "acc_y", "acc_z", "gyro_x", "gyro_y", "gyro_z"], 60))
@example(text=beginning_at(2**63, 10))
@example(text=beginning_at(10**15, 10))
def test_tables_of_other_loggers(tmp_path: Path, text: str) -> None:
    path, room = tmp_path / "watch.csv", tmp_path / "made"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    for old in room.rglob("*.*"):
        old.unlink()
    room.mkdir(exist_ok=True)
    try:
        recording, _ = to_recording(path, room)
    except (Refused, CouldNot) as error:
        one_line(error)
        return
    for _ in Recording(recording).rows():
        pass


@MANY
@given(text=table(["duration_s", "cadence_hz", "speed_m_s", "fade_per_min"], 4))
def test_tables_of_flights(tmp_path: Path, text: str) -> None:
    path = tmp_path / "flights.csv"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    try:
        read_flights(path)
    except Refused as error:
        one_line(error)


# ---- what a stranger's outing says ----


def said() -> dict[str, Any]:
    from cadence_coach.core.settings import Settings
    from cadence_coach.live.begin import plain_band

    return {"settings": Settings().plain(), "band": plain_band(build.band())}


@FEW
@given(data=st.data())
def test_settings_and_band_of_a_strangers_outing(tmp_path: Path, data: st.DataObject) -> None:
    whole = said()
    whole["band"]["bands"] = whole["band"]["bands"][:3] if "bands" in whole["band"] else []
    drawn = data.draw(changed(whole))
    if not isinstance(drawn, dict):
        return
    outing = attrs.evolve(made.outing(n=200), commands=[Command(0, 0.0, "arm", {"start": "dock"})])
    parts = {"settings": drawn.get("settings", {}), "meta": outing.meta | {"band": drawn.get("band")}}
    try:
        path = save_outing(attrs.evolve(outing, **parts), tmp_path / "a.outing")
        back = load_outing(path)
        for _ in rerun(back, engine_for(back)):
            pass
    except (Refused, CouldNot) as error:
        one_line(error)
    finally:
        (tmp_path / "a.outing").unlink(missing_ok=True)
