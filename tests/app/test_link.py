"""The line to the engine: what is said of it while it comes, is there, ends, dies, or is none.."""

from __future__ import annotations

import json
import os
import socket
import threading
import time

import pytest

from cadence_coach.app.link import Line, Link, cut_off
from cadence_coach.live import PROTOCOL, Server
from cadence_coach.live.on_phone import RIDING, TROUBLE
from cadence_coach.live.serve import ADDRESS
from cadence_coach.live.snapshot import Snapshot
from tests.live import build
from tests.store import made


def until(there, seconds=20.0):
    end = time.monotonic() + seconds
    while not there():
        assert time.monotonic() < end
        time.sleep(0.02)


@pytest.fixture
def link(tmp_path):
    link = Link(tmp_path)
    yield link
    link.close()


@pytest.fixture
def coach(tmp_path):
    """Started by the test: a coach whose device waits after 2 s of rows, served in tmp_path."""
    running = build.live(build.Device(made.rows(3000), stalls={20: 120.0}), None, fast=False, count_in=0)
    servers = []

    def begin():
        running.start()
        servers.append(Server(running, tmp_path))
        return running, servers[0]

    yield begin
    if not running.finished.is_set():
        running.command("stop")
        running.join(20)
    for server in servers:
        server.close()


def stale(folder):
    (folder / ADDRESS).write_text(json.dumps({"socket": str(folder / "engine.sock"), "token": "x", "pid": 1}))


def test_from_coming_to_the_end(link, coach):
    link.start()
    time.sleep(0.3)
    assert link.line.kind == "none"
    link.expect()
    assert link.line.kind == "coming"
    running, _ = coach()
    until(lambda: link.line.kind == "here" and link.line.snapshot.time_s > 1.0)
    answers = []
    link.tell("set_focus", answers.append, focus="size")
    until(lambda: answers == [""] and link.line.snapshot.focus == "size")
    link.tell("set_focus", answers.append, focus="beauty")
    until(lambda: len(answers) == 2)
    assert "choose one of" in answers[1] and link.line.kind == "here"
    running.command("stop")
    until(lambda: link.line.kind == "ended")
    assert link.line.snapshot.uuid == running.snapshot.uuid
    link.forget()
    assert link.line.kind == "none" and link.line.snapshot is None


def test_an_end_that_takes_the_address_away_is_no_death(link, coach):
    link.start()
    running, server = coach()
    until(lambda: link.line.kind == "here")
    running.command("stop")
    server.close()
    until(lambda: link.line.kind != "here")
    assert link.line.kind == "ended"


def test_an_address_without_an_engine_is_a_death(link, tmp_path):
    stale(tmp_path)
    link.start()
    until(lambda: link.line.kind == "gone")
    (tmp_path / RIDING).write_text("{}")
    cut_off(tmp_path)
    assert not any((tmp_path / name).exists() for name in (ADDRESS, RIDING, TROUBLE))
    link.forget()
    time.sleep(0.5)
    assert link.line.kind == "none"


def test_where_the_system_starts_it_anew_there_is_time_for_that(tmp_path, coach):
    stale(tmp_path)
    link = Link(tmp_path, grace_s=30.0)
    link.start()
    until(lambda: link.line.kind == "coming")
    coach()
    until(lambda: link.line.kind == "here")
    link.close()


def test_a_grace_that_is_over_is_a_death(tmp_path):
    stale(tmp_path)
    now = [100.0]
    link = Link(tmp_path, grace_s=0.5, clock=lambda: now[0])
    link.start()
    until(lambda: link.line.kind == "coming")
    now[0] += 0.6
    until(lambda: link.line.kind == "gone")
    link.close()


def test_the_trouble_of_an_earlier_try_is_not_that_of_this_one(link, tmp_path, coach):
    (tmp_path / TROUBLE).write_text("the folder was in use")
    before = time.time() - 3.0
    os.utime(tmp_path / TROUBLE, (before, before))
    link.start()
    link.expect()
    time.sleep(0.5)
    assert link.line.kind == "coming"
    coach()
    until(lambda: link.line.kind == "here")


def test_the_trouble_of_a_try_beside_an_outing_is_none_of_the_outing(tmp_path):
    """It dies later, and the system starts it anew: on its way, until that one says what is wrong."""
    link = Link(tmp_path, grace_s=30.0)
    link.expect()
    (tmp_path / TROUBLE).write_text("another coach is running in this folder")
    link.line = Line("here", Snapshot(phase="going"))
    time.sleep(0.05)
    stale(tmp_path)
    link.start()
    until(lambda: link.line.kind != "here")
    time.sleep(0.5)
    assert link.line.kind == "coming" and link.line.goes_on
    (tmp_path / TROUBLE).write_text("the sensor is gone")
    until(lambda: link.line.kind == "failed")
    assert link.line.why == "the sensor is gone" and not link.line.goes_on
    link.close()


@pytest.mark.parametrize("how", ["said", "said slowly", "no room to say", "process", "time"])
def test_an_engine_that_does_not_start(tmp_path, how):
    now = [100.0]
    link = Link(tmp_path, running=lambda: how != "process", clock=lambda: now[0])
    link.expect()
    link.start()
    if how.startswith("said"):
        (tmp_path / TROUBLE).touch()
        time.sleep(0.5 if how == "said slowly" else 0.0)  # a full machine: the file is there before its line is
        (tmp_path / TROUBLE).write_text("the folder is in use")
    elif how == "no room to say":
        (tmp_path / TROUBLE).touch()  # what is left of a line for which the disk was too full
    elif how == "time":
        time.sleep(0.5)
        assert link.line.kind == "coming"
        now[0] += 60.0
    until(lambda: link.line.kind == "failed")
    assert link.line.why == ("the folder is in use" if how.startswith("said") else "")
    link.close()


RUBBISH = [
    b"",
    b"\xff\xfe\n",
    b"{}\n",
    b"[]\n",
    b'{"ok": true}\n{"ok": true}\n{}\n',
    b'{"ok": true}\n{"ok": true}\n{"snapshot": []}\n',
    b'{"ok": true}\n{"ok": true}\n{"snapshot": {"phase": []}}\n',
    b'{"ok": true}\n{"ok": true}\n' + b"x" * 200000,
    b'{"ok": false, "error": "protocol other/9"}\n',
]


@pytest.mark.parametrize("said", RUBBISH, ids=range(len(RUBBISH)))
def test_whatever_answers_there_the_line_goes_on(tmp_path, said, coach):
    """A stranger on the socket: said in one of the line's kinds, and a real engine is found afterwards."""
    path = tmp_path / "other.sock"
    listener = socket.socket(socket.AF_UNIX)
    listener.bind(str(path))
    listener.listen()

    def answer():
        while True:
            try:
                client, _ = listener.accept()
            except OSError:
                return
            with client:
                client.sendall(said)

    threading.Thread(target=answer, daemon=True).start()
    (tmp_path / ADDRESS).write_text(json.dumps({"protocol": PROTOCOL, "socket": str(path), "token": "x", "pid": 1}))
    link = Link(tmp_path)
    link.start()
    until(lambda: link.line.kind in ("gone", "failed", "here"))
    listener.shutdown(socket.SHUT_RDWR)
    listener.close()
    coach()
    until(lambda: link.line.kind == "here" and link.line.snapshot.time_s > 0.5)
    link.close()
