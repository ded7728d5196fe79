"""What all tests share."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from tests.sound.pulse import Pulse

settings.register_profile("project", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("project")  # a busy machine is no failure; speed is a figure of the benchmarks

if signal.getsignal(signal.SIGINT) is signal.SIG_IGN and threading.current_thread() is threading.main_thread():
    # a run in a script's background inherits a deaf ctrl-C, and so would the programs that tests stop by it
    signal.signal(signal.SIGINT, signal.default_int_handler)


@pytest.fixture
def pulse(tmp_path: Path) -> Iterator[Pulse]:
    """A real sound server, this test's own."""
    server = Pulse(tmp_path)
    server.start()
    yield server
    server.kill()


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """What was not run stands at the end with its reason, also where -q hides skips."""
    reasons: dict[str, int] = {}
    for report in terminalreporter.stats.get("skipped", []):
        reason = report.longrepr[2] if isinstance(report.longrepr, tuple) else str(report.longrepr)
        reason = reason.removeprefix("Skipped: ")
        reasons[reason] = reasons.get(reason, 0) + 1
    for reason, count in sorted(reasons.items()):
        terminalreporter.write_line(f"NOT RUN, {count} tests: {reason}", yellow=True)
