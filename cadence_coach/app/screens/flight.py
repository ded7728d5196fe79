"""Look back: one flight."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from kivy.app import App
from kivy.properties import NumericProperty, StringProperty

from cadence_coach.app.parts.told import Told
from cadence_coach.app.screens.outing import changed, opened, tried
from cadence_coach.app.views import back, flight


class Flight(Told):
    """`path` is the outing's file, `number` the flight, from 0."""

    path = StringProperty("")
    number = NumericProperty(0)

    def __init__(self, **given: Any) -> None:
        super().__init__(**given)
        self.looked: Any = None
        self._writing: str | None = None
        self._trouble = ""
        self._read: int | None = None

    def refresh(self) -> None:
        if self.looked is not None:
            self.told()
        elif self.view is None:
            self.view = back.reading(App.get_running_app().words)
        if (written_at := changed(self.path)) != self._read:
            self._read = written_at
            self.work(lambda: opened(self.path), self.show)

    def show(self, found: Any) -> None:
        if isinstance(found, str):
            self.view = back.unreadable(found, App.get_running_app().words)
            return
        self.looked = found
        self.told()

    def told(self) -> None:
        words = App.get_running_app().words
        self.view = flight.flight(self.looked, int(self.number), words, writing=self._writing, trouble=self._trouble)

    def act(self, name: str, value: Any = None) -> None:
        from cadence_coach.review.correcting import keep_note, say_ended, say_helped

        path, number = Path(self.path), int(self.number)
        if name == flight.ENDED:
            self.keep(lambda: say_ended(path, number, value))
        elif name == flight.HELPED:
            self.keep(lambda: say_helped(path, number, value))
        elif name == back.NOTE:
            self._writing = value or ""
            if value is None:
                self.told()
        elif name == back.KEEP_NOTE:
            who = App.get_running_app().words("back.me")
            self.keep(lambda: keep_note(path, self._writing or "", who, flight=number + 1))

    def keep(self, change: Any) -> None:
        def done(why: str) -> None:
            self._trouble = why
            if why:
                self.told()
            else:
                self._writing = None
                self.refresh()

        self.work(lambda: tried(change), done)
