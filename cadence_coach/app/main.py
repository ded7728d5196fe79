"""The Kivy application: one page in sight, a stack of pages behind it, what all of them share. Screens come in only
when they are shown, so that the first frame is there soon."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import Any

import attrs
from kivy.app import App
from kivy.clock import Clock
from kivy.core.window import Window
from kivy.metrics import dp, sp
from kivy.properties import ObjectProperty, StringProperty
from kivy.uix.floatlayout import FloatLayout

from cadence_coach.app import parts
from cadence_coach.app import state as remembered
from cadence_coach.app.link import ADDRESS, Link
from cadence_coach.app.theme import MOST, theme, type_sizes
from cadence_coach.app.words import Words
from cadence_coach.store.folders import home

SCREENS = {
    "home": "Home",
    "gear": "Gear",
    "before": "Before",
    "water": "Water",
    "outings": "Outings",
    "outing": "Outing",
    "flight": "Flight",
    "land": "Land",
    "ladder": "Ladder",
    "season": "Season",
    "phone": "Phone",
}
"""Name of a screen (screens/NAME.py with screens/NAME.kv) and its class, a parts.Page. A new one is a line here."""

PHONE_GRACE_S = 20.0
"""Android starts a killed engine anew within some seconds."""
PHONE_BACK = 1001
BACK_KEYS = (27, PHONE_BACK)
"""Escape on a desktop, the phone's own back key."""


class CoachApp(App):
    """What pages may use: `colours`, `type`, `words` (in kv: app.colours.ink, app.words(...)), `state` and
    `change(...)`, `wrote(...)`, `go(name, **given)`, `back()`, `host`, `link`."""

    colours = ObjectProperty(theme("sun"), rebind=True)
    type = ObjectProperty(type_sizes(1.0), rebind=True)
    words = ObjectProperty(Words("en"))
    state = ObjectProperty(remembered.State())
    trouble = StringProperty("")
    """Why the last choice could not be written down, told on every page; it holds until the app is closed."""

    def __init__(
        self, host: Any, state: remembered.State, first: list[str], ready: Callable[[Any], None] | None = None
    ) -> None:
        super().__init__()
        self.host = host
        self.link = Link(home(), getattr(host, "grace_s", PHONE_GRACE_S), getattr(host, "running", lambda: True))
        self.state = state
        self._first = first
        self._ready = ready
        self._stack: list[tuple[str, Any]] = []
        self._asked = False
        self._dress()

    # ---- Kivy's side ----

    def build(self) -> FloatLayout:
        self.title = self.words("app.name")
        parts.load()
        self._room = FloatLayout()
        Window.bind(on_keyboard=self._key)
        Window.softinput_mode = "below_target"  # a phone's keyboard does not cover what is typed
        for name in self._first:
            self.go(name)
        return self._room

    def on_start(self) -> None:
        Window.bind(on_flip=self._drawn)

    def _drawn(self, *_: Any) -> None:
        """The first frame is on its way to the screen: what it did not need may come in."""
        Window.unbind(on_flip=self._drawn)
        Clock.schedule_once(self._go_on, 0)

    def _go_on(self, _: float) -> None:
        if self._ready is not None:
            self._ready(self)
        self.link.start()

    def on_pause(self) -> bool:
        return True

    def on_resume(self) -> None:
        """Back in sight: pages that show what was settled meanwhile have `resumed`."""
        getattr(self.page, "resumed", lambda: None)()

    def on_stop(self) -> None:
        if self._stack:
            self.page.left()
        self.link.close()

    def _key(self, _: Any, key: int, *__: Any) -> bool:
        if key not in BACK_KEYS:
            return False
        if not self.back() and key == PHONE_BACK:
            self.stop()
        return True

    # ---- for pages ----

    @property
    def page(self) -> Any:
        return self._stack[-1][1]

    @property
    def name_of_page(self) -> str:
        return self._stack[-1][0]

    def go(self, name: str, **given: Any) -> Any:
        """Shows a new page on top; `given` goes to it as properties or attributes before its first refresh()."""
        module = import_module(f"{__package__}.screens.{name}")
        parts.load(Path(module.__file__).with_suffix(".kv"))
        page = getattr(module, SCREENS[name])()
        for key, value in given.items():
            setattr(page, key, value)
        if self._stack:
            self.page.left()
        self._stack.append((name, page))
        self._show()
        return page

    def instead(self, name: str, **given: Any) -> Any:
        """Shows a page in the place of the one in sight: there is no way back to that one."""
        gone = self._stack.pop()
        gone[1].left()
        return self.go(name, **given)

    def home(self) -> None:
        """Back to the first page."""
        self.page.left()
        del self._stack[1:]
        self._show()

    def back(self) -> bool:
        """One page back. True when that was taken care of: on the first page the system closes the app."""
        if self.page.back():
            return True
        if len(self._stack) < 2:
            return False
        self.page.left()
        self._stack.pop()
        self._show()
        return True

    def look_back(self, file: str) -> None:
        """The outing just ridden, with the first page behind it."""
        self.home()
        if file and "outing" in SCREENS:
            self.go("outing", path=file)

    def change(self, **changes: Any) -> None:
        """Remembers other choices (see state.State), and shows what they change at once."""
        self.state = attrs.evolve(self.state, **changes)
        self._dress()
        self.wrote(lambda: remembered.save(self.state))
        if "lang" in changes and self._stack:
            self.page.refresh()

    def keep(self, name: str, value: Any) -> None:
        """Remembers a plain value of a page's own under a name."""
        self.change(kept={**self.state.kept, name: value})

    def ask(self, once: bool = False) -> None:
        """The phone's own question for what it must allow. once: unless it was put since the app was opened."""
        if once and self._asked:
            return
        self._asked = True
        with contextlib.suppress(Exception):  # whatever a phone raises: what is missing stands on the page
            self.host.ask()

    def wrote(self, write: Callable[[], None]) -> bool:
        """Writes something down; a full disk is a line on the page, not the app's end."""
        try:
            write()
            self.trouble = ""
        except OSError as error:
            self.trouble = error.strerror or str(error)
        return not self.trouble

    def _dress(self) -> None:
        page = self.page if self._stack else None
        self.colours = theme(getattr(page, "theme", self.state.theme))
        self.type = type_sizes(min(self.state.scale * sp(1) / dp(1), getattr(page, "most", MOST)), dp(1))
        self.words = Words(self.state.lang)
        Window.clearcolor = self.colours.paper

    def _show(self) -> None:
        self._dress()
        self._room.clear_widgets()
        self._room.add_widget(self.page)
        self.page.refresh()


def start(
    host: Any = None,
    lang: str | None = None,
    look: str | None = None,
    ready: Callable[[Any], None] | None = None,
) -> None:
    """Opens the window and runs until it is closed."""
    state = remembered.load(lang=(os.environ.get("LANG") or "en")[:2])
    if lang is not None:
        state = attrs.evolve(state, lang=lang)
    if look is not None:
        state = attrs.evolve(state, theme=look)
    riding = (home() / ADDRESS).exists()  # an outing goes on, or was cut off: its page knows which
    CoachApp(host, state, ["home", "water"] if riding else ["home"], ready).run()
