"""The ladder."""

from __future__ import annotations

from typing import Any

from kivy.app import App

from cadence_coach.app.parts.told import Told
from cadence_coach.app.views import ladder


class Ladder(Told):
    rows: Any = None
    failed = 0
    open_rung: str | None = None

    def refresh(self) -> None:
        self.told()
        self.work(season_rows, self.show)

    def show(self, found: Any) -> None:
        self.rows, self.failed = found
        self.told()

    def told(self) -> None:
        self.view = ladder.ladder(self.rows, self.open_rung, App.get_running_app().words, self.failed)

    def act(self, name: str, value: Any = None) -> None:
        app = App.get_running_app()
        if name == ladder.TRAIN:
            app.go("land")
        elif name == ladder.RIDE:
            app.go("before")
        else:
            key = name.removeprefix(ladder.RUNG)
            self.open_rung = None if key == self.open_rung else key
            self.told()


def season_rows() -> tuple[list[Any], int]:
    """Rows of all outings, and how many files could not be read."""
    from cadence_coach.review.season_row import Cache
    from cadence_coach.store.folders import outings_folder

    rows, failed = Cache().rows(sorted(outings_folder().glob("*.outing")))
    return rows, len(failed)
