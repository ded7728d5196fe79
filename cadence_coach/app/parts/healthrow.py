"""One line about the machine with a mark: a tick, a wedge for what is not as it should be, a ring for what nobody
knows."""

from __future__ import annotations

from kivy.properties import BooleanProperty, ColorProperty, OptionProperty, StringProperty
from kivy.uix.behaviors import ButtonBehavior
from kivy.uix.boxlayout import BoxLayout


class HealthRow(ButtonBehavior, BoxLayout):
    name = StringProperty("")
    text = StringProperty("")
    mark = OptionProperty("unknown", options=("good", "bad", "unknown"))
    leads = BooleanProperty(False)
    ground = ColorProperty()
