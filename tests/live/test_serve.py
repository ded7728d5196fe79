"""Screens as clients of a running coach: what is wrong is refused in one line, and nothing a client does harms the
coach."""

from __future__ import annotations

import json
import os
import socket
import stat
import subprocess
import sys
import threading
import time

import pytest

from cadence_coach.errors import CouldNot, Refused
from cadence_coach.live import PROTOCOL, Client, Server, serve
from cadence_coach.store.outing_file import load_outing
from tests.live import build
from tests.store import made


@pytest.fixture
def coach(tmp_path):
    """A running coach whose device waits after 2 s of rows, served in tmp_path."""
    running = build.live(
        build.Device(made.rows(3000), stalls={20: 120.0}), tmp_path / "a.outing", fast=False, count_in=0
    )
    running.start()
    server = Server(running, tmp_path)
    build.until(running, lambda: running.snapshot.time_s > 1.0)
    yield running, server, tmp_path
    if not running.finished.is_set():
        running.command("stop")
        running.join(20)
    server.close()
    assert not (tmp_path / "engine.json").exists() and not (tmp_path / "engine.sock").exists()


def told(folder):
    return json.loads((folder / "engine.json").read_text())


class Raw:
    """A client without manners."""

    def __init__(self, folder, hello=True):
        self.socket = socket.socket(socket.AF_UNIX)
        self.socket.settimeout(10)
        self.socket.connect(told(folder)["socket"])
        self.file = self.socket.makefile("rb")
        if hello:
            assert self.ask({"ask": "hello", "protocol": PROTOCOL, "token": told(folder)["token"]})["ok"]

    def send(self, data):
        self.socket.sendall(data)

    def read(self):
        line = self.file.readline()
        return json.loads(line) if line else None

    def ask(self, what):
        self.send(json.dumps(what).encode() + b"\n")
        return self.read()


def unharmed(running, folder):
    """The engine answers, and takes commands."""
    with Client(folder) as client:
        client.command("mark")
        assert client.snapshot().phase == "going"
    assert not running.finished.is_set()


def test_a_client_sees_and_commands(coach):
    running, _, folder = coach
    with Client(folder) as client:
        shown = client.snapshot()
        assert shown.uuid == running.snapshot.uuid and shown.time_s > 1.0
        client.command("set_focus", focus="size")
        assert client.snapshot().focus == "size"
        with pytest.raises(Refused, match="no such command"):
            client.command("fly")
        with pytest.raises(Refused, match="choose one of"):
            client.command("arm", start="plane")
        client.command("pause")
        assert client.snapshot().phase == "paused"


def test_only_this_user_can_reach_it(coach):
    _, _, folder = coach
    for name in ("engine.json", "engine.sock"):
        assert stat.S_IMODE(os.stat(folder / name).st_mode) == 0o600


@pytest.mark.parametrize(
    "first",
    [
        {"ask": "snapshot"},
        {"ask": "hello", "protocol": PROTOCOL},
        {"ask": "hello", "protocol": PROTOCOL, "token": "wrong"},
        {"ask": "hello", "protocol": PROTOCOL, "token": 5},
        {"ask": "hello", "protocol": PROTOCOL, "token": "ä"},
        {"ask": "hello", "protocol": "other/9", "token": None},
        [],
    ],
)
def test_without_the_token_nothing_is_answered(coach, first):
    running, _, folder = coach
    if isinstance(first, dict) and first.get("protocol") == "other/9":
        first["token"] = told(folder)["token"]
    raw = Raw(folder, hello=False)
    answer = raw.ask(first)
    assert answer["ok"] is False and "snapshot" not in answer and "\n" not in answer["error"]
    assert raw.read() is None  # hung up
    unharmed(running, folder)


@pytest.mark.parametrize(
    "line",
    [
        b"\n",
        b"{\n",
        b"\xff\xfe\n",
        b"null\n",
        b'{"ask": "sing"}\n',
        b'{"ask": ["snapshot"]}\n',
        b'{"ask": "command"}\n',
        b'{"ask": "command", "name": "mute", "given": [1]}\n',
        b'{"ask": "command", "name": "mute", "given": {"name": "x"}}\n',
        b'{"ask": "command", "name": "mute", "given": {"on": "yes"}}\n',
        b'{"ask": "command", "name": "mark", "given": {"timeout": 1e9}}\n',
        b'{"ask": "follow", "hz": "fast"}\n',
        b'{"ask": "follow", "hz": NaN}\n',
        b'{"ask": "follow", "hz": 1e9}\n',
        b"[" * 60000 + b"\n",
        b'{"a":' * 9000 + b"\n",
    ],
)
def test_malformed_lines_are_told_and_the_talk_goes_on(coach, line):
    running, _, folder = coach
    raw = Raw(folder)
    raw.send(line)
    answer = raw.read()
    assert answer["ok"] is False and answer["error"] and "\n" not in answer["error"]
    assert raw.ask({"ask": "snapshot"})["ok"]
    unharmed(running, folder)


def test_a_line_without_end_and_endless_rubbish_are_cut_off(coach):
    running, _, folder = coach
    raw = Raw(folder)
    with pytest.raises(OSError):
        for _ in range(1000):
            raw.send(b"x" * 4096)
    raw = Raw(folder)
    raw.send(b"rubbish\n" * serve.MOST_ERRORS)
    assert [raw.read() is not None for _ in range(serve.MOST_ERRORS)] == [True] * serve.MOST_ERRORS
    assert raw.read() is None
    unharmed(running, folder)


def test_a_silent_stranger_is_dropped(coach, monkeypatch):
    monkeypatch.setattr(serve, "HELLO_S", 0.2)
    raw = Raw(coach[2], hello=False)
    assert raw.read() is None
    monkeypatch.undo()  # a client with manners is given its time, however busy the machine
    unharmed(coach[0], coach[2])


def test_two_clients_see_the_same_and_too_many_are_told(coach):
    running, _, folder = coach
    with Client(folder) as one, Client(folder) as two:
        one.command("set_lead", lead="target")
        assert two.snapshot().lead == "target"
        seen = []
        watcher = threading.Thread(target=lambda: seen.extend(two.follow(50)))
        watcher.start()
        for lead in ("silent", "rider"):
            one.command("set_lead", lead=lead)
            build.until(running, lambda lead=lead: lead in {s.lead for s in list(seen)})
        one.command("stop")
        watcher.join(60)
        assert {"silent", "rider"} <= {s.lead for s in seen} and seen[-1].phase == "ended"
    assert running.finished.is_set()


def test_more_clients_than_allowed_are_told(coach):
    _, _, folder = coach
    many = [Raw(folder) for _ in range(serve.MOST_CLIENTS)]
    with pytest.raises(Refused, match="screens are looking"):
        Client(folder)
    many.pop().socket.shutdown(socket.SHUT_RDWR)
    until = time.monotonic() + 60
    while True:
        try:
            Client(folder).close()
            break
        except Refused:
            assert time.monotonic() < until
            time.sleep(0.05)


def test_a_client_that_does_not_read_is_dropped_and_holds_up_nobody(coach, monkeypatch):
    running, server, folder = coach
    monkeypatch.setattr(serve, "SEND_S", 3.0)  # who waited for it would wait so long
    slow = Raw(folder)
    slow.socket.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1)
    slow.send(b'{"ask": "follow", "hz": 50}\n')
    until = time.monotonic() + 120
    waits = []
    with Client(folder) as good:
        while len(server._clients) > 1:
            began = time.monotonic()
            good.command("mark")
            waits.append(time.monotonic() - began)
            assert time.monotonic() < until, "the slow one is still there"
    assert len(waits) > 5 and sorted(waits)[len(waits) // 2] < 1.0
    unharmed(running, folder)


def test_a_deep_folder_gets_its_socket_elsewhere(tmp_path):
    deep = tmp_path / ("d" * 90) / ("e" * 90)
    deep.mkdir(parents=True)
    running = build.live(build.Device(made.rows(400)), None, fast=False)
    server = Server(running, deep)
    running.start()
    with Client(deep) as client:
        assert list(client.follow(50))[-1].phase == "ended"
    server.close()
    assert not os.path.exists(told_path := server._path) and told_path.parent != deep


def test_a_second_coach_is_not_served_in_the_folder_of_a_running_one(coach):
    """One that keeps nothing, so that the outings' own lock is none of its business."""
    running, _, folder = coach
    before = told(folder)
    with pytest.raises(CouldNot, match=f"another coach .process {os.getpid()}. is running") as refused:
        Server(build.live(build.Device(made.rows(400)), None, fast=False), folder)
    assert "\n" not in str(refused.value) and told(folder) == before
    unharmed(running, folder)


def test_what_another_coach_put_in_its_place_is_left_there(coach):
    """On a file system that knows no locks."""
    _, server, folder = coach
    address = folder / "engine.json"
    ours = address.read_text()
    address.write_text(json.dumps({**told(folder), "token": "another"}))
    server.close()
    assert told(folder)["token"] == "another" and (folder / "engine.sock").exists()
    address.write_text(ours)  # for the end of the fixture


def test_without_a_coach_it_says_so(tmp_path):
    with pytest.raises(CouldNot, match="live --serve"):
        Client(tmp_path)
    (tmp_path / "engine.json").write_text("{}")
    with pytest.raises(CouldNot, match="live --serve"):
        Client(tmp_path)


ENGINE = """
import sys
from pathlib import Path
from tests.live import build
from tests.store import made
from cadence_coach.live import Server
from cadence_coach.store.folders import FolderLock
home = Path(sys.argv[1])
with FolderLock(home).take():
    running = build.live(build.Device(made.rows(3000), stalls={20: 120.0}), home / "a.outing", fast=False, count_in=0)
    server = Server(running, home)
    running.start()
    running.join()
"""


def test_screen_and_engine_may_die_without_each_other(tmp_path):
    """Kill a screen and come back: the outing goes on. Kill the engine: the screen is told, the outing is rescued."""
    engine = subprocess.Popen([sys.executable, "-c", ENGINE, str(tmp_path)])
    until = time.monotonic() + 60
    while not (tmp_path / "engine.json").exists():
        assert engine.poll() is None and time.monotonic() < until
        time.sleep(0.05)
    screen = subprocess.Popen(
        [sys.executable, "-c", "import sys\nfrom pathlib import Path\nfrom cadence_coach.live import Client\n"
         "for s in Client(Path(sys.argv[1])).follow(20): print(s.time_s, flush=True)", str(tmp_path)],
        stdout=subprocess.PIPE,
    )  # fmt: skip
    assert screen.stdout is not None and screen.stdout.readline()
    screen.kill()
    screen.communicate()
    with Client(tmp_path) as again:
        while again.snapshot().time_s < 1.5:
            time.sleep(0.05)
        while len(list(load_outing(tmp_path / "a.outing").rows())) < 400:  # until all that came is committed
            assert engine.poll() is None and time.monotonic() < until
            time.sleep(0.1)
        assert again.snapshot().phase == "going"
        engine.kill()
        engine.wait()
        with pytest.raises(CouldNot, match="gone"):
            again.command("mark")
    with pytest.raises(CouldNot, match="gone"):
        Client(tmp_path)
    from cadence_coach.live.begin import engine_for
    from cadence_coach.store.rescue import rescue_folder

    assert rescue_folder(tmp_path, engine_for) == [(tmp_path / "a.outing", None)]
    outing = load_outing(tmp_path / "a.outing")
    assert repr(list(outing.rows())) == repr(made.rows(3000)[:400])
    assert build.replayed(outing) == build.tables(outing)
