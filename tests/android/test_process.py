"""The engine's process as the service starts it: the packed app, the environment of python-for-android's start.c.

And one ride into outing files: as a recording, and through the phone's sensors.
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import threading
import time
from pathlib import Path

import numpy as np
import pytest

from tests.android import toolbox

HERE = Path(__file__).parent


# ---- the same samples, the same outing file ----


@pytest.fixture(scope="module")
def outings(tools, tmp_path_factory):
    from cadence_coach.store.outing_file import load_outing
    from tests.live.build import recording

    tmp = tmp_path_factory.mktemp("ride")
    folder = recording(tmp / "rec", until=150.0)
    shutil.copytree(folder, tmp / "bare", ignore=shutil.ignore_patterns("speed.csv*"))
    asked = "::".join(("outings", *map(str, (folder, tmp / "bare", tmp / "home"))))
    command = [toolbox.python(), "-m", "tests.android.scenarios", asked]
    done = subprocess.run(command, env=toolbox.tool_env(), cwd=toolbox.ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr[-3000:]
    told = json.loads(done.stdout.splitlines()[-1])["told"]
    assert all(not any(v.values()) for k, v in told.items() if k.startswith("phone") and k.endswith("trouble"))
    return {name: load_outing(file) for name, file in told.items() if not name.endswith("trouble")}


KINDS = ("cycles", "attempts", "flights", "flight_starts", "cues", "held", "clicks", "summaries", "gaps", "faults")


def test_through_the_phone_the_same_outing_as_replayed(outings):
    """Both without places: a recording does not say how old a fix was when it came."""
    phone, replayed = outings["phone"], outings["recording"]
    np.testing.assert_array_equal(phone.accel, replayed.accel)
    np.testing.assert_array_equal(phone.gyro, replayed.gyro)
    assert len(phone.cycles) > 20 and len(phone.flights) >= 1
    for kind in KINDS:  # repr: NaN equals NaN
        assert list(map(repr, getattr(phone, kind))) == list(map(repr, getattr(replayed, kind))), kind


def test_with_places_the_file_replays_into_itself(outings):
    from cadence_coach.live.begin import engine_for
    from cadence_coach.store import schema
    from cadence_coach.store.rescue import rerun

    outing = outings["phone with places"]
    assert len(outing.fixes) == 149
    age = outing.fixes[:, 0] - outing.fixes[:, 1]
    np.testing.assert_allclose(age, 0.12, atol=1e-6)
    np.testing.assert_array_equal(outing.accel, outings["recording"].accel)
    again = list(rerun(outing, engine_for(outing)))
    for kind in KINDS:
        stored = getattr(outing, kind)
        names = {type(e) for e in stored}
        rows = [repr(schema.to_row(e)) for e in again if type(e) in names]  # what of an event the file keeps
        assert [repr(schema.to_row(e)) for e in stored] == rows, kind


# ---- started, killed, started anew, ended ----


class Service:
    """One process of the engine, and what its notification said so far."""

    def __init__(self, app: Path, files: Path, events: Path, argument: str) -> None:
        env = toolbox.tool_env(
            ANDROID_PRIVATE=str(files),
            ANDROID_ARGUMENT=str(app),
            ANDROID_APP_PATH=str(app),
            ANDROID_ENTRYPOINT="service/main.py",
            PYTHON_SERVICE_ARGUMENT=argument,
            PYTHONOPTIMIZE="2",
            PYTHONPATH=f"{app}:{app}/lib",
            PYTHON_NAME="Coach",
        )
        self.began = time.monotonic()
        self.process = subprocess.Popen(
            [toolbox.python(), HERE / "service_boot.py", events],
            env=env, cwd=app, text=True, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        )  # fmt: skip
        self.lines: list[str] = []
        self.reader = threading.Thread(target=self._read, daemon=True)
        self.reader.start()

    def _read(self) -> None:
        for line in self.process.stdout:
            self.lines.append(line.rstrip())

    @property
    def notes(self) -> list[str]:
        # a word on the other stream may stand before it in the line
        return [line.partition("NOTE ")[2] for line in self.lines if "NOTE " in line]

    def tell(self, line: str) -> None:
        self.process.stdin.write(f"{line}\n")
        self.process.stdin.flush()

    def wait_for(self, what, seconds: float = 150.0):
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            if value := what():
                return value
            if self.process.poll() is not None:  # its last words may still be on their way
                self.reader.join(30)
                value = what()
                assert value, "\n".join(self.lines[-30:])
                return value
            time.sleep(0.05)
        raise AssertionError("waited in vain\n" + "\n".join(self.lines[-30:]))

    def close(self) -> None:
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait()


def looked(home: Path):
    """What a screen that attaches sees, or None while nobody serves."""
    from cadence_coach.errors import CouldNot
    from cadence_coach.live import Client

    try:
        with Client(home) as client:
            return client.snapshot()
    except CouldNot:
        return None


def test_killed_and_started_anew_the_outing_is_rescued_and_the_notification_says_so(made, tmp_path):
    from cadence_coach.core.settings import Settings
    from cadence_coach.live.on_phone import RIDING, plan_text
    from cadence_coach.store.outing_file import load_outing
    from tests.android.rides import ride

    _, told = made
    app, files = Path(told["app_dir"]), tmp_path / "files"
    files.mkdir()
    home = files / "coach"
    np.save(tmp_path / "events.npy", ride(1.2, 100))
    plan = plan_text(Settings(start="dock"), tags={"invented": "yes"})
    first = Service(app, files, tmp_path / "events.npy", plan)
    second = None
    try:
        seen = first.wait_for(lambda: (s := looked(home)) and s.time_s > 6 and s)
        assert seen.source == "phone" and seen.sink.startswith("phone")
        assert "Listening for pumps" in first.notes
        assert (home / RIDING).exists()
        before = looked(home).time_s
        os.kill(first.process.pid, signal.SIGKILL)
        assert first.process.wait() == -signal.SIGKILL
        [cut_off] = (home / "outings").glob("*.outing")

        second = Service(app, files, tmp_path / "events.npy", "")  # as Android starts a sticky service: no argument
        second.wait_for(lambda: any("is whole again" in note for note in second.notes))
        rescued = load_outing(cut_off)
        assert rescued.meta["ended"] == "rescued"
        assert rescued.tags["invented"] == "yes"
        assert rescued.accel[-1, 0] >= before - 1.0  # at most a second of samples is lost
        assert len(rescued.accel) == pytest.approx(100 * rescued.accel[-1, 0], abs=3)
        second.wait_for(lambda: (s := looked(home)) and s.time_s > 2 and s)

        second.tell("headset")
        second.tell("press twice")
        second.wait_for(lambda: "Muted" in second.notes)
        assert looked(home).muted and looked(home).sink == "phone:8 headset"
        second.tell("end\nsent")  # "again" is touched in the app while it still tidies up
        second.wait_for(lambda: "Outing kept" in second.notes)
        second.tell(f"start {plan}")  # the third outing, in the same process
        second.wait_for(lambda: (s := looked(home)) and s.time_s < 2 and s.phase == "going")
        second.tell("end")
        assert second.process.wait(20) == 0, second.lines[-20:]
        second.reader.join(30)
        # the service is over, or Android would start it anew after each outing; its last word outlives it
        assert second.lines[-1] == "STOPPED True, Outing kept, to be wiped away"
        assert not (home / RIDING).exists()
        files_now = sorted((home / "outings").glob("*.outing"))
        assert len(files_now) == 3
        other, third = [load_outing(f) for f in files_now if f != cut_off]
        assert third.meta["ended"] == "stopped"
        assert other.meta["ended"] == "stopped" and other.tags["invented"] == "yes"
        assert {"route_changed", "mute", "stop"} <= {c.name for c in other.commands}
        assert looked(home) is None
    finally:
        first.close()
        if second is not None:
            second.close()


def test_started_anew_after_a_clean_end_there_is_nothing_to_ride(made, tmp_path):
    _, told = made
    (tmp_path / "files").mkdir()
    from tests.android.rides import ride

    np.save(tmp_path / "events.npy", ride(0.1, 100))
    service = Service(Path(told["app_dir"]), tmp_path / "files", tmp_path / "events.npy", "")
    try:
        assert service.process.wait(150) == 0
        service.reader.join(30)
        assert any("nothing to ride" in line for line in service.lines), service.lines
        assert service.lines[-1] == "STOPPED True, none"
    finally:
        service.close()


def test_a_plan_that_is_none_is_told_in_the_notification(made, tmp_path):
    from tests.android.rides import ride

    _, told = made
    (tmp_path / "files").mkdir()
    np.save(tmp_path / "events.npy", ride(0.1, 100))
    plan = '{"settings": {"start": "moon"}}'
    service = Service(Path(told["app_dir"]), tmp_path / "files", tmp_path / "events.npy", plan)
    try:
        assert service.process.wait(150) == 0
        service.reader.join(30)
        assert any(note.startswith("Stopped: the plan from the app cannot be read") for note in service.notes), (
            service.lines
        )
    finally:
        service.close()


# ---- what the headset's button means ----


@pytest.mark.parametrize(
    ("presses", "commands"),
    [
        ([(1.0, 79)], ["repeat"]),
        ([(1.0, 79), (1.3, 79)], ["mute"]),
        ([(1.0, 85), (1.9, 85)], ["repeat", "repeat"]),
        ([(1.0, 87)], ["mute"]),
        ([(1.0, 79), (1.2, 79), (1.4, 79)], ["mute", "repeat"]),
        ([(1.0, 24)], []),  # volume up is none of ours
    ],
)
@pytest.mark.parametrize("step", [0.01, 0.1, 5.0])
def test_headset_button(presses, commands, step):
    """However the presses fall into the looks at them."""
    from cadence_coach.live.on_phone import Buttons

    buttons, now, told, left = Buttons(), 0.0, [], list(presses)
    while now < 6:
        now += step
        due = [p for p in left if p[0] <= now]
        left = left[len(due) :]
        told += buttons.heard(due, now)
    assert told == commands


def test_the_packages_own_python_is_not_used(made):
    """The process runs what is packed, not this checkout."""
    _, told = made
    code = "import cadence_coach; print(cadence_coach.__file__)"
    env = {"PYTHONPATH": told["app_dir"], "PATH": os.environ["PATH"]}
    said = subprocess.run([toolbox.python(), "-c", code], env=env, capture_output=True, text=True, cwd="/").stdout
    assert said.startswith(told["app_dir"])
