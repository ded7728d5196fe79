"""What the service's process does with a plan, on a desktop: how it ends, and what is told and left behind."""

from __future__ import annotations

import json
import os
import sqlite3
import threading
import time
from collections.abc import Callable
from contextlib import closing, suppress
from importlib import import_module
from pathlib import Path
from typing import ClassVar

import pytest

from cadence_coach.core.settings import Settings
from cadence_coach.errors import CouldNot
from cadence_coach.live import Client, on_phone
from cadence_coach.sound.sinks import SilentSink
from cadence_coach.store.convert import without_place
from cadence_coach.store.outing_file import load_outing
from tests.live import build


class Service:
    """The notification, and an "End" that nobody presses. plans: what the app hands over while the process runs."""

    def __init__(self, *plans: str) -> None:
        self.said: list[str] = []
        self.plans = list(plans)
        self.last: str | None = None

    def say(self, text: str) -> None:
        self.said.append(text)

    def endAsked(self) -> bool:
        return False

    def nextPlan(self) -> str:
        return self.plans.pop(0) if self.plans else ""

    def over(self, text: str) -> bool:
        if not self.plans:
            self.last = text
        return not self.plans


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


class Pulled(build.Device):
    """A device has no hour to hand over at once: at one list it waits until something is `done`."""

    at = 10
    waits_at = -1
    done: ClassVar[Callable[[], bool]] = staticmethod(lambda: True)

    def __next__(self) -> list:
        end = time.monotonic() + 60.0
        while self._at == self.waits_at and not self.done() and time.monotonic() < end:
            time.sleep(0.05)
        if self._at == self.at:
            raise FileNotFoundError(2, "No such file or directory", "/dev/sensor")
        return super().__next__()


def plan(source: object, settings: Settings | None = None) -> str:
    told = json.loads(on_phone.plan_text(settings or Settings()))
    return json.dumps({**told, "source": str(source), "sound": "silent"})


def test_started_anew_after_a_clean_end_there_is_nothing_to_ride(home: Path) -> None:
    service = Service()
    assert on_phone.run("", service) == "nothing to ride" and service.said == []
    assert service.last == ""  # no line is left that would say that somebody listens


@pytest.fixture
def device(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(import_module("cadence_coach.live.begin"), "open_source", build.Device)


def test_after_a_clean_end_the_service_is_over(home: Path, tmp_path: Path, device: None) -> None:
    """Or Android would start it anew after each outing."""
    service = Service()
    assert on_phone.run(plan(build.recording(tmp_path / "ride", until=4.0)), service) == "end_of_data"
    assert service.said == ["Listening for pumps", "Outing kept"] and service.last == "Outing kept"


def no_sound(*_: object) -> None:
    raise CouldNot("phone: no sound output opened; end a call or another app that holds it")


def no_room(*_: object, **__: object) -> None:
    raise OSError(28, "No space left on device")


@pytest.mark.parametrize("what", ["source", "sound", "error", "plan", "address"])
def test_what_could_not_start_does_not_start_later_by_itself(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, device: None, what: str
) -> None:
    text = plan(build.recording(tmp_path / "ride", until=4.0))
    home.mkdir()
    (home / on_phone.RIDING).write_text(text)  # of a ride before, killed and given up
    if what == "sound":
        monkeypatch.setattr(SilentSink, "start", no_sound)  # when all else is there already
    elif what == "plan":
        text = "{}"
    elif what == "address":
        monkeypatch.setattr(on_phone, "Server", no_room)  # it found no room for the line by which the app finds it
    else:
        monkeypatch.setattr(
            import_module("cadence_coach.live.begin"), "open_source", no_sound if what == "source" else no_room
        )
    service = Service()
    why = on_phone.run(text, service)
    assert service.last == service.said[-1] == f"Stopped: {why}"
    assert (home / on_phone.TROUBLE).read_text() == why
    assert not (home / on_phone.RIDING).exists()


def test_a_ride_that_is_under_way_is_tried_again(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, device: None
) -> None:
    """Android started the process anew in the middle of a phone call: once it is over, the next start has sound."""
    home.mkdir()
    (home / on_phone.RIDING).write_text(plan(build.recording(tmp_path / "ride", until=4.0)))
    with monkeypatch.context() as call:
        call.setattr(SilentSink, "start", no_sound)
        service = Service()
        with pytest.raises(CouldNot):
            on_phone.run("", service)
    assert service.last is None and service.said[-1].startswith("Stopped: phone: no sound")
    assert on_phone.run("", service) == "end_of_data" and service.last == "Outing kept"
    (home / on_phone.RIDING).write_text("{}")  # this is none, however often it is tried
    assert "cannot be read" in on_phone.run("", service) and not (home / on_phone.RIDING).exists()


def test_with_a_full_disk_the_rider_is_told_all_the_same(
    home: Path, monkeypatch: pytest.MonkeyPatch, device: None
) -> None:
    monkeypatch.setattr(import_module("cadence_coach.live.begin"), "open_source", no_room)
    monkeypatch.setattr(Path, "write_text", no_room)
    service = Service()
    why = on_phone.run(plan("none"), service)
    assert "No space left" in why and service.last == service.said[-1] == f"Stopped: {why}"


def test_killed_while_it_tidies_up_no_outing_begins_anew(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, device: None
) -> None:
    class Killed(BaseException):
        pass

    def killed(*_: object) -> None:
        raise Killed

    monkeypatch.setattr(import_module("cadence_coach.live.begin"), "_remember", killed)
    with pytest.raises(Killed):
        on_phone.run(plan(build.recording(tmp_path / "ride", until=4.0)), Service())
    assert len(list((home / "outings").glob("*.outing"))) == 1
    assert on_phone.run("", Service()) == "nothing to ride"


def test_an_outing_asked_for_while_the_last_one_is_tidied_up_is_ridden(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, device: None
) -> None:
    """What was asked for while that one still went on is not: the app showed it, and a ride an hour later is no wish
    of anybody."""
    text = plan(build.recording(tmp_path / "ride", until=4.0))
    service = Service(text)
    assert on_phone.run(text, service) == "end_of_data"
    assert len(list((home / "outings").glob("*.outing"))) == 1
    begin = import_module("cadence_coach.live.begin")
    remember = begin._remember

    def meanwhile(*given: object) -> None:
        if not service.said:
            service.plans.append(text)
        remember(*given)

    monkeypatch.setattr(begin, "_remember", meanwhile)
    service.said.clear()
    monkeypatch.setattr(Service, "say", lambda self, line: line == "Outing kept" and self.said.append(line))
    assert on_phone.run(text, service) == "end_of_data"
    assert service.said == ["Outing kept", "Outing kept"] and service.last == "Outing kept"
    assert len(list((home / "outings").glob("*.outing"))) == 3


def test_a_file_that_is_missing_in_the_middle_of_an_outing_is_told(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is no clean end: the notification says so, and Android's next start goes on with the plan."""
    ride = build.recording(tmp_path / "ride", until=4.0)

    monkeypatch.setattr(import_module("cadence_coach.live.begin"), "open_source", Pulled)
    service = Service()
    with pytest.raises(FileNotFoundError):
        on_phone.run(plan(ride), service)
    assert service.said[0].startswith("Listening") and "No such file" in service.said[-1]
    assert "No such file" in (home / on_phone.TROUBLE).read_text()
    assert (home / on_phone.RIDING).exists() and service.last is None
    (outing,) = (load_outing(p) for p in (home / "outings").glob("*.outing"))
    assert outing.meta["ended"] == "error" and len(outing.kinds) == 200


def test_the_notification_says_in_the_riders_language_why_nothing_started(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    line = "phone: the accelerometer did not start; close other apps that use it, or restart the phone"

    def none(spec: str) -> None:
        raise CouldNot(line)

    monkeypatch.setattr(import_module("cadence_coach.live.begin"), "open_source", none)
    for lang, said in (("en", f"Stopped: {line}"), ("de", "Angehalten: Der Beschleunigungssensor startet nicht; ")):
        service = Service()
        assert on_phone.run(json.dumps({**json.loads(plan("phone:")), "lang": lang}), service) == line
        assert service.said[-1].startswith(said)


def test_started_anew_time_and_place_are_those_of_the_ride(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In cold water a coach that Android starts anew after 25 min says so at once, not after 25 more."""
    ride = build.recording(tmp_path / "ride", "calm", 7)
    monkeypatch.setattr(import_module("cadence_coach.live.begin"), "open_source", Pulled)
    monkeypatch.setattr(Pulled, "at", 600)  # in its second flight
    monkeypatch.setattr(Pulled, "waits_at", 600)

    def kept() -> bool:
        ride = json.loads((home / on_phone.RIDING).read_text())["ride"]
        return bool(ride.get("home") and ride.get("last"))

    monkeypatch.setattr(Pulled, "done", staticmethod(kept))
    with pytest.raises(FileNotFoundError):
        on_phone.run(plan(ride, Settings(water_temperature_c=9.0)), Service())
    told = json.loads((home / on_phone.RIDING).read_text())
    (first,) = (home / "outings").glob("*.outing")
    places = load_outing(first).fixes[:, 3:5].tolist()
    assert told["ride"]["home"] in places and told["ride"]["last"] and on_phone.plan_of(json.dumps(told))
    assert told["ride"]["start_boot_s"] == pytest.approx(time.clock_gettime(time.CLOCK_BOOTTIME), abs=60.0)
    told["ride"]["start_boot_s"] -= 1501.0  # by a clock that nobody sets: a network that mends the time of day mid-ride
    (home / on_phone.RIDING).write_text(json.dumps(told))
    monkeypatch.setattr(Pulled, "at", -1)
    monkeypatch.setattr(Pulled, "waits_at", 10)
    told_anew, go_on_with = threading.Event(), on_phone._go_on

    def go_on(*given: object) -> None:
        go_on_with(*given)
        told_anew.set()

    monkeypatch.setattr(on_phone, "_go_on", go_on)
    monkeypatch.setattr(Pulled, "done", staticmethod(told_anew.is_set))
    assert on_phone.run("", Service()) == "end_of_data"
    (outing,) = (load_outing(p) for p in (home / "outings").glob("*.outing") if p != first)
    (limit,) = (c for c in outing.cues if c.kind == "time_limit")
    (go_on,) = (c for c in outing.commands if c.name == "go_on")
    assert limit.reason == "25 min on the water" and limit.time == pytest.approx(go_on.time, abs=5.0)
    assert go_on.given["home"] == told["ride"]["home"]
    assert build.replayed(outing) == build.tables(outing)
    assert all("home" not in c.given for c in without_place(outing).commands)


def test_what_found_no_room_is_kept_once_there_is_some(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The place of the start becomes known once, and a storage is full for moments."""
    file = tmp_path / "riding.json"
    keep = on_phone._Kept(file, plan("none"), 1.0)
    keep({"home": None})
    with monkeypatch.context() as full:
        full.setattr(Path, "write_text", no_room)
        with pytest.raises(OSError, match="No space"):
            keep({"home": [54.0, 10.0]})
    keep({"home": [54.0, 10.0]})
    assert json.loads(file.read_text())["ride"]["home"] == [54.0, 10.0]
    file.unlink()
    keep({"home": [54.0, 10.0]})
    assert not file.exists()  # and nothing is written ten times a second


@pytest.mark.parametrize("hushed", [True, False])
def test_started_anew_mute_and_pause_are_as_they_were(
    home: Path, monkeypatch: pytest.MonkeyPatch, hushed: bool
) -> None:
    """Muted in the outing before or unmuted there, against the plan; paused, and not counted in once more."""
    monkeypatch.setattr(
        import_module("cadence_coach.live.begin"),
        "open_source",
        lambda _: build.Device(build.still(0.0, 60.0), {30: 9.0}),
    )
    seen: list[tuple[bool, str]] = []

    def ride(argument: str, due: tuple[bool, str], wishes: dict[str, dict[str, bool]]) -> dict:
        def act() -> None:
            end = time.monotonic() + 20.0
            while True:
                with suppress(CouldNot), Client(home) as client:
                    shown = client.snapshot()
                    if (shown.muted, shown.phase) == due or time.monotonic() > end:
                        seen.append((shown.muted, shown.phase))
                        for name, given in wishes.items():
                            client.command(name, **given)
                        time.sleep(0.3)  # longer than between two looks at what is to be kept
                        kept.append(json.loads((home / on_phone.RIDING).read_text()))
                        client.command("stop")
                        return
                time.sleep(0.05)

        kept: list[dict] = []
        acting = threading.Thread(target=act, daemon=True)
        acting.start()
        on_phone.run(argument, Service())
        acting.join(30)
        return kept[0]

    settings = Settings(muted=not hushed)
    due = [(not hushed, "going"), (hushed, "paused" if hushed else "going")]
    first = ride(plan("none", settings), due[0], {"mute": {"on": hushed}, **({"pause": {}} if hushed else {})})
    (home / on_phone.RIDING).write_text(json.dumps({**first, "count_in": 3}))  # as killed just then
    ride("", due[1], {"mute": {"on": not hushed}, "start": {}})
    assert seen == due
    names = [c.name for c in load_outing(max((home / "outings").glob("*.outing"), key=os.path.getmtime)).commands]
    again = [name for name in names if name != "advance"]
    assert again == ["arm", "start", "go_on", "mute", *(["pause"] if hushed else []), "mute", "start", "stop"]


@pytest.mark.parametrize("left", ["nothing", "whole", "short", "long"])
def test_the_notification_claims_no_outing_that_does_not_exist(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, device: None, left: str
) -> None:
    text = plan(build.recording(tmp_path / "ride", until=4.0))
    assert on_phone.run(text, Service()) == "end_of_data"
    (outing,) = (home / "outings").glob("*.outing")
    if left == "nothing":
        outing.unlink()
    elif left != "whole":  # as a process leaves it that is killed
        with closing(sqlite3.connect(outing)) as db:
            db.execute("PRAGMA journal_mode = WAL")
            db.execute("UPDATE meta SET value = '\"running\"' WHERE key = 'ended'")
            db.commit()
    if left == "long":
        monkeypatch.setattr(import_module("cadence_coach.live.begin"), "QUICK_BYTES", 0)
        monkeypatch.setattr(on_phone, "rescue_all", lambda: [])
    (home / on_phone.RIDING).write_text(text)
    service = Service()
    assert on_phone.run("", service) == "end_of_data"
    words = {"short": "was cut off and is whole again", "long": "was cut off; it is kept"}
    assert words.get(left, "Listening") in service.said[0] and ("cut off" in service.said[0]) == (left in words)


@pytest.mark.parametrize(
    "wrong", [{}, [], {"start_boot_s": "x"}, {"start_boot_s": 1e999}, {"start_boot_s": 3, "home": [1]}]
)
def test_what_cannot_be_read_of_the_ride_keeps_nobody_ashore(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, wrong: object
) -> None:
    told = json.loads(plan(build.recording(tmp_path / "ride", until=4.0)))
    home.mkdir()
    (home / on_phone.RIDING).write_text(json.dumps({**told, "ride": wrong}))
    monkeypatch.setattr(import_module("cadence_coach.live.begin"), "open_source", build.Device)
    assert on_phone.run("", Service()) == "end_of_data"
