"""The first page."""

from __future__ import annotations

from typing import Any

from kivy.app import App
from kivy.clock import Clock
from kivy.properties import ListProperty, ObjectProperty, StringProperty

from cadence_coach.app.main import SCREENS
from cadence_coach.app.parts import GoRow, Page
from cadence_coach.app.parts.tide import Tide  # noqa: F401 (named in kv)
from cadence_coach.app.views import home

LOOK_S = 0.5


class RideCard(GoRow):
    """The one thing to do from here, with the shape that the water screen shows."""


class Home(Page):
    rows = ListProperty()
    top = ObjectProperty(None, allownone=True)
    gear = StringProperty("…")
    _timer: Any = None

    def refresh(self) -> None:
        app = App.get_running_app()
        self.rows = home.rows(app.words, frozenset(SCREENS), self.gear)
        Clock.schedule_once(lambda _: Clock.schedule_once(self._whose, 0.2), 0)
        self._look()
        if self._timer is None:
            self._timer = Clock.schedule_interval(self._look, LOOK_S)

    def _whose(self, *_: Any) -> None:
        """Rider and foil: after the first frame, since what reads a profile takes its time to come in."""
        from cadence_coach.app.screens.gear import own_profile
        from cadence_coach.app.views.gear import in_a_line

        app = App.get_running_app()
        line = in_a_line(own_profile(), app.words)
        if line != self.gear:
            self.gear = line
            self.rows = home.rows(app.words, frozenset(SCREENS), line)

    def _look(self, *_: Any) -> None:
        """An outing that goes on, or that was cut off, is the first thing to see."""
        self.top = home.top(App.get_running_app().link.line, App.get_running_app().words)

    def left(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None

    def on_rows(self, *_: Any) -> None:
        self.ids.rows.clear_widgets()
        for screen, text, sub in self.rows:
            row = GoRow(name=f"home.{screen}", text=text, sub=sub)
            row.bind(on_release=lambda _, to=screen: App.get_running_app().go(to))
            self.ids.rows.add_widget(row)
