"""What is pressed: buttons, rows that are ticked, rows that lead somewhere. Each at least 48 dp high."""

from __future__ import annotations

from kivy.properties import BooleanProperty, ColorProperty, OptionProperty, StringProperty
from kivy.uix.behaviors import ButtonBehavior
from kivy.uix.boxlayout import BoxLayout

from cadence_coach.app.parts.say import Say


class Press(ButtonBehavior, Say):
    """A button. look: strong (the one thing to do here), plain, quiet (no ground of its own)."""

    name = StringProperty("")
    look = OptionProperty("plain", options=("strong", "plain", "quiet"))
    ground = ColorProperty()


class TickRow(ButtonBehavior, BoxLayout):
    """A line with a box to tick; the whole row is the target. round_ makes the box round: one of several."""

    name = StringProperty("")
    text = StringProperty("")
    ticked = BooleanProperty(False)
    round_ = BooleanProperty(False)
    ground = ColorProperty()

    def on_release(self) -> None:
        if not self.round_:
            self.ticked = not self.ticked


class GoRow(ButtonBehavior, BoxLayout):
    """A line that leads to another page: what, and a word more about it."""

    name = StringProperty("")
    text = StringProperty("")
    sub = StringProperty("")
    ground = ColorProperty()
