"""Finding and touching what the running app shows, as a person does: by name or text, with one finger or many."""

from __future__ import annotations

import time
from typing import Any

from tests.app.facts import touchable


class Fingers:
    """What waits in between is a generator that yields seconds (see driven.Hand)."""

    def __init__(self, app: Any) -> None:
        self.app = app
        self._touches = 0

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
