"""What pages about one outing share: it is read beside the screen, and again when its file has changed."""

from __future__ import annotations

import traceback
from pathlib import Path
from typing import Any

from kivy.app import App
from kivy.properties import StringProperty

from cadence_coach.app.parts.told import Told
from cadence_coach.app.views import back
from cadence_coach.errors import CouldNot, Refused
from cadence_coach.live.reasons import reason
from cadence_coach.store.copying import state_of


class OfOneOuting(Told):
    """`path` is the outing's file; `made` makes the view of `looked`."""

    path = StringProperty("")

    def __init__(self, **given: Any) -> None:
        super().__init__(**given)
        self.looked: Any = None
        self._writing: str | None = None
        self.trouble: dict[str, str] = {}
        """What the last touch asked for and could not be done: its act, and why."""
        self._read: list[int] | None = None

    def refresh(self) -> None:
        if self.looked is not None:
            self.told()
        elif self.view is None:
            self.view = back.reading(App.get_running_app().words)
        if (written_at := changed(self.path)) != self._read:
            self._read = written_at
            self.work(lambda: opened(self.path), self.show)

    def show(self, found: Any) -> None:
        words = App.get_running_app().words
        if isinstance(found, str):
            self.view = back.unreadable(reason(found, words.lang), words)
            return
        self.looked = found
        self.told()

    def keep(self, name: str, change: Any) -> None:
        """Changes the file beside the screen as the act `name` asks, then reads it again."""

        def done(why: str) -> None:
            self.trouble = {name: reason(named(why, self.path), App.get_running_app().words.lang)} if why else {}
            if why:
                self.told()
                return
            if name == back.KEEP_NOTE:
                self._writing = None
            self.refresh()

        self.work(lambda: tried(change), done)

    def told(self) -> None:
        self.drawn(self.made)

    def made(self) -> None:
        """Makes the view of `looked`."""
        raise NotImplementedError

    def broken(self, error: Exception) -> None:
        """What a file says of itself is a stranger's: it is told like any other damage."""
        traceback.print_exception(error)
        words = App.get_running_app().words
        why = f"{back.name_of(self.path)}: is damaged ({type(error).__name__}: {error}); use another copy of the file"
        self.view = back.unreadable(reason(why, words.lang), words)


def changed(path: str) -> list[int]:
    """What of the file tells that it was written to; nothing where there is none."""
    try:
        return state_of(Path(path))
    except OSError:
        return []


def opened(path: str) -> Any:
    """What a review finds in the file, or why it cannot be read, in one line."""
    from cadence_coach.review.looking import open_looked

    try:
        return open_looked(path)
    except (Refused, CouldNot) as error:
        return named(str(error), path)


def named(why: str, path: str) -> str:
    """The line with the file's name as it can be read."""
    return why.replace(f"{path}: ", f"{back.name_of(path)}: ")


def tried(change: Any) -> str:
    """Does it; "" or why it could not."""
    try:
        change()
    except (Refused, CouldNot, OSError) as error:
        return str(error)
    return ""
