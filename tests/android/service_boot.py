"""What Android does around service/main.py, on the desktop: `python service_boot.py EVENTS.npy`, in the app's folder.

The service object exists before Python runs (CoachService, with its notification), sensors deliver in real time, and
Python's entry file is run as python-for-android's start.c does, which ends the process right after it; Android would
start it anew unless the service was stopped, and that is what the last line says. Each new text in the notification is
printed. On the standard input "end" is the rider pressing "End" there, "headset" a headset that comes, "press twice"
its button, "sent" a start by the app that is on its way, "start PLAN" its arrival.
"""

from __future__ import annotations

import os
import runpy
import sys
import threading
import time

import numpy as np
from jnius import autoclass

Context = autoclass("android.content.Context")
SystemClock = autoclass("android.os.SystemClock")
Notes = autoclass("android.app.NotificationManager").pretendOnly
Drive = autoclass("cadencecoach.phone.Drive")
AudioTrack = autoclass("android.media.AudioTrack")
MediaSession = autoclass("android.media.session.MediaSession")


def deliver(events: np.ndarray) -> None:
    while Context.pretendSensors.pretendRegistered() == 0:
        time.sleep(0.02)
    began, at = time.monotonic(), 0
    boot = events["boot"]
    while at < len(events):
        due = int(np.searchsorted(boot, boot[0] + (time.monotonic() - began) * 1e9))
        if due > at:
            Context.pretendSensors.pretendEvents(events[at:due].tobytes())
            at = due
        time.sleep(0.02)


def shown() -> str:
    note = Notes.pretendShown
    return "none" if note is None else str(note.pretendText) + (", to be wiped away" if not note.pretendOngoing else "")


def tell() -> None:
    told = None
    while True:
        text = shown()
        if text != told:
            told = text
            print(f"NOTE {text}", flush=True)
        time.sleep(0.02)


def obey() -> None:
    for line in sys.stdin:
        if line.strip() == "end":
            Drive.pressEnd(service)
        elif line.startswith("start "):
            Drive.bring(service, service.pretendNewest, line.removeprefix("start ").strip())
        elif line.strip() == "sent":
            Drive.send(service)
        elif line.strip() == "headset":
            AudioTrack.pretendLast.pretendRoute(8, "headset", 200_000_000)
        elif line.strip() == "press twice":
            session = MediaSession.pretendLast
            for ahead in (0, 250):
                session.pretendPress(round(time.monotonic() * 1000) + ahead, 0, 79)


if __name__ == "__main__":
    service = Drive.service("Coach")
    events = np.load(sys.argv[1])
    SystemClock.pretendNanos = int(events["boot"][0]) - 1_000_000_000
    for work in (lambda: deliver(events), tell, obey):
        threading.Thread(target=work, daemon=True).start()
    runpy.run_path("service/main.py", run_name="__main__")
    time.sleep(0.1)
    print(f"STOPPED {service.pretendStopped}, {shown()}", flush=True)
    os._exit(0)
