"""Was the machine itself fit to play? A thread that only sleeps, at the server's priority, beside the measurement.

Where even that one is woken far too late, no program could have filled a buffer of 0.1 s in time, and an underflow says
nothing about ours: the measurement is made again, and the reason is printed. Without such stalls a failure stands.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from typing import TypeVar

from tests.sound.pulse import SOON

UNFIT_S = 0.04
"""Woken this late, twice in a row would use up the buffer."""
TIMES = 4
_WATCH = """
import signal, sys, time
ending = []
signal.signal(signal.SIGTERM, lambda *_: ending.append(1))
worst = 0.0
while not ending:
    before = time.monotonic()
    time.sleep(0.005)
    worst = max(worst, time.monotonic() - before - 0.005)
print(worst)
"""
T = TypeVar("T")


def measured(measure: Callable[[], T], fit: Callable[[T], bool]) -> T:
    """The first result that is `fit`, or the first of a machine that did not stall; else the last one."""
    for turn in range(TIMES):
        watch = subprocess.Popen([*SOON, sys.executable, "-c", _WATCH], stdout=subprocess.PIPE, text=True)
        try:
            result = measure()
        finally:
            watch.terminate()
            worst = float(watch.communicate()[0])
        if fit(result) or worst < UNFIT_S:
            break
        print(f"measurement {turn + 1} of {TIMES}: the machine stalled for {1000 * worst:.0f} ms by itself, again")
    return result
