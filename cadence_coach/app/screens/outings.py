"""Look back: the list of outings."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from kivy.app import App

from cadence_coach.app.parts.told import Told
from cadence_coach.app.views import back


class Outings(Told):
    found: tuple[back.Listed, ...] | None = None
    """What was read last: shown at once while it is read again."""

    def refresh(self) -> None:
        self.told()
        self.work(listed, self.show)

    def show(self, found: tuple[back.Listed, ...]) -> None:
        self.found = found
        self.told()

    def told(self) -> None:
        app = App.get_running_app()
        self.view = back.outings(self.found, app.words, app.link.line.writes)

    def act(self, name: str, value: Any = None) -> None:
        App.get_running_app().go("outing", path=name.removeprefix(back.OPEN))


def listed() -> tuple[back.Listed, ...]:
    """Every outing of this phone, from the season's cache; those not in it yet are read now."""
    from cadence_coach.errors import CouldNot, Refused
    from cadence_coach.review.season_row import Cache
    from cadence_coach.store.folders import outings_folder

    paths: list[Path] = sorted(outings_folder().glob("*.outing"))
    cache = Cache()
    _, failed = cache.rows(paths)
    why = {path: text.replace(f"{path}: ", f"{path.name}: ") for path, text in failed}
    found = []
    for path in paths:
        try:
            found.append(back.Listed(str(path), None if path in why else cache.row(path), why.get(path, "")))
        except (Refused, CouldNot) as error:  # changed in this moment
            found.append(back.Listed(str(path), None, str(error)))
    return tuple(found)
