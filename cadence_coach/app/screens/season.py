"""The season."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from kivy.app import App

from cadence_coach.app.parts.told import Told
from cadence_coach.app.screens.ladder import season_rows
from cadence_coach.app.views import back, ladder
from cadence_coach.errors import CouldNot


class Season(Told):
    found: Any = None
    failed = 0

    def refresh(self) -> None:
        self.told()
        self.work(summed, self.show)

    def show(self, found: Any) -> None:
        self.found, self.failed = found
        self.told()

    def told(self) -> None:
        self.view = ladder.season(self.found, self.failed, App.get_running_app().words)

    def act(self, name: str, value: Any = None) -> None:
        app = App.get_running_app()
        if name == back.SHARE:
            self.work(lambda: written(self.found, app.words.lang), self.share)

    def share(self, found: Path | None) -> None:
        if found is not None:
            App.get_running_app().host.share(found, App.get_running_app().words("season.report"))


def summed() -> tuple[Any, int]:
    from cadence_coach.review.season import season

    rows, failed = season_rows()
    return season(rows), failed


def written(found: Any, lang: str) -> Path | None:
    """The season as a page beside other things that are shared."""
    from cadence_coach.review.season_page import season_html
    from cadence_coach.store.folders import home

    try:
        folder = home() / "shared"
        folder.mkdir(exist_ok=True)
        file = folder / "season.html"
        file.write_text(season_html(found, lang=lang), encoding="utf-8")
    except (OSError, CouldNot):
        return None
    return file
