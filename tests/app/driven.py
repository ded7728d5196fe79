"""The driven side: the real app, offscreen, in a process of its own, with a hand that reads JSON lines from stdin.

    python -m tests.app.driven '{"width": 360, "height": 640, ...}'

One line in, one line out; everything is done on the app's own thread. `tests/app/driver.py` is the other side.
"""

from __future__ import annotations

import json
import os
import sys
import threading
import time
from typing import Any

from tests.app.facts import fact, touchable, visible

OUT = os.fdopen(os.dup(1), "w", buffering=1)
os.dup2(2, 1)  # whatever the app prints goes to its log


def main() -> None:
    asked = json.loads(sys.argv[1])
    os.environ.update(
        SDL_VIDEODRIVER="offscreen",
        KIVY_NO_ARGS="1",
        KIVY_NO_CONSOLELOG="1",
        KIVY_NO_FILELOG="1",
        KIVY_METRICS_DENSITY="1",
        KIVY_DPI="96",
    )
    began = time.perf_counter()
    from cadence_coach.app import run

    def ready(app: Any) -> None:
        tell({"ok": True, "first_frame_s": time.perf_counter() - began, "first_frame_cpu_s": time.process_time()})
        threading.Thread(target=read, args=(app,), daemon=True).start()

    run(size=(asked.pop("width"), asked.pop("height")), ready=ready, **asked)


def tell(what: dict[str, Any]) -> None:
    OUT.write(json.dumps(what) + "\n")


def read(app: Any) -> None:
    from kivy.clock import Clock

    hand = Hand(app)
    for line in sys.stdin:
        asked = json.loads(line)
        Clock.schedule_once(lambda _, asked=asked: hand.do(asked), 0)
    if counting := sys.modules.get("coverage"):  # tests.covered: what ends like this would leave no count
        counting.Coverage.current().save()
    os._exit(0)  # the test has gone


class Hand:
    """What a person or a test may do with the app."""

    def __init__(self, app: Any) -> None:
        self.app = app
        self._touches = 0

    def do(self, asked: dict[str, Any]) -> None:
        """One question; an answer once it is done and two frames have gone by."""
        name = asked.pop("do")
        try:
            steps = getattr(self, name)(**asked)
            if steps is None or isinstance(steps, dict):
                self._later(2, lambda: tell({"ok": True, **(steps or {})}))
            else:
                self._run(steps)
        except Exception as error:
            tell({"ok": False, "error": f"{type(error).__name__}: {error}"})

    def _later(self, frames: int, then: Any) -> None:
        from kivy.clock import Clock

        def wait(_: float, left: int = frames) -> None:
            then() if left <= 1 else self._later(left - 1, then)

        Clock.schedule_once(wait, 0)

    def _run(self, steps: Any) -> None:
        """A generator that yields seconds to wait, and returns a dict."""
        from kivy.clock import Clock

        def step(_: float) -> None:
            try:
                wait = next(steps)
            except StopIteration as end:
                told = end.value or {}
                self._later(2, lambda: tell({"ok": True, **told}))
            except Exception as error:
                tell({"ok": False, "error": f"{type(error).__name__}: {error}"})
            else:
                Clock.schedule_once(step, wait)

        step(0.0)

    # ---- finding ----

    def _walk(self) -> Any:
        from kivy.core.window import Window

        waiting = list(Window.children)[::-1]
        while waiting:
            widget = waiting.pop(0)
            yield widget
            waiting = widget.children[::-1] + waiting

    def _found(self, name: str) -> Any:
        """The widget of that name, else the touchable one that shows that text."""
        widgets = list(self._walk())
        for widget in widgets:
            if getattr(widget, "name", None) == name and touchable(widget):
                return widget
        for widget in widgets:
            if getattr(widget, "text", None) == name and touchable(widget):
                return widget
        there = sorted({w.name for w in widgets if isinstance(getattr(w, "name", None), str) and w.name})
        raise LookupError(f"nothing to touch is named {name!r}; there are {', '.join(there)}")

    def _shown(self, widget: Any) -> tuple[float, float]:
        """Scrolls until the middle of the widget is in sight; where that is in the window."""
        from kivy.core.window import Window
        from kivy.uix.scrollview import ScrollView

        parent = widget.parent
        while parent is not None and parent is not Window:
            if isinstance(parent, ScrollView) and parent.children[0].height > parent.height:
                parent.scroll_to(widget, padding=20, animate=False)
                parent.update_from_scroll()
            parent = parent.parent
        x, y = widget.to_window(*widget.center)
        w, h = Window.size
        if not (0 <= x < w and 0 <= y < h):
            raise LookupError(f"{getattr(widget, 'name', widget)} lies outside the window at {x:.0f}, {y:.0f}")
        return x, y

    # ---- touching ----

    def _touch(self, x: float, y: float) -> Any:
        from kivy.core.window import Window
        from kivy.input.motionevent import MotionEvent

        class Finger(MotionEvent):
            def depack(self, args: Any) -> None:
                self.is_touch = True
                self.sx, self.sy = args
                self.profile = ["pos"]
                super().depack(args)

        self._touches += 1
        w, h = Window.size
        return Finger("finger", self._touches, (x / w, y / h), is_touch=True, type_id="touch")

    def _send(self, kind: str, touch: Any, x: float | None = None, y: float | None = None) -> None:
        from kivy.base import EventLoop
        from kivy.core.window import Window

        if x is not None and y is not None:
            touch.move((x / Window.width, y / Window.height))
        EventLoop.post_dispatch_input(kind, touch)

    def _filled(self) -> Any:
        """Waits until all of a page has come: until then it moves."""
        while not all(getattr(widget, "filled", True) for widget in self._walk()):
            yield 0.0

    def tap(self, name: str, hold: float = 0.0) -> Any:
        yield from self._filled()
        x, y = self._shown(self._found(name))
        yield 0.05
        touch = self._touch(x, y)
        self._send("begin", touch)
        yield max(hold, 0.02)
        self._send("end", touch)
        yield 0.02
        return {"x": x, "y": y}

    def slide(self, points: list[list[float]], seconds: float) -> Any:
        """One finger along window points, evenly."""
        touch = self._touch(*points[0])
        self._send("begin", touch)
        for x, y in points[1:]:
            yield seconds / len(points)
            self._send("update", touch, x, y)
        yield seconds / len(points)
        self._send("end", touch)
        return {}

    def storm(self, per_second: float, seconds: float, seed: int) -> Any:
        """Random touches all over: taps, slides, several at once. The same rate whatever the frame rate."""
        from random import Random

        from kivy.core.window import Window

        chance = Random(seed)
        w, h = Window.size
        began, made, gone = time.monotonic(), 0, 0.0
        down: list[Any] = []
        while gone < seconds:  # the last frame makes up for what slow ones left
            gone = min(time.monotonic() - began, seconds)
            while made < gone * per_second:
                made += 1
                x, y = chance.uniform(0, w - 1), chance.uniform(0, h - 1)
                if down and chance.random() < 0.6:
                    touch = down[chance.randrange(len(down))]
                    if chance.random() < 0.5:
                        self._send("update", touch, x, y)
                    else:
                        down.remove(touch)
                        self._send("end", touch)
                else:
                    touch = self._touch(x, y)
                    down.append(touch)
                    self._send("begin", touch)
            yield 0.0
        for touch in down:
            self._send("end", touch)
        return {"touches": made}

    def probe(self) -> dict[str, Any]:
        """Lays a sheet over the page that hears each touch the page lets through, and takes none."""
        from kivy.uix.widget import Widget

        heard = self._heard = {"down": 0, "move": 0, "up": 0}

        class Sheet(Widget):  # type: ignore[misc]
            def on_touch_down(self, touch: Any) -> None:
                heard["down"] += 1

            def on_touch_move(self, touch: Any) -> None:
                heard["move"] += 1

            def on_touch_up(self, touch: Any) -> None:
                heard["up"] += 1

        self.app.page.add_widget(Sheet())
        return {}

    def heard(self) -> dict[str, Any]:
        """What `probe` heard since it was laid."""
        return {"heard": self._heard}

    def write(self, name: str, text: str) -> Any:
        """Touches a field, wipes it and types."""
        from kivy.core.window import Window

        field = self._found(name)
        yield from self.tap(name)
        field.select_all()
        if text:
            for letter in text:
                Window.dispatch("on_textinput", letter)
                yield 0.0
        else:
            field.delete_selection()
        yield 0.02
        field.focus = False
        return {"text": field.text}

    def key(self, code: int) -> dict[str, Any]:
        from kivy.core.window import Window

        return {"taken": bool(Window.dispatch("on_keyboard", code, 0, None, []))}

    # ---- looking ----

    def size(self, width: int, height: int) -> Any:
        from kivy.core.window import Window

        Window.size = (width, height)
        yield 0.05
        return {"size": list(Window.size)}

    def change(self, **changes: Any) -> dict[str, Any]:
        self.app.change(**changes)
        return {}

    def go(self, name: str, **given: Any) -> dict[str, Any]:
        self.app.go(name, **given)
        return {}

    def first_page(self) -> dict[str, Any]:
        self.app.home()
        return {}

    def line(self, kind: str, why: str = "", **snapshot: Any) -> Any:
        """What the engine says, put in the place of the line to it."""
        from cadence_coach.app.link import Line
        from cadence_coach.live.snapshot import Snapshot

        self.app.link.close()
        self.app.link.line = Line(kind, Snapshot(**snapshot) if snapshot else None, why)
        yield 0.25
        return {}

    def follow(self, hz: float, snapshot: dict[str, Any]) -> dict[str, Any]:
        """A flight that goes on: each snapshot a little later, pumps and cadence as they change."""
        from math import sin

        from kivy.clock import Clock

        from cadence_coach.app.link import Line
        from cadence_coach.live.snapshot import Snapshot

        n = 0

        def later(_: float) -> None:
            nonlocal n
            n += 1
            now = {**snapshot, "time_s": n / hz, "flight_s": n / hz, "flight_pumps": n // 7}
            now["cadence_hz"] = 1.5 + 0.6 * sin(n / 20)
            self.app.link.line = Line("here", Snapshot(**now))

        if hz:
            Clock.schedule_interval(later, 1 / hz)
        return {}

    def host(self, does: str, gives: Any = None, fails: str = "", could_not: str = "") -> None:
        """From now on the machine's side answers like this when it is asked to. fails: raised as by Java's side;
        could_not: as by ours."""
        from cadence_coach.errors import CouldNot

        def answer(*_: Any) -> Any:
            if fails or could_not:
                raise RuntimeError(fails) if fails else CouldNot(could_not)
            return gives

        setattr(self.app.host, does, answer)

    def rows(self, names: list[str]) -> None:
        """Rows on a page of blocks, in the place of what it tells."""
        from cadence_coach.app.views.back import PageView
        from cadence_coach.app.views.blocks import Go

        self.app.page.view = PageView("Rows", tuple(Go(f"row:{name}", name) for name in names))

    def arch(self) -> dict[str, Any]:
        """The way of the water screen's lock, as it is drawn."""
        points = self.app.page.ids.arch.points
        return {"points": [list(p) for p in zip(points[::2], points[1::2], strict=True)]}

    def where(self) -> dict[str, Any]:
        from cadence_coach.app.main import SCREENS

        return {"screens": list(SCREENS), "page": self.app.name_of_page, "depth": len(self.app._stack)}

    def view(self) -> dict[str, Any]:
        """The frozen value the page shows, as far as it is plain."""
        import attrs

        view = self.app.page.view
        plain = attrs.asdict(view) if attrs.has(type(view)) else None
        return {"view": json.loads(json.dumps(plain, default=str))}

    def shot(self, path: str) -> Any:
        from kivy.core.window import Window

        yield 0.1
        made = Window.screenshot(name=path)
        os.replace(made, path)
        return {"path": path}

    def scroll(self, y: float) -> dict[str, Any]:
        scroll = self.app.page.ids.get("scroll")
        if scroll is not None:
            scroll.scroll_y = y
        return {"scrolls": bool(scroll is not None and scroll.children[0].height > scroll.height + 1)}

    def look(self, width: int, height: int, path: str | None = None, **changes: Any) -> Any:
        """The page as it is with other choices at another size: its facts, and a picture of its top."""
        import attrs
        from kivy.core.window import Window

        self.app.state = attrs.evolve(self.app.state, **changes)  # app.change would also wait for the disk
        self.app._dress()
        self.app.page.refresh()
        Window.size = (width, height)
        self.scroll(1.0)
        for _ in range(4):
            yield 0.0
        yield from self._filled()
        for _ in range(2):
            yield 0.0
        if path is not None:
            os.replace(Window.screenshot(name=path), path)
        return self.facts()

    def deny(self, names: list[str], gives: bool) -> None:
        """From now on a phone that lacks these permissions. gives: what its rider says when asked."""
        host, left = self.app.host, list(names)
        host.asked = 0

        def ask() -> None:
            host.asked += 1
            if gives:
                left.clear()

        host.missing, host.ask = lambda: list(left), ask

    def resume(self) -> dict[str, Any]:
        """Back from the phone's own question; how often it was put."""
        self.app.dispatch("on_resume")
        return {"asked": self.app.host.asked}

    def facts(self) -> dict[str, Any]:
        """Every widget that shows or takes something, with where it lies and what it looks like."""
        return {"facts": [fact(w) for w in self._walk() if visible(w) and (getattr(w, "text", "") or touchable(w))]}


if __name__ == "__main__":
    main()
