"""A data folder with outings that are kept."""

from __future__ import annotations

import pytest

from cadence_coach.store.outing_file import save_outing
from tests.review.build import Plan, make
from tests.review.test_outing import flies
from tests.review.test_season import PROFILE, outing


@pytest.fixture
def home(tmp_path, monkeypatch):
    """A data folder with three outings; the newest has small pumps."""
    monkeypatch.setenv("CADENCE_COACH_HOME", str(tmp_path / "home"))
    monkeypatch.chdir(tmp_path)
    folder = tmp_path / "home" / "outings"
    folder.mkdir(parents=True)
    for n in (1, 2):
        save_outing(outing(n, profile=PROFILE), folder / f"{n}.outing")
    plan = Plan(flies([12, 40, 30], share=0.5, height=0.45, speed=4.4), profile=PROFILE, place=(47.0, 8.0),
                uuid="00000000-0000-4000-8000-000000000003", start_utc="2026-06-20T09:00:00Z")  # fmt: skip
    save_outing(make(plan), folder / "3.outing")
    return folder
