"""Before you go."""

from __future__ import annotations

import threading
from typing import Any

from kivy.app import App
from kivy.clock import Clock
from kivy.properties import BooleanProperty, ObjectProperty, StringProperty

from cadence_coach.app import health, state
from cadence_coach.app.parts import GoRow, Page, TickRow
from cadence_coach.app.parts.healthrow import HealthRow
from cadence_coach.app.screens.gear import own_profile
from cadence_coach.app.views import before, gear, home
from cadence_coach.app.views.phone import loudness
from cadence_coach.core.settings import Settings
from cadence_coach.live.on_phone import plan_text
from cadence_coach.review.focus import next_focus, rider_of, set_focus

COUNT_IN_S = 3
LOOK_S = 0.5


class Before(Page):
    health = ObjectProperty(None, allownone=True)
    trouble = StringProperty("")
    goes_on = BooleanProperty(False)
    """An outing does: its page is offered instead of a start."""
    _timer: Any = None
    _top: tuple[str, str, str] = ("", "", "")
    """What the first page would show of the line to the engine."""

    def __init__(self, **given: Any) -> None:
        self.ticked: set[str] = set()
        super().__init__(**given)
        self._fields = {"turn_back_m": self.ids.turn_back, "time_limit_s": self.ids.time_limit}
        kept = App.get_running_app().state.kept.get("limits")
        for name, field in self._fields.items():
            if isinstance(kept, dict) and isinstance(kept.get(name), str):
                field.text = kept[name]

    def refresh(self) -> None:
        app = App.get_running_app()
        profile = own_profile()
        start = app.state.start if app.state.start in before.STARTS else "dock"
        if self._timer is None:
            self._timer = Clock.schedule_interval(self._look_at_line, LOOK_S)
        line = app.link.line
        self.goes_on, self._top = line.goes_on, home.top(line, app.words)
        whose = gear.in_a_line(profile, app.words)
        self.view = view = before.make(
            start,
            self.ticked,
            self.health,
            whose,
            app.words,
            goes_on=self.goes_on,
            limits=self._typed(),
            water_c=_water_c(profile),
        )
        for name, field in self._fields.items():
            shown = view.limits[name]
            field.unit, field.hint, field.trouble = shown.unit, shown.hint, shown.trouble
        for name, options, chosen in (
            ("start", view.starts, start),
            ("focus", view.foci, next_focus(_rider(profile)) or "none"),
            ("lead", view.leads, app.state.lead),
            ("level", view.levels, app.state.level),
        ):
            choice = self.ids[name]
            choice.options, choice.chosen = list(options), chosen
        self._list(view.points)
        self._show_riding()
        self._show_health()
        if self.health is None:
            threading.Thread(target=self._look, name="health", daemon=True).start()

    def _look(self) -> None:
        app = App.get_running_app()
        found = health.look(app.host, app.state.kept.get("checked"))
        Clock.schedule_once(lambda _: setattr(self, "health", found), 0)

    def on_health(self, *_: Any) -> None:
        if self.health is not None:
            self.refresh()
            if self.health.missing:
                App.get_running_app().ask(once=True)

    def resumed(self) -> None:
        """The phone's own questions are answered: looked up anew."""
        self.health = None
        self.refresh()

    def left(self) -> None:
        self.health = None  # looked up anew when the page comes back
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None

    def _look_at_line(self, *_: Any) -> None:
        app = App.get_running_app()
        if home.top(app.link.line, app.words) != self._top:
            self.refresh()

    def _show_riding(self) -> None:
        """The way to the outing that goes on, where there is one."""
        app = App.get_running_app()
        self.ids.riding.clear_widgets()
        if self.goes_on:
            screen, text, sub = self._top
            row = GoRow(name="before.riding", text=text, sub=sub)
            row.bind(on_release=lambda _: app.instead(screen))
            self.ids.riding.add_widget(row)

    def _list(self, points: tuple[tuple[str, str], ...]) -> None:
        rows = self.ids.points
        if [row.key for row in rows.children[::-1]] != [key for key, _ in points]:
            rows.clear_widgets()
            for key, _ in points:
                row = TickRow(name=f"tick.{key}", ticked=key in self.ticked)
                row.key = key
                row.bind(ticked=self._tick)
                rows.add_widget(row)
        for row, (_, text) in zip(rows.children[::-1], points, strict=True):
            row.text = text

    def _tick(self, row: Any, ticked: bool) -> None:
        (self.ticked.add if ticked else self.ticked.discard)(row.key)
        self.refresh()

    def _show_health(self) -> None:
        box = self.ids.health
        lines = self.view.health
        box.clear_widgets()
        for line in lines:
            row = HealthRow(name=f"health.{line.key}", text=line.text, mark=line.state, leads=bool(line.leads_to))
            row.bind(on_release=lambda _, to=line.leads_to: to and App.get_running_app().go(to))
            box.add_widget(row)

    # ---- what is chosen ----

    def choose(self, what: str, key: str) -> None:
        if what == "focus":
            set_focus(None if key == "none" else key, _rider(own_profile()))
            self.refresh()
        else:
            App.get_running_app().change(**{what: key})
            self.refresh()

    def limit(self) -> None:
        """Limits are found again as typed, a refused one too: each key makes a number, and the one on the way to a
        refused limit was chosen by nobody."""
        App.get_running_app().keep("limits", self._typed())
        self.refresh()

    def _typed(self) -> dict[str, str]:
        return {name: field.text.strip() for name, field in self._fields.items()}

    def settings(self) -> Settings:
        app = App.get_running_app()
        profile = own_profile()
        given: dict[str, Any] = dict(before.limits_of(self._typed()))
        given["water_temperature_c"] = _water_c(profile)
        if profile is not None:
            given["worn_at"] = profile.worn_at
        start = app.state.start if app.state.start in before.STARTS else "dock"
        given["focus"] = next_focus(_rider(profile))
        return Settings(start=start, lead=app.state.lead, level=app.state.level, **given)

    def go_riding(self) -> None:
        """Starts the engine's process, and shows its line; nothing more is needed from a hand."""
        app = App.get_running_app()
        self.refresh()
        if not self.view.ready:
            return
        path = state.profile_path() if own_profile() is not None else None
        tags = {"ticked": " ".join(sorted(self.ticked))}
        try:
            volume = loudness(app.state.kept)
            plan = plan_text(self.settings(), path, app.words.lang, tags, COUNT_IN_S, volume_db=volume)
            app.host.start(plan)
        except Exception as error:  # whatever a phone raises: the rider reads it ashore, and nothing has started
            self.trouble = app.words("before.not_started", why=f"{type(error).__name__}: {error}")
            return
        app.link.expect()
        app.instead("water")


def _rider(profile: Any) -> str:
    return rider_of(profile.table if profile is not None else None)


def _water_c(profile: Any) -> float | None:
    """Where the rider gave it; one that is assumed would call water cold, or not, that nobody measured."""
    if profile is None or "water.temperature_c" in profile.assumed:
        return None
    return float(profile.table["water"]["temperature_c"])
