"""One of several: side by side where there is room, below each other where there is not."""

from __future__ import annotations

from typing import Any

from kivy.app import App
from kivy.clock import Clock
from kivy.core.text import Label as CoreLabel
from kivy.metrics import dp
from kivy.properties import BooleanProperty, ListProperty, ObjectProperty, StringProperty
from kivy.uix.gridlayout import GridLayout

from cadence_coach.app.parts.button import TickRow

BOX = 28 + 3 * 12
"""The mark and the air around it in a TickRow [dp]."""


class Choice(GridLayout):
    """options: [(key, text)], chosen: one of the keys; `on_choose(key)` is dispatched when another is taken by hand.
    Its rows are named NAME.KEY."""

    name = StringProperty("")
    options = ListProperty()
    chosen = ObjectProperty(None, allownone=True)
    again = BooleanProperty(False)
    """Whether touching what is chosen already is told, too: it confirms."""

    def __init__(self, **given: Any) -> None:
        self.register_event_type("on_choose")
        super().__init__(**given)
        self._again = Clock.create_trigger(self._make, -1)
        for prop in ("options", "width"):
            self.fbind(prop, self._again)
        App.get_running_app().bind(type=self._typed)  # bind, not fbind: it lets go of what is gone
        self._again()

    def _typed(self, *_: Any) -> None:
        self._again()

    def _make(self, *_: Any) -> None:
        size = App.get_running_app().type.body
        widest = max(
            (CoreLabel(font_size=size).get_extents(text)[0] + dp(BOX) for _, text in self.options), default=dp(100)
        )
        self.cols = max(1, min(len(self.options) or 1, int(self.width // (widest + self.spacing[0]))))
        keys = [key for key, _ in self.options]
        if [row.key for row in self.children[::-1]] != keys:
            self.clear_widgets()
            for key, _ in self.options:
                row = TickRow(round_=True, name=f"{self.name}.{key}")
                row.key = key
                row.bind(on_release=self._taken)
                self.add_widget(row)
        for row, (_, text) in zip(self.children[::-1], self.options, strict=True):
            row.text = text
        self.on_chosen()

    def on_chosen(self, *_: Any) -> None:
        for row in self.children:
            row.ticked = row.key == self.chosen

    def _taken(self, row: TickRow) -> None:
        if row.key != self.chosen or self.again:
            self.chosen = row.key
            self.dispatch("on_choose", row.key)

    def on_choose(self, key: Any) -> None:
        pass
