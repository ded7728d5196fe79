"""A value that is typed: its name above, its unit beside, what is wrong with it below."""

from __future__ import annotations

from typing import Any

from kivy.properties import BooleanProperty, StringProperty
from kivy.uix.boxlayout import BoxLayout


class Field(BoxLayout):
    """`on_typed(text)` is dispatched at each key; `trouble` is one line, "" when the value is fine; `hint` is what is
    taken when nothing is typed."""

    name = StringProperty("")
    label = StringProperty("")
    unit = StringProperty("")
    text = StringProperty("")
    hint = StringProperty("")
    trouble = StringProperty("")
    number = BooleanProperty(True)

    def __init__(self, **given: Any) -> None:
        self.register_event_type("on_typed")
        super().__init__(**given)

    def typed(self, text: str) -> None:
        if text != self.text:
            self.text = text
            self.dispatch("on_typed", text)

    def on_typed(self, text: str) -> None:
        pass
