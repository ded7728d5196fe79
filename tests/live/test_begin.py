"""From a plan to a Live: what the file says of its start."""

from __future__ import annotations

from contextlib import ExitStack
from datetime import UTC, datetime, timedelta
from importlib import import_module
from pathlib import Path

import pytest

from cadence_coach.live import Plan
from cadence_coach.store.outing_file import load_outing
from tests.live import build
from tests.store import made

begin_ = import_module("cadence_coach.live.begin")


def test_the_start_is_when_the_source_was_opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Row time 0 of a device is its first sample; making earlier outings whole takes an hour here."""
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path))

    class Clock(datetime):
        later = timedelta(0)

        @classmethod
        def now(cls, tz: object = None) -> datetime:
            return datetime.now(UTC) + cls.later

    def slow(*_: object) -> list:
        Clock.later = timedelta(hours=1)
        return []

    monkeypatch.setattr(begin_, "datetime", Clock)
    monkeypatch.setattr(begin_, "open_source", lambda spec: build.Device(made.rows(400)))
    monkeypatch.setattr(begin_, "rescue_folder", slow)
    before = datetime.now(UTC)
    with ExitStack() as stack:
        begin_.begin(Plan("phone:"), stack).run()
    (path,) = (tmp_path / "outings").glob("*.outing")
    start = datetime.fromisoformat(str(load_outing(path).start_utc))
    assert timedelta(seconds=-1) < start - before < timedelta(minutes=30)
    assert path.name.startswith(f"{start:%Y-%m-%dT%H-%M-%SZ}")
