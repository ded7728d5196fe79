"""A page that is told: its view is a title and blocks, made anew at each touch; slow work is done beside the screen."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

from kivy.clock import Clock

from cadence_coach.app import parts
from cadence_coach.app.parts.blocks import Blocks  # noqa: F401 (named in kv)
from cadence_coach.app.parts.frame import Page

parts.load(Path(__file__).with_name("blocks.kv"))
parts.load(Path(__file__).with_name("told.kv"))


class Told(Page):
    """`view` has `title` and `blocks`; `act(name, value)` hears every touch."""

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
            found = slow()
            Clock.schedule_once(lambda _: then(found) if turn == self._turn else None, 0)

        threading.Thread(target=run, name=type(self).__name__, daemon=True).start()

    def left(self) -> None:
        self._turn += 1
