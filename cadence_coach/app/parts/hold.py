"""A button that must be held: it fills while it is held, and a short touch does nothing."""

from __future__ import annotations

from typing import Any

from kivy.clock import Clock
from kivy.properties import NumericProperty

from cadence_coach.app.parts.button import Press


class Hold(Press):
    """`on_held` comes once, after `seconds` under one finger that stays on it."""

    seconds = NumericProperty(1.5)
    share = NumericProperty(0.0)

    def __init__(self, **given: Any) -> None:
        self.register_event_type("on_held")
        super().__init__(**given)
        self._tick: Any = None
        self._finger: Any = None
        self._since = 0.0

    def on_press(self) -> None:
        self._over()
        self._finger, self._since = self.last_touch, Clock.get_time()
        self._tick = Clock.schedule_interval(self._held, 0.03)

    def on_touch_move(self, touch: Any) -> Any:
        if touch.grab_current is self and touch is self._finger and not self.collide_point(*touch.pos):
            self._over()
        return super().on_touch_move(touch)

    def on_touch_up(self, touch: Any) -> Any:
        if touch is self._finger:  # an earlier touch may be lifted late: a ScrollView hands taps on after a moment
            self._over()
        return super().on_touch_up(touch)

    def _held(self, _: float) -> None:
        if self.get_root_window() is None:  # its page has gone
            self._over()
            return
        self.share = min(1.0, (Clock.get_time() - self._since) / self.seconds)
        if self.share >= 1.0:
            self._over()
            self.dispatch("on_held")

    def _over(self) -> None:
        if self._tick is not None:
            self._tick.cancel()
            self._tick = None
        self._finger = None
        self.share = 0.0

    def on_held(self) -> None:
        pass
