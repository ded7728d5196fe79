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
from tests.app.fingers import Fingers

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


class Hand(Fingers):
    """What a person or a test may do with the app."""

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
