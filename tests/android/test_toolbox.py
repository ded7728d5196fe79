"""Out of reach is skipped, refused fails: pip with an index of our own that answers, and with silent ones."""

from __future__ import annotations

import http.server
import os
import socket
import sys
import threading
from collections.abc import Iterator

import pytest

from tests.android import toolbox

PAGE = b'<!DOCTYPE html><html><body><a href="made_up_tool-1.0-py3-none-any.whl">made_up_tool-1.0</a></body></html>'


class Index(http.server.BaseHTTPRequestHandler):
    """A package index with one version of one package; `refuse` is the status it answers with instead of 200."""

    refuse = 200

    def do_GET(self) -> None:
        self.send_response(self.refuse)
        self.send_header("Content-Type", "text/html")
        self.end_headers()
        self.wfile.write(PAGE)

    def log_message(self, *_: object) -> None:
        """Nothing on the screen."""


@pytest.fixture
def index() -> Iterator[type[Index]]:
    handler = type("OneIndex", (Index,), {})
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler) as server:
        handler.port = server.server_address[1]
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield handler
        server.shutdown()


def ask(port: int, what: str, tmp_path: object) -> None:
    where = f"http://127.0.0.1:{port}/simple/"
    pip = [sys.executable, "-m", "pip", "--isolated", "install", "-q", "--no-cache-dir", "--disable-pip-version-check"]
    quick = ["--retries", "1", "--timeout", "2", "--index-url", where, "--target", str(tmp_path), "--no-deps"]
    here = {k: v for k, v in os.environ.items() if not k.lower().endswith("_proxy")}
    toolbox.run([*pip, *quick, what], "a tool", env=here)


def test_a_refused_pin_fails(index, tmp_path) -> None:
    with pytest.raises(AssertionError, match=r"made-up-tool==2\.0"):
        ask(index.port, "made-up-tool==2.0", tmp_path)


def test_an_index_that_is_down_is_out_of_reach(tmp_path) -> None:
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        port = s.getsockname()[1]
    with pytest.raises(toolbox.OutOfReach, match="made-up-tool"):
        ask(port, "made-up-tool==1.0", tmp_path)


def test_an_index_that_says_nothing_is_out_of_reach(tmp_path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as s, pytest.raises(toolbox.OutOfReach, match="made-up-tool"):
        ask(s.getsockname()[1], "made-up-tool==1.0", tmp_path)


def test_a_package_that_the_index_does_not_have_fails(index, tmp_path) -> None:
    index.refuse = 404
    with pytest.raises(AssertionError):
        ask(index.port, "made-up-tool==1.0", tmp_path)


def test_a_tool_that_is_not_there_is_out_of_reach() -> None:
    with pytest.raises(toolbox.OutOfReach, match="a tool"):
        toolbox.run(["no-such-program-here"], "a tool")


SAID = {
    "npm error code ETARGET\nnpm error notarget No matching version found for x@9": AssertionError,
    "npm error code E404\nnpm error 404 Not Found": AssertionError,
    "npm error code ENOTFOUND\nnpm error network request failed": toolbox.OutOfReach,
    "E: Unable to locate package android-framework-res": AssertionError,
    "E: Failed to fetch: Temporary failure resolving 'mirror'": toolbox.OutOfReach,
}
"""The words of npm and apt, and what they mean."""


@pytest.mark.parametrize("words", SAID)
def test_what_npm_and_apt_say(words: str) -> None:
    program = "import sys; sys.exit(print(sys.argv[1], file=sys.stderr) or 1)"
    with pytest.raises(SAID[words]):
        toolbox.run([sys.executable, "-c", program, words], "a tool")
