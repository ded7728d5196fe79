"""On the water: shows the line to the engine ten times a second, and lets nothing through but the drawn arch."""

from __future__ import annotations

import threading
import time
from typing import Any

from kivy.app import App
from kivy.clock import Clock
from kivy.core.window import Window
from kivy.properties import BooleanProperty, ColorProperty, NumericProperty, ObjectProperty, StringProperty
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.floatlayout import FloatLayout

from cadence_coach.app.latch import Latch, arch
from cadence_coach.app.link import cut_off
from cadence_coach.app.parts import Hold, Press, Say
from cadence_coach.app.parts.tide import Tide  # noqa: F401 (named in kv)
from cadence_coach.app.theme import MOST_ON_WATER
from cadence_coach.app.views import water
from cadence_coach.errors import CouldNot
from cadence_coach.live.reasons import reason

LOOK_S = 0.1
UNLOCKED_S = 12.0
"""Without a touch for so long the screen locks itself again."""
CHOICES = {
    "": ("lock", "end", "pause", "mute", "repeat", "home"),
    "ended": ("look", "again", "home"),
    "gone": ("rescue", "again", "home"),
    "failed": ("again", "home"),
}
"""What is offered in each mood, the first as the one thing to do; "" is any other, with the end where it is in
sight: sideways not all have room."""
OVER = ("ended", "gone", "failed")


class Figures(BoxLayout):
    """The lines (what, how much) of a flight."""

    lines = ObjectProperty(())

    def on_lines(self, *_: Any) -> None:
        self.clear_widgets()
        for caption, value in self.lines:
            self.add_widget(FigureLine(caption=caption, value=value))


class FigureLine(BoxLayout):
    caption = StringProperty("")
    value = StringProperty("")


class Water(FloatLayout):
    theme = "dark"
    """Calm and dark, whatever was chosen for the shore."""
    most = MOST_ON_WATER
    """Texts grow no further."""

    view = ObjectProperty(water.WaterView("coming", ""), rebind=True)
    locked = BooleanProperty(True)
    drawn = NumericProperty(0.0)
    """Share of the arch that a finger has drawn."""
    trouble = StringProperty("")
    muted = BooleanProperty(False)
    paused = BooleanProperty(False)
    ground = ColorProperty()

    def __init__(self, **given: Any) -> None:
        super().__init__(**given)
        self.latch = Latch(arch(0, 0, 100, 100))
        self._touched = 0.0
        self._timer: Any = None
        self._offered: Any = None
        self.ids.arch.bind(pos=self._lay_arch, size=self._lay_arch)
        self._lay_arch()

    # ---- page ----

    def refresh(self) -> None:
        app = App.get_running_app()
        Window.allow_screensaver = not app.state.awake
        if self._timer is None:
            self._timer = Clock.schedule_interval(self._look, LOOK_S)
        self._look()

    def left(self) -> None:
        Window.allow_screensaver = True
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None

    def back(self) -> bool:
        return self.locked  # drops press keys, too: the phone's own back key is one on many screens

    # ---- what is shown ----

    def _look(self, *_: Any) -> None:
        app = App.get_running_app()
        line = app.link.line
        if line.kind in ("here", "ended") and line.snapshot is not None and line.snapshot.land is not None:
            Clock.schedule_once(lambda _: app.instead("land") if app.page is self else None, 0)
            return  # what goes on is a training: it has a page of its own
        view = water.make(line, app.words)
        if view != self.view:
            self.view = view
        if line.snapshot is not None:
            self.muted, self.paused = line.snapshot.muted, line.snapshot.phase == "paused"
        now = time.monotonic()
        self.latch.pass_time(now)
        self.drawn = self.latch.share
        if view.mood in OVER:
            self.locked = False
        elif not self.locked and now - self._touched > UNLOCKED_S:
            self.lock()
        self._offer()

    def _offer(self) -> None:
        """The buttons there are now; made anew only when others are due."""
        keys = () if self.locked else CHOICES.get(self.view.mood, CHOICES[""])
        words = App.get_running_app().words
        wanted = tuple((self._turned(key), words(f"water.{self._turned(key)}")) for key in keys)
        if wanted == self._offered:
            return
        self._offered = wanted
        self.ids.choices.clear_widgets()
        if self.trouble:
            self.ids.choices.add_widget(Say(text=reason(self.trouble, words.lang), kind="water"))
        for n, (key, text) in enumerate(wanted):
            button = (Hold if key == "end" else Press)(name=f"water.{key}", text=text)
            if key == "end":
                button.bind(on_held=lambda *_: self.tell("stop"))
            else:
                button.look = "strong" if n == 0 else "plain"
                button.bind(on_release=lambda *_, key=key: self._chosen(key))
            button.kind = "water"
            self.ids.choices.add_widget(button)

    def _turned(self, key: str) -> str:
        """The same place holds the way there and the way back."""
        if key == "pause" and self.paused:
            return "go_on"
        if key == "mute" and self.muted:
            return "unmute"
        return key

    def _chosen(self, key: str) -> None:
        app = App.get_running_app()
        does: dict[str, Any] = {
            "lock": self.lock,
            "pause": lambda: self.tell("pause"),
            "go_on": lambda: self.tell("start"),
            "mute": lambda: self.tell("mute", on=True),
            "unmute": lambda: self.tell("mute", on=False),
            "repeat": lambda: self.tell("repeat"),
            "look": self.look_back,
            "rescue": self.rescue,
            "again": self.again,
            "home": app.home,
        }
        does[key]()

    def on_trouble(self, *_: Any) -> None:
        self._offered = None
        self._offer()

    def on_locked(self, *_: Any) -> None:
        self._offer()

    def lock(self) -> None:
        self.latch.lock()
        self.drawn = 0.0
        self.locked = True

    def _lay_arch(self, *_: Any) -> None:
        box = self.ids.arch
        path = arch(*box.pos, max(1.0, box.width), max(1.0, box.height))
        self.latch.lay(path)
        box.points = [v for point in path for v in point]

    # ---- touches ----

    def on_touch_down(self, touch: Any) -> bool:
        self._touched = time.monotonic()
        if not self.locked:
            return bool(super().on_touch_down(touch))
        self.latch.down(touch.uid, self._touched, touch.pos)
        self.drawn = self.latch.share
        return True

    def on_touch_move(self, touch: Any) -> bool:
        self._touched = time.monotonic()
        if not self.locked:
            return bool(super().on_touch_move(touch))
        self.latch.move(touch.uid, self._touched, touch.pos)
        self.drawn = self.latch.share
        if self.latch.open:
            self.locked = False
        return True

    def on_touch_up(self, touch: Any) -> bool:
        self._touched = time.monotonic()
        if not self.locked:
            return bool(super().on_touch_up(touch))
        self.latch.up(touch.uid, self._touched)
        self.drawn = self.latch.share
        return True

    # ---- what can be asked once it is unlocked ----

    def tell(self, name: str, **given: Any) -> None:
        def told(why: str) -> None:
            Clock.schedule_once(lambda _: setattr(self, "trouble", why), 0)

        App.get_running_app().link.tell(name, told, **given)

    def look_back(self, file: str = "") -> None:
        app = App.get_running_app()
        app.link.forget()
        app.look_back(file or self.view.file)

    def again(self) -> None:
        app = App.get_running_app()
        app.link.forget()
        app.instead("before")

    def rescue(self) -> None:
        """Makes the cut-off outing whole on a thread of its own; that may take a while."""
        app = App.get_running_app()
        self.trouble = app.words("water.rescuing")
        file = self.view.file

        def work() -> None:
            from cadence_coach.live import rescue_all
            from cadence_coach.store.folders import home

            try:
                done = rescue_all(most_bytes=None)
                if app.link.line.kind == "gone":  # else another outing was begun: what lies there speaks of that one
                    cut_off(home())
                found = file or (str(max(done)) if done else "")
                Clock.schedule_once(lambda _: self.rescued(found), 0)
            except (CouldNot, OSError) as error:
                why = app.words("water.rescue_failed", why=reason(str(error), app.words.lang))
                Clock.schedule_once(lambda _: setattr(self, "trouble", why), 0)

        threading.Thread(target=work, name="rescue", daemon=True).start()

    def rescued(self, file: str) -> None:
        """It is looked back on from here alone: whoever went to another page meanwhile stays there."""
        app = App.get_running_app()
        self.trouble = ""
        if app.page is self:
            self.look_back(file)
        elif app.link.line.kind == "gone":
            app.link.forget()
