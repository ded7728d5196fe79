"""A page that is told: its view is a title and blocks, made anew at each touch; slow work is done beside the screen."""

from __future__ import annotations

import threading
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import Any

import attrs
from kivy.app import App
from kivy.clock import Clock
from kivy.properties import ObjectProperty

from cadence_coach.app import parts
from cadence_coach.app.parts.blocks import Blocks  # noqa: F401 (named in kv)
from cadence_coach.app.parts.frame import Page
from cadence_coach.app.views.blocks import Text

parts.load(Path(__file__).with_name("blocks.kv"))
parts.load(Path(__file__).with_name("told.kv"))


class Told(Page):
    """`view` has `title` and `blocks`; `act(name, value)` hears every touch."""

    view = ObjectProperty(None, allownone=True, rebind=True, force_dispatch=True)
    """Told again it is shown again, though it is equal: what a touch has marked and nobody kept is set back."""

    def __init__(self, **given: Any) -> None:
        super().__init__(**given)
        self._turn = 0

    def act(self, name: str, value: Any = None) -> None:
        pass

    def work(self, slow: Callable[[], Any], then: Callable[[Any], None]) -> None:
        """`slow` on a thread of its own, `then` with what it gave on the screen's, unless the page was left or other
        work was begun."""
        self._turn += 1
        turn = self._turn

        def run() -> None:
            try:
                found = slow()
            except Exception as error:  # a page that waits for good would say nothing
                show(self.broken, error)
            else:
                show(then, found)

        def show(how: Callable[[Any], None], what: Any) -> None:
            Clock.schedule_once(lambda _: self.drawn(lambda: how(what)) if turn == self._turn else None, 0)

        threading.Thread(target=run, name=type(self).__name__, daemon=True).start()

    def drawn(self, make: Callable[[], None]) -> None:
        """Does what makes the view; where that fails the page says so and the app goes on."""
        try:
            make()
        except Exception as error:
            self.broken(error)

    def broken(self, error: Exception) -> None:
        """A mistake of ours, or a file that nobody thought of: one line in place of the blocks, the rest in the log."""
        traceback.print_exception(error)
        if self.view is not None:
            line = App.get_running_app().words("told.broken", why=f"{type(error).__name__}: {error}")
            self.view = attrs.evolve(self.view, blocks=(Text(line),))

    def left(self) -> None:
        self._turn += 1
