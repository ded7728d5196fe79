"""Me and my gear: fields that are checked as they are typed, kept as soon as they make a profile, and the band they
lead to."""

from __future__ import annotations

import contextlib
import threading
from typing import Any

from kivy.app import App
from kivy.clock import Clock
from kivy.properties import BooleanProperty, ObjectProperty

from cadence_coach.app import state
from cadence_coach.app.parts import Field, Page
from cadence_coach.app.parts.bandpicture import BandPicture  # noqa: F401 (named in kv)
from cadence_coach.app.views import gear
from cadence_coach.errors import Refused
from cadence_coach.foil.band import band_table
from cadence_coach.foil.profile import Profile, demo_profile, load_profile
from cadence_coach.store.folders import home

WAIT_S = 0.4
"""The band is worked out once nothing was typed for so long."""


def own_profile() -> Profile | None:
    """The profile that was kept, None where there is none or it cannot be read."""
    path = state.profile_path()
    try:
        return load_profile(path) if path is not None else None
    except Refused:
        return None


class Gear(Page):
    band = ObjectProperty(None, allownone=True, rebind=True)
    more = BooleanProperty(False)

    def __init__(self, **given: Any) -> None:
        super().__init__(**given)
        profile = own_profile()
        self.typed = gear.typed_of(profile)
        self._before = dict(self.typed)
        self._at = ""
        self._found = self._own = profile is not None
        self._work = 0
        self._fields: dict[str, Field] = {}
        self._soon = Clock.create_trigger(self._reckon, WAIT_S)
        for where, names in (("first", (*gear.NAMES[:1], gear.FIRST[0])), ("foil", (gear.NAMES[1], *gear.FIRST[1:]))):
            self._add(where, names)

    def _add(self, where: str, names: Any) -> None:
        for section, key in names:
            name = f"{section}.{key}"
            field = Field(name=f"gear.{name}", number=key in gear.SHOWN, text=self.typed[name])
            field.bind(on_typed=lambda _, text, name=name: self.put(name, text))
            self._fields[name] = field
            self.ids[where].add_widget(field)

    def on_more(self, *_: Any) -> None:
        if self.more and not self.ids.more.children:
            self._add("more", gear.MORE)
            self.refresh()

    def refresh(self) -> None:
        words = App.get_running_app().words
        self.view = gear.make(self.typed, self._own, words)
        for name, field in self._fields.items():
            shown = self.view.fields[name]
            field.label, field.unit, field.hint, field.trouble = shown.label, shown.unit, shown.hint, shown.trouble
        self.ids.kind.options = [(k, words(f"gear.{k}")) for k in gear.KINDS]
        self.ids.worn.options = [(k, words(f"gear.worn_{k.replace(' ', '_')}")) for k in gear.WORN_AT]
        self.ids.kind.chosen, self.ids.worn.chosen = self.typed["water.kind"], self.typed["phone.worn_at"]
        self._soon()

    def put(self, name: str, text: str) -> None:
        """A value as typed: looked at, and kept when all of it makes a profile."""
        words = App.get_running_app().words
        if name != self._at:
            self._before |= {n: t for n, t in self.typed.items() if gear.settled(self.typed, n, words)}
            self._at = name
        self.typed[name] = text
        with contextlib.suppress(Refused):  # values that do not go together yet: what is kept stays
            self._keep(gear.to_keep(self.typed, self._before, name, words))
        self.refresh()

    def _keep(self, tables: Any) -> None:
        app, path = App.get_running_app(), home() / state.PROFILE
        if tables is not None and app.wrote(lambda: state.write(path, gear.toml(tables))):
            self._own = True
        elif tables is None and self._own and not self._found and app.wrote(lambda: path.unlink(missing_ok=True)):
            self._own = False  # it was made here, with a piece of a value that is refused

    def _reckon(self, *_: Any) -> None:
        """The band, on a thread: a phone takes a second for it."""
        words = App.get_running_app().words
        profile, together = gear.profile_of(self.typed, words)
        self._work += 1  # one that is still being worked out is another gear's
        work = self._work
        if profile is None and (together or self._own):
            self.band = gear.no_band(words)
            return

        def reckon() -> None:
            shown = gear.band(band_table((profile or demo_profile()).setup), words)
            Clock.schedule_once(lambda _: self._reckoned(work, shown), 0)

        threading.Thread(target=reckon, name="band", daemon=True).start()

    def _reckoned(self, work: int, shown: gear.BandView) -> None:
        if work == self._work:
            self.band = shown

    def left(self) -> None:
        self._soon.cancel()
