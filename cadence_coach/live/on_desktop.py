"""The engine's process on a desktop, as the app starts it: `python -m cadence_coach.live.on_desktop`, plan on stdin.

The same outing in a process of its own as on a phone, so that closing or crashing the screen never ends it. What the
phone's notification would say goes to stdout, a log; a polite kill ends the outing cleanly.
"""

from __future__ import annotations

import signal
import sys
from typing import Any

from cadence_coach.live import on_phone


class Log:
    """What CoachService is on a phone."""

    def __init__(self) -> None:
        self._end = False
        for name in (signal.SIGTERM, signal.SIGINT):
            signal.signal(name, self._asked)

    def _asked(self, *_: Any) -> None:
        self._end = True

    def say(self, text: str) -> None:
        print(text, flush=True)

    def endAsked(self) -> bool:
        return self._end

    def nextPlan(self) -> str:
        return ""  # each plan has a process of its own

    def over(self, text: str) -> bool:
        return True


if __name__ == "__main__":
    print("coach:", on_phone.run(sys.stdin.read(), Log()), flush=True)
