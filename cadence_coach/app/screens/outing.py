"""Look back: one outing."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from kivy.app import App
from kivy.properties import StringProperty

from cadence_coach.app.parts.told import Told
from cadence_coach.app.views import back
from cadence_coach.errors import CouldNot, Refused


class Outing(Told):
    """`path` is the outing's file."""

    path = StringProperty("")

    def __init__(self, **given: Any) -> None:
        super().__init__(**given)
        self.looked: Any = None
        self._writing: str | None = None
        self._trouble = ""
        self._read: int | None = None

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
            self.view = back.unreadable(found, words)
            return
        self.looked = found
        self.told()

    def told(self) -> None:
        """The view as it is now, from what was read."""
        from cadence_coach.review.advice import one_thing
        from cadence_coach.review.focus import next_focus

        words = App.get_running_app().words
        self.view = back.outing(
            self.looked,
            one_thing(self.looked),
            words,
            focus=next_focus(),
            writing=self._writing,
            trouble=self._trouble,
        )

    def act(self, name: str, value: Any = None) -> None:
        app = App.get_running_app()
        if name == back.FOCUS:
            self.keep(lambda: _take(self.path))
        elif name == back.SHARE:
            self.work(lambda: written(self.looked, self.path, app.words.lang), self.share)
        elif name == back.NOTE:
            self._writing = value or ""
            if value is None:
                self.told()
        elif name == back.KEEP_NOTE:
            self.keep(lambda: _note(self.path, self._writing or "", app.words("back.me")))
        elif name.startswith(back.OPEN):
            app.go("flight", path=self.path, number=int(name.removeprefix(back.OPEN)))

    def keep(self, change: Any) -> None:
        """Changes the file beside the screen, then reads it again."""

        def done(why: str) -> None:
            self._trouble = why
            if why:
                self.told()
            else:
                self._writing = None
                self.refresh()

        self.work(lambda: tried(change), done)

    def share(self, found: Path | str) -> None:
        if isinstance(found, Path):
            App.get_running_app().host.share(found, App.get_running_app().words("back.report"))
        else:
            self._trouble = found
            self.told()


def changed(path: str) -> int:
    """When the file was last written [ns]; 0 where there is none."""
    try:
        return Path(path).stat().st_mtime_ns
    except OSError:
        return 0


def opened(path: str) -> Any:
    """What a review finds in the file, or why it cannot be read, in one line."""
    from cadence_coach.review.looking import open_looked

    try:
        return open_looked(path)
    except (Refused, CouldNot) as error:
        return str(error).replace(f"{path}: ", f"{back.name_of(path)}: ")


def tried(change: Any) -> str:
    """Does it; "" or why it could not."""
    try:
        change()
    except (Refused, CouldNot, OSError) as error:
        return str(error)
    return ""


def written(looked: Any, path: str, lang: str) -> Path | str:
    """The report as a file beside other things that are shared; or why there is none."""
    from cadence_coach.review.report import report_html
    from cadence_coach.store.folders import home

    try:
        folder = home() / "shared"
        folder.mkdir(exist_ok=True)
        file = folder / (Path(path).stem + ".html")
        file.write_text(report_html(looked, place=False, lang=lang), encoding="utf-8")
        return file
    except (OSError, CouldNot) as error:
        return str(error)


def _take(path: str) -> None:
    from cadence_coach.review.correcting import keep_focus

    keep_focus(Path(path), "take")


def _note(path: str, text: str, who: str) -> None:
    from cadence_coach.review.correcting import keep_note

    keep_note(Path(path), text, who)
