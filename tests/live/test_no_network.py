"""Nothing opens a network connection: every command that touches outings, with an eye on each socket that is made."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from tests.live import build

WATCHED = """
import os, socket, sys
ALLOWED = {socket.AF_UNIX, getattr(socket, "AF_NETLINK", socket.AF_UNIX)}  # neither leaves the machine
def watch(event, args):
    if event == "socket.__new__" and args[1] not in (*map(int, ALLOWED), -1):
        refuse(event, args)
    if event in ("socket.connect", "socket.bind", "socket.sendto", "socket.sendmsg") and not isinstance(args[1], str |
    bytes):
        refuse(event, args)
    if event in ("socket.getaddrinfo", "socket.gethostbyname", "socket.gethostbyaddr", "urllib.Request"):
        refuse(event, args)
def refuse(event, args):
    os.write(2, f"NETWORK: {event} {args!r}\\n".encode())
    os._exit(99)
sys.addaudithook(watch)
"""

RUN = WATCHED + "from cadence_coach.cli import run\nsys.exit(run(sys.argv[1:]))\n"


def watched(code, *argv, home):
    env = {**os.environ, "CADENCE_COACH_HOME": str(home)}
    return subprocess.run([sys.executable, "-c", code, *argv], env=env, capture_output=True, text=True, timeout=300)


def test_the_watch_sees_a_connection(tmp_path):
    for code in (
        "socket.socket(socket.AF_INET, socket.SOCK_STREAM).connect(('127.0.0.1', 9))",
        "socket.getaddrinfo('localhost', 80)",
        "socket.create_connection(('::1', 9))",
        "import urllib.request; urllib.request.urlopen('http://localhost:9')",
    ):
        assert watched(WATCHED + code, home=tmp_path).returncode == 99, code
    assert watched(WATCHED + "socket.socket(socket.AF_UNIX); print('fine')", home=tmp_path).stdout == "fine\n"


@pytest.fixture(scope="module")
def room(tmp_path_factory):
    folder = tmp_path_factory.mktemp("net")
    build.recording(folder / "ride", until=40.0)
    done = watched(RUN, "live", "--source", str(folder / "ride"), "--yes", "--fast", "--serve", home=folder / "home")
    assert done.returncode == 0, done.stderr
    return folder


@pytest.mark.parametrize(
    "argv",
    [
        ("import", "{ride}", "--out", "{out}"),
        ("export", "--as", "json", "--to", "{out}"),
        ("export", "--as", "outing", "--no-place", "--to", "{out}/np.outing"),
        ("review", "--report", "{out}/r.html"),
    ],
)
def test_commands_stay_on_this_machine(room, tmp_path, argv):
    given = [a.format(ride=room / "ride", out=tmp_path) for a in argv]
    done = watched(RUN, *given, home=room / "home")
    assert "NETWORK" not in done.stderr and done.returncode == 0, done.stderr
