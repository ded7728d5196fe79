"""Pages: a head with the way back, a column that scrolls and is never wider than a line of text should be, a foot that
stays."""

from __future__ import annotations

from typing import Any

from kivy.properties import BooleanProperty, ColorProperty, ObjectProperty, StringProperty
from kivy.uix.boxlayout import BoxLayout


class Card(BoxLayout):
    """Things that belong together, on a ground of their own."""

    ground = ColorProperty()


class Foot(BoxLayout):
    """What a page keeps in sight below its column: add it to the page like anything else."""


class Page(BoxLayout):
    """Base of every screen. Its children go into the column, a Foot below it.

    `view` is the frozen value that is shown; `refresh()` makes it anew and is called when the page comes (back) into
    sight and when the language changes. `left()` is called when it goes out of sight, `back()` by the way back and
    by the phone's own back key; it may say no by returning True.
    """

    title = StringProperty("")
    way_back = BooleanProperty(True)
    ground = ColorProperty()
    view = ObjectProperty(None, allownone=True, rebind=True)

    def add_widget(self, widget: Any, *more: Any, **given: Any) -> None:
        ids = self.ids
        if "foot" not in ids:  # the frame itself is being made
            super().add_widget(widget, *more, **given)
        elif isinstance(widget, Foot):
            ids.foot.add_widget(widget)
        else:
            ids.column.add_widget(widget, *more, **given)

    def refresh(self) -> None:
        pass

    def left(self) -> None:
        pass

    def back(self) -> bool:
        return False
