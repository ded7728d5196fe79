"""This phone: what is chosen is kept at once; measuring and testing run beside the screen."""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import date
from typing import Any

import attrs
from kivy.app import App
from kivy.clock import Clock

from cadence_coach.app.parts.told import Told
from cadence_coach.app.taps import Tapped, measure
from cadence_coach.app.views import phone
from cadence_coach.errors import CouldNot, Refused
from cadence_coach.live.begin import LATENCIES
from cadence_coach.live.reasons import reason
from cadence_coach.sound.latency import Latencies, latency_against
from cadence_coach.store.folders import home

LOOK_S = 0.5


class Phone(Told):
    def __init__(self, **given: Any) -> None:
        super().__init__(**given)
        self.doing = phone.Doing()
        self._spared = True
        self._missing: list[str] = []
        self._going = threading.Event()
        self._timer: Any = None

    # ---- page ----

    def refresh(self) -> None:
        if self._timer is None:
            self._timer = Clock.schedule_interval(self.told, LOOK_S)
            self.resumed()
        self.told()

    def resumed(self) -> None:
        """Also when the phone's own questions and lists are left for this page again."""
        host = App.get_running_app().host
        self._spared, self._missing = bool(host.spared()), host.missing()

    def left(self) -> None:
        super().left()
        self._going.clear()  # whatever measures stops
        self.doing = attrs.evolve(self.doing, busy="")
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None

    def told(self, *_: Any) -> None:
        app = App.get_running_app()
        goes_on = app.link.line.goes_on
        view = phone.phone(app.state, self._spared, goes_on, self.doing, app.words, self._missing)
        if view != self.view:
            self.view = view

    def now(self, **changes: Any) -> None:
        self.doing = attrs.evolve(self.doing, **changes)
        self.told()

    # ---- touches ----

    def act(self, name: str, value: Any = None) -> None:
        app = App.get_running_app()
        if name == phone.LANG:
            busy = {name: getattr(self.doing, name) for name in ("busy", "taps", "share")}
            self.doing = phone.Doing(**busy)  # what was said is of the other language; what measures goes on
            app.change(lang=value)
        elif name == phone.THEME:
            app.change(theme=value)
        elif name == phone.SCALE:
            app.change(scale=float(value))
        elif name == phone.LOUDNESS:
            app.keep("volume_db", -float(value))
            self.now(heard="")
        elif name == phone.HEAR:
            volume = phone.loudness(app.state.kept)
            self.work(lambda: tried(lambda: heard(app.host, volume)), self.said)
        elif name in (phone.SPEAKER, phone.HEADSET):
            self.tap(name)
        elif name == phone.CHECK:
            self.check()
        elif name == phone.ALLOW:
            app.ask()
        elif name == phone.SAVER:
            failed = isinstance(tried(app.host.open_battery_settings), Exception)
            self.now(saver=app.words("phone.saver_none") if failed else "")
        self.told()

    def said(self, found: Any) -> None:
        words = App.get_running_app().words
        sink, why = (None, str(found)) if isinstance(found, Exception) else found
        why = reason(why, words.lang)
        self.now(heard=words("phone.no_sound", why=why) if why else words("phone.heard", sink=sink))

    def tap(self, which: str) -> None:
        app = App.get_running_app()
        self.now(busy="taps", taps=0, tapped="")
        self._going.set()

        def told(count: int) -> None:
            Clock.schedule_once(lambda _: self.now(taps=count) if self.doing.busy == "taps" else None, 0)

        def slow() -> Any:
            return tried(lambda: measure(*app.host.tapping(), told=told, going=self._going.is_set))

        self.work(slow, lambda found: self.tapped(which, found))

    def tapped(self, which: str, found: Tapped | Exception) -> None:
        app = App.get_running_app()
        self.now(busy="")
        if isinstance(found, Exception):
            self.now(tapped=reason(str(found), app.words.lang))
            return
        if which == phone.SPEAKER:
            app.keep("speaker", {"output": found.output, "lag_s": found.lag_s})
            self.now(tapped=app.words("phone.taps_first", ms=f"{1000 * found.lag_s:.0f}"))
            return
        speaker = app.state.kept["speaker"]
        if found.output == speaker["output"]:
            self.now(tapped=app.words("phone.taps_same", output=found.output))
            return
        late = latency_against(found.lag_s, float(speaker["lag_s"]))
        try:
            Latencies(home() / LATENCIES).keep(found.output, late)
        except (Refused, OSError) as error:
            self.now(tapped=reason(str(error), app.words.lang))
            return
        self.now(tapped=app.words("phone.taps_kept", output=found.output, ms=f"{1000 * late:.0f}"))

    def check(self) -> None:
        app = App.get_running_app()
        self.now(busy="check", share=0.0, failed="")
        self._going.set()

        def told(share: float) -> None:
            Clock.schedule_once(lambda _: self.now(share=share) if self.doing.busy == "check" else None, 0)

        self.work(lambda: tried(lambda: app.host.check(told, self._going.is_set)), self.checked)

    def checked(self, found: Any) -> None:
        app = App.get_running_app()
        if isinstance(found, Exception):
            self.now(busy="", failed=reason(str(found), app.words.lang))
            return
        lines = [[line, bool(passed)] for line, passed in found]  # in every language: it may be another one tomorrow
        passed = all(good for _, good in lines)
        app.keep("checked", {"day": date.today().isoformat(), "passed": passed, "lines": lines})
        self.now(busy="")


def tried(work: Callable[[], Any]) -> Any:
    """What it gives, or the error as a value: a line on the page instead of a page that is gone."""
    try:
        return work()
    except (Refused, CouldNot, OSError) as error:
        return error
    except Exception as error:  # whatever a phone's own side raises
        return RuntimeError(f"{type(error).__name__}: {error}")


def heard(host: Any, volume_db: float) -> tuple[str, str]:
    """Four clicks and a cue at that loudness; name of the output, and why there was no sound."""
    from cadence_coach.live.ability import play_tone
    from cadence_coach.sound.mixer import Mixer

    sink = host.sink()
    mixer = Mixer(sink.rate, volume_db)
    sink.start(mixer)
    try:
        play_tone(sink, mixer)
        return sink.name, sink.reason or ""
    finally:
        sink.close()
