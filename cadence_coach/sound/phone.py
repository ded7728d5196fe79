"""The phone's sound output: blocks of 16-bit PCM handed to Java, which keeps one stream open and every frame in its
place.

A thread here stays a few blocks ahead. When it cannot (Python frozen), Java plays silence and counts it, and what was
placed for that time is lost rather than late. Where a headset comes or goes, the frames that are in flight move in
time: the fit of frames to time starts over then, and `name` changes, so that the latency kept for that output is the
one that is used.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Any

import numpy as np

from cadence_coach.errors import CouldNot
from cadence_coach.sound.clocks import SlowFit
from cadence_coach.sound.mixer import Mixer
from cadence_coach.sound.sinks import mixer_trouble, same_rate

BLOCK = 480
"""Frames handed over at a time: 10 ms at 48 kHz, 1.2 us as bytes (a list of shorts takes ten times that)."""
DEPTH, REFILL = 6, 3
"""Blocks that wait in Java, and how many of them may go before it gets more: waking up is most of what this thread
costs (on a desktop's JVM 10 ms of processor time a second, 18 when it woke for each block)."""
BUFFER_S = 0.08
"""What the track itself holds: short enough for cues, long enough for a busy phone [s]."""
READ_S = 0.5
STEP_FRAMES_S = 0.02
"""A time of the device this far off the fit, three times running, is a step and not jitter [s]."""
SILENT_S = 1.0
"""Nothing written for so long: there is no device just now [s]."""
COUNTERS = ("written", "silent", "late_frames", "underruns", "lost", "routes", "waiting", "holds")


def open_device(name: str | None, rate: int) -> PhoneSink:
    """The phone's media output; which device that is, Android decides. CouldNot anywhere else."""
    try:
        from jnius import autoclass
    except (ImportError, KeyError, OSError) as error:
        raise CouldNot(f"no phone here to play on ({error}); choose device, wav:FILE or silent") from error
    return PhoneSink(autoclass, rate)


class PhoneSink:
    """See `sound.sinks`. `output` is the device the sound goes to: kind number and name, as Android tells them.

    latency_of: the latency [s] that was measured for an output of this name; set it before the start. It is asked again
    whenever the sound moves to another output.
    """

    def __init__(self, autoclass: Any, rate: int) -> None:
        AudioSink = autoclass("cadencecoach.phone.AudioSink")
        Phone = autoclass("cadencecoach.phone.Phone")
        self.latency_of: Callable[[str], float] = lambda output: 0.0
        self.rate = rate
        self.reason: str | None = None
        self._java = AudioSink(Phone.context(), rate, BLOCK, round(BUFFER_S * rate), DEPTH)
        self._latency = 0.0
        self._mixer: Mixer | None = None
        self._fit = SlowFit(slope=rate)
        self._next = 0
        self._off = 0
        self._seen: tuple[int, int] = (0, 0)
        self._stamp = -1
        self._counts = dict.fromkeys(COUNTERS, 0)
        self._wrote = 0.0
        self._ending = threading.Event()
        self._thread: threading.Thread | None = None

    @property
    def output(self) -> str:
        return str(self._java.route())

    @property
    def name(self) -> str:
        return f"phone:{self.output}" if self.output else "phone"

    def start(self, mixer: Mixer) -> None:
        same_rate(self, mixer)
        self._mixer = mixer
        self._fit.add(time.monotonic() + BUFFER_S, 0.0, 0.05)
        self._wrote = time.monotonic()
        self._feed()  # so that the first frame is already there
        if not self._java.start():
            raise CouldNot("phone: no sound output opened; end a call or another app that holds it")
        self._thread = threading.Thread(target=self._run, name="sound-phone", daemon=True)
        self._thread.start()

    def frame_now(self) -> int:
        return self.frame_at(time.monotonic())

    def frame_at(self, monotonic_s: float) -> int:
        return round(self._fit.at(monotonic_s - self._latency))

    def soonest(self) -> int:
        assert self._mixer is not None
        return max(self._mixer.frontier, self._next) + 2 * BLOCK

    def route_changes(self) -> int:
        """How often the sound has moved to another device since the start (the first one counts as none)."""
        return max(0, self._counts["routes"] - 1)

    def trouble(self) -> dict[str, int]:
        counts = {k: v for k, v in self._counts.items() if k in ("silent", "late_frames", "underruns", "lost")}
        return counts | {"route_changes": self.route_changes()} | mixer_trouble(self._mixer)

    def close(self) -> None:
        self._ending.set()
        if self._thread is not None:
            self._thread.join(timeout=5)
            self._thread = None
        self._java.stop()

    def _run(self) -> None:
        read = 0.0
        while not self._ending.wait(REFILL * BLOCK / self.rate):
            counts = dict(zip(COUNTERS, self._java.counters(), strict=True))
            now = time.monotonic()
            if counts["written"] != self._counts["written"]:
                self._wrote, self.reason = now, None
            elif now - self._wrote > SILENT_S:
                self.reason = f"{self.name}: the phone takes no sound; trying to open it again"
            self._counts = counts
            self._feed()
            if now - read >= READ_S or self._moved():
                read = now
                self._read_clock()

    def _feed(self) -> None:
        """Fill Java's queue; after a pause go on a little beyond where its stream has got to."""
        assert self._mixer is not None
        if self._next < self._counts["written"]:
            self._next = self._counts["written"] + 2 * BLOCK
        sound = self._mixer.take(self._next, max(0, DEPTH - self._counts["waiting"]) * BLOCK)
        pcm = np.rint(sound * np.float32(32767)).astype("<i2").tobytes()
        for at in range(0, len(pcm), 2 * BLOCK):
            if not self._java.offer(pcm[at : at + 2 * BLOCK], self._next):
                return
            self._next += BLOCK

    def _moved(self) -> bool:
        return (self._counts["routes"], self._counts["lost"]) != self._seen

    def _read_clock(self) -> None:
        """One reading of which frame leaves when; after a step of the device the fit starts over."""
        stamp = self._java.timestamp()
        if stamp is None or stamp[1] == self._stamp:
            return
        self._stamp = stamp[1]
        t, frame = stamp[1] / 1e9, stamp[0]
        off = abs(frame - self._fit.at(t)) / self.rate
        self._off = self._off + 1 if off > STEP_FRAMES_S else 0
        if self._moved() or self._off >= 3 or self._fit.readings == 1:
            self._seen = (self._counts["routes"], self._counts["lost"])
            self._fit = SlowFit(slope=self.rate)
            self._off = 0
            self._latency = self.latency_of(self.name)
        if self._off == 0:
            self._fit.add(t, frame, 0.001)
