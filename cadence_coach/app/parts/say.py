"""Text that wraps to its width and is as high as it needs: nothing is ever cut."""

from __future__ import annotations

from kivy.properties import ColorProperty, NumericProperty, OptionProperty, StringProperty
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.label import Label


class Say(Label):
    """`kind` is the size (small, body, lead, title, big, huge, water). `ink` is its colour; `pad_x`, `pad_y` and
    `least` are the air around it and the least height [px]."""

    kind = OptionProperty("body", options=("small", "body", "lead", "title", "big", "huge", "water"))
    ink = ColorProperty()
    pad_x = NumericProperty(0)
    pad_y = NumericProperty(0)
    least = NumericProperty(0)


class BigNumber(BoxLayout):
    """A figure with what it is under it."""

    value = StringProperty("")
    caption = StringProperty("")
    kind = StringProperty("big")
    caption_kind = StringProperty("small")
