"""The screen's line to the engine: a thread of its own that follows it, and hands over the newest snapshot. No Kivy.

    none      no engine, and none expected
    coming    one was started and has not answered yet
    here      it answers
    ended     its outing ended by itself or by "stop"; the last snapshot says how
    gone      it died in the middle: the outing is kept up to the last second and can be made whole
    failed    it could not start; `why` says so

A phone starts a dead engine anew by itself: for `grace_s` a gone one counts as coming back ("coming").
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import attrs

from cadence_coach.errors import CouldNot, Refused

if TYPE_CHECKING:  # `live` is large and waits for the link's own thread: the first frame does not
    from cadence_coach.live.serve import Client
    from cadence_coach.live.snapshot import Snapshot

ADDRESS = "engine.json"
"""live.serve.ADDRESS; here as well, so that a look at whether there is an engine costs nothing."""
LOOK_S = 0.2
COMING_S = 45.0
"""A slow phone that also makes an outing whole before it starts."""
JUST_S = 1.0
"""An engine is asked a moment before it is expected; a note older than this is an earlier one's."""
HZ = 10.0


@attrs.frozen
class Line:
    """What is known of the engine at this moment."""

    kind: str = "none"
    snapshot: Snapshot | None = None
    why: str = ""

    @property
    def goes_on(self) -> bool:
        """An outing or a training is on: beside it none can start."""
        return self.kind in ("here", "coming")

    def writes(self, path: str) -> bool:
        """That outing file is the one of what is on."""
        file = self.snapshot.file if self.goes_on and self.snapshot is not None else None
        return file is not None and Path(file) == Path(path)


class Link:
    """`line` is the newest frozen value, swapped by assignment: any thread may read it."""

    def __init__(
        self,
        folder: Path,
        grace_s: float = 0.0,
        running: Callable[[], bool] = lambda: True,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        """running: whether the process that was started still lives, where that can be known."""
        self.line = Line()
        self._folder = folder
        self._grace_s = grace_s
        self._running = running
        self._clock = clock
        self._until = 0.0
        self._asked = 0.0
        self._closing = threading.Event()
        self._thread = threading.Thread(target=self._run, name="link", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def expect(self) -> None:
        """An engine was just asked to start: until it answers, the line says that it is coming."""
        self._asked = time.time() - JUST_S
        self._until = self._clock() + COMING_S
        self.line = Line("coming")

    def forget(self) -> None:
        """What ended or died was dealt with, or what was expected could not even be asked."""
        if self.line.kind != "here":
            self.line = Line()

    def tell(self, name: str, told: Callable[[str], None] = lambda why: None, **given: Any) -> None:
        """A command, on a thread of its own; `told` gets "" or why it was not taken, on that thread."""

        def ask() -> None:
            try:
                with self._client() as client:
                    client.command(name, **given)
            except (Refused, CouldNot) as error:
                told(str(error))
            else:
                told("")

        threading.Thread(target=ask, name=f"tell {name}", daemon=True).start()

    def close(self) -> None:
        self._closing.set()

    # ---- the thread ----

    def _client(self) -> Client:
        from cadence_coach.live.serve import Client

        return Client(self._folder)

    def _run(self) -> None:
        while not self._closing.is_set():
            if (self._folder / ADDRESS).exists():
                self._follow()
            elif self.line.kind == "here":  # its address is taken away as the last thing of a clean end
                self.line = Line("ended", self.line.snapshot)
            elif self.line.kind == "coming":
                self._wait_for()
            self._closing.wait(LOOK_S)

    def _wait_for(self) -> None:
        if (why := self._trouble()) is not None:
            self.line = Line("failed", why=why)
        elif not self._running() or self._clock() > self._until:
            self.line = Line("failed", why="")

    def _follow(self) -> None:
        try:
            with self._client() as client:
                for snapshot in client.follow(HZ):
                    kind = "ended" if snapshot.phase == "ended" else "here"
                    self.line = Line(kind, snapshot)
                    if self._closing.is_set():
                        return
        except (CouldNot, OSError) as error:
            if (self._folder / ADDRESS).exists():
                self._lost(str(error))
        except (Refused, ValueError, TypeError, KeyError, AttributeError) as error:
            self.line = Line("failed", self.line.snapshot, str(error))  # it lives, and speaks otherwise

    def _lost(self, why: str) -> None:
        """The address is there and nobody answers: dead, unless one that was started is on its way."""
        if self.line.kind in ("ended", "failed", "gone"):
            return
        if self.line.kind == "here":
            if self._answers():
                return
            self._until = self._clock() + self._grace_s
            self._asked = time.time()  # what was asked for came: the trouble of one that starts anew is yet to be told
        elif self.line.kind == "none":
            self._until = self._clock() + self._grace_s
        coming = self._clock() < self._until and self._running()
        if coming:
            self.line = Line("coming", self.line.snapshot)
            if self._trouble() is not None:
                self._wait_for()
        else:
            self.line = Line("gone", self.line.snapshot, why)

    def _trouble(self) -> str | None:
        """Why the engine that was asked for did not start ("" when a full disk held no word of it), None while nothing
        says that; what an earlier one left is not meant."""
        from cadence_coach.live.on_phone import TROUBLE

        path = self._folder / TROUBLE
        try:
            written = path.stat().st_mtime
            why = path.read_text("utf-8") if written >= self._asked else None
        except OSError:
            return None
        return None if why == "" and time.time() - written < JUST_S else why  # just now: it is being written

    def _answers(self) -> bool:
        try:
            self._client().close()
        except (Refused, CouldNot):
            return False
        return True


def cut_off(folder: Path) -> None:
    """Once a cut-off outing was made whole: nothing is left that would speak of it, or start it anew."""
    from cadence_coach.live.on_phone import RIDING, TROUBLE

    for name in (ADDRESS, RIDING, TROUBLE):
        (folder / name).unlink(missing_ok=True)
