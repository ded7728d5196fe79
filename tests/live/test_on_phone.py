"""What the service's process does with a plan, on a desktop: how it ends, and what is told and left behind."""

from __future__ import annotations

import json
from importlib import import_module
from pathlib import Path

import pytest

from cadence_coach.core.settings import Settings
from cadence_coach.live import on_phone
from cadence_coach.store.outing_file import load_outing
from tests.live import build


class Service:
    """The notification, and an "End" that nobody presses."""

    def __init__(self) -> None:
        self.said: list[str] = []

    def say(self, text: str) -> None:
        self.said.append(text)

    def endAsked(self) -> bool:
        return False


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


def plan(source: object) -> str:
    return json.dumps({**json.loads(on_phone.plan_text(Settings())), "source": str(source), "sound": "silent"})


def test_started_anew_after_a_clean_end_there_is_nothing_to_ride(home: Path) -> None:
    service = Service()
    assert on_phone.run("", service) == "nothing to ride" and service.said == []


def test_a_file_that_is_missing_in_the_middle_of_an_outing_is_told(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is no clean end: the notification says so, and Android's next start goes on with the plan."""
    ride = build.recording(tmp_path / "ride", until=4.0)

    class Pulled(build.Device):
        def __next__(self) -> list:
            if self._at == 10:
                raise FileNotFoundError(2, "No such file or directory", "/dev/sensor")
            return super().__next__()

    monkeypatch.setattr(import_module("cadence_coach.live.begin"), "open_source", Pulled)
    service = Service()
    with pytest.raises(FileNotFoundError):
        on_phone.run(plan(ride), service)
    assert service.said[0].startswith("Listening") and "No such file" in service.said[-1]
    assert "No such file" in (home / on_phone.TROUBLE).read_text()
    assert (home / on_phone.RIDING).exists()
    (outing,) = (load_outing(p) for p in (home / "outings").glob("*.outing"))
    assert outing.meta["ended"] == "error" and len(outing.kinds) == 200
