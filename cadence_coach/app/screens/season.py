"""The season."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from kivy.app import App

from cadence_coach.app.parts.told import Told
from cadence_coach.app.screens.ladder import season_rows
from cadence_coach.app.screens.sharing import shared, written
from cadence_coach.app.views import back, ladder


class Season(Told):
    found: Any = None
    failed = 0
    _not_shared = ""

    def refresh(self) -> None:
        self.told()
        self.work(summed, self.show)

    def show(self, found: Any) -> None:
        self.found, self.failed = found
        self.told()

    def told(self) -> None:
        words = App.get_running_app().words
        self.view = ladder.season(self.found, self.failed, words, self._not_shared)

    def act(self, name: str, value: Any = None) -> None:
        app = App.get_running_app()
        if name == back.SHARE:
            self.work(lambda: _page(self.found, app.words.lang), self.share)

    def share(self, found: Path | Exception) -> None:
        self._not_shared = shared(found, "season.report")
        self.told()


def summed() -> tuple[Any, int]:
    from cadence_coach.review.season import season

    rows, failed = season_rows()
    return season(rows), failed


def _page(found: Any, lang: str) -> Path | Exception:
    from cadence_coach.review.season_page import season_html

    return written("season.html", lambda: season_html(found, lang=lang))
