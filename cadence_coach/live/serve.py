"""The coach in its own process, and screens as its clients: JSON lines over a Unix socket in the data folder.

A client sends one object a line and gets one back; `engine.json` in the data folder tells it where and with which
token.

    {"ask": "hello", "protocol": "cadence-coach-live/1", "token": ...}   first; without it nothing else is answered
    {"ask": "snapshot"}                                  -> {"ok": true, "snapshot": {...}}
    {"ask": "command", "name": "pause", "given": {}}     -> {"ok": true} once the engine has taken it
    {"ask": "follow", "hz": 10}                          -> {"ok": true}, then {"snapshot": {...}} until it hangs up
    anything wrong                                       -> {"ok": false, "error": "one line"}

The engine's thread does none of this: it only leaves its snapshot behind. A client that sends rubbish is told and then
dropped, one that does not read is dropped; neither can make the coach wait.
"""

from __future__ import annotations

import contextlib
import hmac
import json
import os
import secrets
import socket
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Self

from cadence_coach.errors import CouldNot, Refused
from cadence_coach.live.shell import Live
from cadence_coach.live.snapshot import PROTOCOL, Snapshot
from cadence_coach.store.folders import FolderLock

ADDRESS = "engine.json"
LOCK = "engine-in-use"
"""Held by the one coach that is served in a folder: one that keeps nothing does not hold that of the outings."""
LONGEST_LINE = 64 << 10
MOST_CLIENTS = 8
MOST_ERRORS = 20
HELLO_S = 5.0
SEND_S = 1.0
FASTEST_HZ = 50.0
LONGEST_PATH = 100
"""Bytes: the system allows 108 for a socket's name."""


class Server:
    """Lets clients look at and command one Live; `close` takes the socket away. Raises CouldNot where another is."""

    def __init__(self, live: Live, folder: Path) -> None:
        self._live = live
        self._token = secrets.token_hex(16)
        self._address = folder / ADDRESS
        self._lock = FolderLock(folder, LOCK).take()
        self._room: tempfile.TemporaryDirectory[str] | None = None
        path = folder / "engine.sock"
        if len(os.fsencode(path)) > LONGEST_PATH:  # a deep data folder: the address file says where it is instead
            self._room = tempfile.TemporaryDirectory(prefix="coach-")
            path = Path(self._room.name) / "engine.sock"
        self._path = path
        self._listener = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        try:
            path.unlink(missing_ok=True)  # left by an engine that died; the lock says that none is running
            before = os.umask(0o177)
            try:
                self._listener.bind(str(path))
            finally:
                os.umask(before)
            self._listener.listen(MOST_CLIENTS)
            self._write_address()
        except OSError as e:
            self._listener.close()
            self._lock.drop()
            raise CouldNot(
                f"{path}: screens cannot be served ({e}); check write rights, or leave out --serve"
            ) from None
        self._clients: set[socket.socket] = set()
        self._closing = threading.Event()
        threading.Thread(target=self._accept, name="serve", daemon=True).start()

    def _write_address(self) -> None:
        told = {"protocol": PROTOCOL, "socket": str(self._path), "token": self._token, "pid": os.getpid()}
        fresh = self._address.with_suffix(".new")
        fresh.unlink(missing_ok=True)
        with open(os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8") as file:
            json.dump(told, file)
        os.replace(fresh, self._address)

    def close(self) -> None:
        self._closing.set()
        if self._is_ours():
            for gone in (self._address, self._path):
                gone.unlink(missing_ok=True)
        with contextlib.suppress(OSError):
            self._listener.shutdown(socket.SHUT_RDWR)  # wakes accept()
        self._listener.close()
        for client in list(self._clients):
            with contextlib.suppress(OSError):
                client.shutdown(socket.SHUT_RDWR)
        if self._room is not None:
            self._room.cleanup()
        self._lock.drop()

    def _is_ours(self) -> bool:
        """Where the folder's file system knows no locks, another coach may have taken the place."""
        try:
            return bool(json.loads(self._address.read_text("utf-8"))["token"] == self._token)
        except (OSError, ValueError, KeyError, TypeError):
            return False

    def _accept(self) -> None:
        while not self._closing.is_set():
            try:
                client, _ = self._listener.accept()
            except OSError:
                return
            if len(self._clients) >= MOST_CLIENTS:
                with contextlib.suppress(OSError):
                    client.settimeout(SEND_S)
                    _send(client, {"ok": False, "error": f"{MOST_CLIENTS} screens are looking already; close one"})
                client.close()
                continue
            self._clients.add(client)
            threading.Thread(target=self._serve, args=(client,), name="client", daemon=True).start()

    def _serve(self, client: socket.socket) -> None:
        try:
            self._talk(client)
        except OSError:
            pass  # hung up, or did not read in time: its loss alone
        finally:
            self._clients.discard(client)
            client.close()

    def _talk(self, client: socket.socket) -> None:
        known, errors = False, 0
        client.settimeout(HELLO_S)
        for line in _lines(client):
            try:
                asked = _parsed(line)
                if not known:
                    self._hello(asked)
                    known = True
                    client.settimeout(None)
                    _send(client, {"ok": True, "protocol": PROTOCOL})
                elif asked.get("ask") == "follow":
                    hz = _hz(asked.get("hz", 10))
                    _send(client, {"ok": True})
                    self._follow(client, 1.0 / hz)
                    return
                else:
                    _send(client, self._answer(asked))
            except (Refused, CouldNot) as e:
                errors += 1
                _send(client, {"ok": False, "error": " ".join(str(e).split())})
                if not known or errors >= MOST_ERRORS:
                    return

    def _hello(self, asked: dict[str, Any]) -> None:
        token = asked.get("token")
        if asked.get("ask") != "hello":
            raise Refused("say hello with the token first")
        if not isinstance(token, str) or not hmac.compare_digest(token.encode(), self._token.encode()):
            raise Refused(f"wrong token; read it from {ADDRESS}")
        if asked.get("protocol") != PROTOCOL:
            raise Refused(
                f"protocol {asked.get('protocol')!r}: this coach speaks {PROTOCOL}; use the same version for both"
            )

    def _answer(self, asked: dict[str, Any]) -> dict[str, Any]:
        what = asked.get("ask")
        if what == "snapshot":
            return {"ok": True, "snapshot": self._live.snapshot.plain()}
        if what == "command":
            given = asked.get("given", {})
            name = asked.get("name")
            if not isinstance(name, str) or not isinstance(given, dict) or not {"name", "timeout"}.isdisjoint(given):
                raise Refused("a command has a name, and its values by name")
            self._live.command(name, **given)
            return {"ok": True}
        raise Refused(f"no such question: {what!r}; there are hello, snapshot, command, follow")

    def _follow(self, client: socket.socket, every: float) -> None:
        shown = None
        while not self._closing.is_set():
            snapshot = self._live.snapshot
            if snapshot is not shown:
                _send(client, {"snapshot": snapshot.plain()})
                shown = snapshot
            if snapshot.phase == "ended" or _hung_up(client, every):
                return


class Client:
    """A screen's side. Raises CouldNot when no coach runs in the folder, or it has gone."""

    def __init__(self, folder: Path, timeout: float = 6.0) -> None:
        try:
            told = json.loads((folder / ADDRESS).read_text("utf-8"))
            path, token, self.pid = str(told["socket"]), str(told["token"]), int(told["pid"])
        except (OSError, ValueError, KeyError, TypeError):
            raise CouldNot(f"{folder}: no coach is running there; start one with live --serve") from None
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self._socket.settimeout(timeout)
        try:
            self._socket.connect(path)
        except OSError:
            self._socket.close()
            raise CouldNot(f"{folder}: the coach that ran there is gone; start one with live --serve") from None
        self._lines = _lines(self._socket)
        self._ask({"ask": "hello", "protocol": PROTOCOL, "token": token})

    def _read(self) -> dict[str, Any]:
        try:
            line = next(self._lines, None)
        except TimeoutError:
            raise CouldNot("the coach does not answer; its outing is kept, stop it where it was started") from None
        except OSError:
            line = None
        if line is None:
            raise CouldNot("the coach has gone; its outing is kept and can be opened")
        return _parsed(line)

    def _ask(self, what: dict[str, Any]) -> dict[str, Any]:
        with contextlib.suppress(OSError):  # hung up: what it said before, or that it has gone, comes with the reading
            _send(self._socket, what)
        answer = self._read()
        if not answer.get("ok"):
            raise Refused(str(answer.get("error")))
        return answer

    def snapshot(self) -> Snapshot:
        return Snapshot.from_plain(self._ask({"ask": "snapshot"})["snapshot"])

    def command(self, name: str, **given: Any) -> None:
        self._ask({"ask": "command", "name": name, "given": given})

    def follow(self, hz: float = 10.0) -> Iterator[Snapshot]:
        """Snapshots as they come; ends with the outing. This connection answers nothing else from then on."""
        self._ask({"ask": "follow", "hz": hz})
        while True:
            snapshot = Snapshot.from_plain(self._read()["snapshot"])
            yield snapshot
            if snapshot.phase == "ended":
                return

    def close(self) -> None:
        self._socket.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


# ---- lines ----


def _lines(client: socket.socket) -> Iterator[bytes]:
    """Whole lines. A longer one than LONGEST_LINE ends the talk: there is nothing to wait for in it."""
    waiting = b""
    while True:
        line, end, rest = waiting.partition(b"\n")
        if end:
            waiting = rest
            yield line
            continue
        if len(waiting) > LONGEST_LINE:
            return
        part = client.recv(65536)
        if not part:
            return
        waiting += part


def _parsed(line: bytes) -> dict[str, Any]:
    try:
        found = json.loads(line.decode("utf-8"))
    except (ValueError, RecursionError):
        raise Refused("a line must be one JSON object") from None
    if not isinstance(found, dict):
        raise Refused("a line must be one JSON object")
    return found


def _send(client: socket.socket, what: dict[str, Any]) -> None:
    """All of it within SEND_S, or OSError: whoever does not read is not waited for."""
    data = memoryview(json.dumps(what, separators=(",", ":")).encode() + b"\n")
    until = time.monotonic() + SEND_S
    waits = client.gettimeout()
    try:
        while data:
            client.settimeout(max(0.001, until - time.monotonic()))
            data = data[client.send(data) :]
    finally:
        client.settimeout(waits)


def _hz(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0.1 <= value <= FASTEST_HZ:
        raise Refused(f"hz is {value!r}; it must lie in 0.1 to {FASTEST_HZ:g}")
    return float(value)


def _hung_up(client: socket.socket, wait: float) -> bool:
    """Waits, and says whether the other side has gone meanwhile."""
    until = time.monotonic() + wait
    while (left := until - time.monotonic()) > 0:
        client.settimeout(left)
        try:
            if not client.recv(4096):
                return True
        except TimeoutError:
            break
        finally:
            client.settimeout(None)
    return False
