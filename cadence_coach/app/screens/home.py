"""The first page."""

from __future__ import annotations

from typing import Any

from kivy.app import App
from kivy.properties import ListProperty

from cadence_coach.app.main import SCREENS
from cadence_coach.app.parts import GoRow, Page
from cadence_coach.app.views import home


class Home(Page):
    rows = ListProperty()

    def refresh(self) -> None:
        app = App.get_running_app()
        self.rows = home.rows(app.words, frozenset(SCREENS), "")

    def on_rows(self, *_: Any) -> None:
        self.ids.rows.clear_widgets()
        for screen, text, sub in self.rows:
            row = GoRow(name=f"home.{screen}", text=text, sub=sub)
            row.bind(on_release=lambda _, to=screen: App.get_running_app().go(to))
            self.ids.rows.add_widget(row)
