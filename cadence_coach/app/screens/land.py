"""On land: chooses, ticks, starts the engine with a training, and follows it."""

from __future__ import annotations

from typing import Any

import attrs
from kivy.app import App
from kivy.clock import Clock
from kivy.core.window import Window

from cadence_coach.app import state
from cadence_coach.app.parts.told import Told
from cadence_coach.app.screens.gear import own_profile
from cadence_coach.app.views import land
from cadence_coach.app.views.phone import loudness
from cadence_coach.core.settings import Settings
from cadence_coach.live.on_phone import plan_text

LOOK_S = 0.1
KEPT = "land"


class Land(Told):
    def __init__(self, **given: Any) -> None:
        super().__init__(**given)
        self.ticked: frozenset[str] = frozenset()
        self.trouble = ""
        self.begun = False
        """A training was started from here, and what came of it was not put away yet."""
        self._band: Any = None
        self._timer: Any = None

    # ---- page ----

    def refresh(self) -> None:
        if self._timer is None:
            self._timer = Clock.schedule_interval(self._look, LOOK_S)
            self.work(band_of, self._banded)
        self._look()

    def left(self) -> None:
        super().left()
        Window.allow_screensaver = True
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None

    def _banded(self, band: Any) -> None:
        self._band = band
        self._look()

    def _look(self, *_: Any) -> None:
        app = App.get_running_app()
        line = app.link.line
        trains = line.snapshot is not None and line.snapshot.land is not None
        if trains or (self.begun and line.kind in ("coming", "failed", "gone")):
            Window.allow_screensaver = line.kind != "here"
            view = land.going(line, app.words)
        else:
            chosen = land.Chosen.from_plain(app.state.kept.get(KEPT))
            view = land.before(chosen, self.ticked, self._band, app.words, self.trouble, goes_on=line.goes_on)
        if view != self.view:
            self.view = view

    # ---- touches ----

    def act(self, name: str, value: Any = None) -> None:
        app = App.get_running_app()
        if name.startswith(land.POINT):
            point = name.removeprefix(land.POINT)
            self.ticked = self.ticked | {point} if value else self.ticked - {point}
        elif name in (land.MODE, land.TEMPO, land.LENGTH, land.PUSH_TICK):
            self.choose(name, value)
        elif name == land.START:
            self.start()
        elif name == land.STOP:
            app.link.tell("stop")
        elif name == land.LOOK:
            file = app.link.line.snapshot.file
            self.put_away()
            app.look_back(file)
            return
        elif name == land.AGAIN:
            self.put_away()
        elif name in (land.RESCUE, land.RIDING):
            app.instead("water")  # what is cut off is made whole there, whatever it was
            return
        self._look()

    def choose(self, name: str, value: Any) -> None:
        app = App.get_running_app()
        chosen = land.Chosen.from_plain(app.state.kept.get(KEPT))
        field = {land.MODE: "mode", land.TEMPO: "tempo", land.LENGTH: "set_s", land.PUSH_TICK: "push_tick"}[name]
        chosen = attrs.evolve(chosen, **{field: float(value) if name == land.LENGTH else value})
        app.keep(KEPT, attrs.asdict(chosen))

    def start(self) -> None:
        app = App.get_running_app()
        plan = land.plan(land.Chosen.from_plain(app.state.kept.get(KEPT)), self._band)
        if plan is None or app.link.line.goes_on:
            return
        path = state.profile_path() if own_profile() is not None else None
        settings = Settings(start="land", lead="silent")
        tags = {"ticked": " ".join(sorted(self.ticked))}
        volume = loudness(app.state.kept)
        try:
            app.host.start(plan_text(settings, path, app.words.lang, tags, land=plan, volume_db=volume))
        except Exception as error:  # whatever a phone raises: it is read here, and nothing has started
            self.trouble = app.words("land.not_started", why=f"{type(error).__name__}: {error}")
            return
        self.begun, self.trouble = True, ""
        self.ticked = frozenset()  # ticked by hand every time
        app.link.expect()

    def put_away(self) -> None:
        self.begun = False
        App.get_running_app().link.forget()


def band_of() -> Any:
    """The band at cruise speed of the rider's own profile; None without one. Takes a moment."""
    from cadence_coach.foil.band import band_table

    profile = own_profile()
    return None if profile is None else band_table(profile.setup).at(None)
