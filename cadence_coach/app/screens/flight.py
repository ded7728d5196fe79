"""Look back: one flight."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from kivy.app import App
from kivy.properties import NumericProperty

from cadence_coach.app.screens.looked import OfOneOuting
from cadence_coach.app.views import back, flight


class Flight(OfOneOuting):
    """`number`: the flight, from 0."""

    number = NumericProperty(0)

    def made(self) -> None:
        words = App.get_running_app().words
        self.view = flight.flight(self.looked, int(self.number), words, writing=self._writing, trouble=self.trouble)

    def act(self, name: str, value: Any = None) -> None:
        from cadence_coach.review.correcting import keep_note, say_of
        from cadence_coach.review.figures import ENDED_TAG, HELPED_TAG, STARTED_TAG

        path, number = Path(self.path), int(self.number)
        tags = {flight.STARTED: STARTED_TAG, flight.ENDED: ENDED_TAG, flight.HELPED: HELPED_TAG}
        if tag := tags.get(name):
            self.keep(name, lambda: say_of(path, tag, number, value))
        elif name == back.NOTE:
            self._writing = value or ""
            if value is None:
                self.told()
        elif name == back.KEEP_NOTE:
            who = App.get_running_app().words("back.me")
            self.keep(name, lambda: keep_note(path, self._writing or "", who, flight=number + 1))
