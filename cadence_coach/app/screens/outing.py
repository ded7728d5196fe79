"""Look back: one outing."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from kivy.app import App

from cadence_coach.app.screens.gear import own_profile
from cadence_coach.app.screens.looked import OfOneOuting
from cadence_coach.app.screens.sharing import shared, written
from cadence_coach.app.views import back


class Outing(OfOneOuting):
    def made(self) -> None:
        """The view as it is now, from what was read."""
        from cadence_coach.review.advice import one_thing
        from cadence_coach.review.focus import next_focus, rider_of

        words = App.get_running_app().words
        self.view = back.outing(
            self.looked,
            one_thing(self.looked),
            words,
            focus=next_focus(rider_of(self.looked.outing.profile or _own())),
            writing=self._writing,
            trouble=self.trouble,
            goes_on=App.get_running_app().link.line.writes(self.path),
        )

    def act(self, name: str, value: Any = None) -> None:
        app = App.get_running_app()
        if name == back.FOCUS:
            self.keep(name, lambda: _take(self.path))
        elif name == back.SHARE:
            self.work(lambda: _report(self.looked, self.path, app.words.lang), self.share)
        elif name == back.NOTE:
            self._writing = value or ""
            if value is None:
                self.told()
        elif name == back.KEEP_NOTE:
            self.keep(name, lambda: _note(self.path, self._writing or "", app.words("back.me")))
        elif name.startswith(back.OPEN):
            app.go("flight", path=self.path, number=int(name.removeprefix(back.OPEN)))

    def share(self, found: Path | Exception) -> None:
        why = shared(found, "back.report")
        self.trouble = {back.SHARE: why} if why else {}
        self.told()


def _report(looked: Any, path: str, lang: str) -> Path | Exception:
    from cadence_coach.review.report import report_html

    return written(Path(path).stem + ".html", lambda: report_html(looked, place=False, lang=lang))


def _take(path: str) -> None:
    from cadence_coach.review.correcting import take_focus

    take_focus(Path(path), _own())


def _own() -> dict[str, Any] | None:
    profile = own_profile()
    return profile.table if profile is not None else None


def _note(path: str, text: str, who: str) -> None:
    from cadence_coach.review.correcting import keep_note

    keep_note(Path(path), text, who)
