"""The sound device of a computer, through PortAudio (sounddevice): one stream that stays open.

One stream, latency 0.1 s: measured through a real server, clicks placed by frame come out on their frame, while one
stream a click loses most of them and the lowest latency scatters under load. The callback copies and counts, nothing
else.

A device can go away in the middle of an outing (unplugged, server gone). Then nothing is raised: a watching thread
notices within three seconds (SILENT_S), passes the frames over in silence by the monotonic clock, and tries again until
the device is back, on the right frame.
"""

from __future__ import annotations

import contextlib
import os
import sys
import threading
import time
from typing import Any

import numpy as np

from cadence_coach.errors import CouldNot
from cadence_coach.sound.clocks import SlowFit
from cadence_coach.sound.mixer import Mixer
from cadence_coach.sound.sinks import mixer_trouble, same_rate

LATENCY_S = 0.1
AUDIO_NICE = -11
"""The audio thread asks for this priority; a system that does not allow it says no, and nothing is lost."""
WATCH_S = 0.25
SILENT_S = 2.5
"""No callback for so long: the device is gone, even if it has not said so. Some servers take sound in blocks of 2 s."""
AGAIN_S = (0.5, 1.0, 2.0, 5.0)
STEP_S, STEP_READINGS = 0.02, 10
"""Readings this far off the fit, so many running, are a step of the device (another output, another buffer), not
jitter."""
SETTLE_S = 0.3
"""While the buffer fills, the reported lead is too short: readings from then on count. A server that has just started
may fill it and then hold it for a second, so a device that came back is silent until then: only then is it known
which frame is due."""


def _sounddevice() -> Any:
    try:
        import sounddevice
    except OSError as error:  # the wheel carries no PortAudio on Linux
        raise CouldNot(f"no sound device: {error}; install PortAudio (Debian: libportaudio2)") from error
    except ImportError as error:
        raise CouldNot(f"no sound device: {error}; install the package sounddevice") from error
    return sounddevice


def open_device(name: str | None, rate: int) -> DeviceSink:
    """The named device (any part of its name), or the default one. CouldNot when there is none that opens."""
    sd = _sounddevice()
    try:
        index = _index(sd, name)
        info = sd.query_devices(index, "output")
        try:
            sd.check_output_settings(device=index, channels=1, dtype="float32", samplerate=rate)
        except sd.PortAudioError:
            rate = int(info["default_samplerate"])
            sd.check_output_settings(device=index, channels=1, dtype="float32", samplerate=rate)
    except (sd.PortAudioError, ValueError) as error:
        wanted = f"sound device {name!r}" if name else "sound device"
        raise CouldNot(f"no {wanted}: {_one_line(error)}; `check` lists what there is") from error
    return DeviceSink(str(info["name"]), name, rate)


def _index(sd: Any, name: str | None) -> int | None:
    if name is None:
        return None
    for index, info in enumerate(sd.query_devices()):
        if name.lower() in info["name"].lower() and info["max_output_channels"] > 0:
            return index
    raise ValueError("no output has this name")


def _ask_for_priority() -> None:
    """For the calling thread alone: that is what 0 means on Linux, and nowhere else."""
    if sys.platform == "linux":
        with contextlib.suppress(OSError):
            os.setpriority(os.PRIO_PROCESS, 0, AUDIO_NICE)


def _one_line(error: BaseException) -> str:
    return " ".join(str(error).split())


class DeviceSink:
    """A device that plays what the mixer holds, and its frame counter."""

    def __init__(self, name: str, wanted: str | None, rate: int) -> None:
        self.name = f"device:{name}"
        self.rate = rate
        self.reason: str | None = None
        self.block_frames = 0
        self._wanted = wanted
        self._mixer: Mixer | None = None
        self._stream: Any = None
        self._fit = SlowFit(slope=rate)
        self._new = True
        self._off = 0
        self._next: int | None = 0
        self._opened = self._called = 0.0
        self._lead = LATENCY_S
        self._counts = {"underflows": 0, "callback_errors": 0, "lost": 0, "reopened": 0}
        self._ending = threading.Event()
        self._watch: threading.Thread | None = None
        self._shutting: threading.Thread | None = None

    # ---- what the shell asks ----

    def start(self, mixer: Mixer) -> None:
        """Open the stream. If that fails now, the watching thread goes on trying; `reason` says so."""
        same_rate(self, mixer)
        self._mixer = mixer
        _ask_for_priority()  # this thread and those it starts: whoever holds the interpreter must not be kept waiting
        self._fit.add(time.monotonic() + LATENCY_S, 0.0, 0.02)
        self._open(first=True)
        self._watch = threading.Thread(target=self._run, name="sound-watch", daemon=True)
        self._watch.start()

    def frame_now(self) -> int:
        return self.frame_at(time.monotonic())

    def frame_at(self, monotonic_s: float) -> int:
        return round(self._fit.at(monotonic_s))

    def soonest(self) -> int:
        ahead = self.frame_now() + round(2 * self._lead * self.rate)
        assert self._mixer is not None
        away = self._stream is None or self._next is None
        return max(self._mixer.frontier + 2 * self.block_frames, ahead if away else 0)

    def trouble(self) -> dict[str, int]:
        return self._counts | mixer_trouble(self._mixer)

    def latency_s(self) -> float:
        """Time from the callback to the device as the device reports it [s]; what follows (a radio link) it does not
        know."""
        return self._lead

    def close(self) -> None:
        self._ending.set()
        if self._watch is not None:
            self._watch.join(timeout=5)
            self._watch = None
        self._shut(wait=True)

    # ---- the audio thread: copy and count ----

    def _callback(self, out: np.ndarray, frames: int, times: Any, status: Any) -> None:
        now = time.monotonic()
        if self._called == self._opened:
            _ask_for_priority()
        lead = times.outputBufferDacTime - times.currentTime
        self._called = now
        if status.output_underflow:
            self._counts["underflows"] += 1
        try:
            assert self._mixer is not None
            if now - self._opened > SETTLE_S:
                said = 0 < lead < 2  # some devices say nothing of their lead
                if said:
                    self._lead = lead
                if self._next is None:
                    self._next = max(self._mixer.frontier, round(self._fit.at(now + self._lead)))
                if said:
                    self._read_clock(now + lead, self._next)
            if self._next is None:
                out.fill(0)
            else:
                out[:, 0] = self._mixer.take(self._next, frames)
                self._next += frames
            self.block_frames = max(frames, self.block_frames)
        except Exception as error:
            # an exception would end the stream; silence for a block is the lesser evil, counted and said
            self._counts["callback_errors"] += 1
            self.reason = f"{self.name}: {error!r}"
            out.fill(0)
            if self._next is not None:
                self._next += frames

    def _read_clock(self, heard_at: float, frame: int) -> None:
        off = abs(frame - self._fit.at(heard_at)) / self.rate
        self._off = self._off + 1 if off > STEP_S else 0
        if self._new or self._off >= STEP_READINGS:
            fit = SlowFit(slope=self.rate)  # made whole, then swapped: the shell's thread may be asking
            fit.add(heard_at, frame, 0.001)
            self._fit, self._new, self._off = fit, False, 0
        elif self._off == 0:
            self._fit.add(heard_at, frame, 0.001)

    # ---- the watching thread ----

    def _run(self) -> None:
        tries = 0
        due = 0.0
        while not self._ending.wait(WATCH_S):
            now = time.monotonic()
            if self._stream is not None:
                if self._stream.active and now - self._called < SILENT_S:
                    tries = 0
                    continue
                self._lose("the device stopped taking sound")
                due = now
            assert self._mixer is not None
            self._mixer.skip(self.frame_now())
            if now >= due:
                self._open(first=False)
                due = now + AGAIN_S[min(tries, len(AGAIN_S) - 1)]
                tries += 1

    def _lose(self, why: str) -> None:
        self._counts["lost"] += 1
        self.reason = f"{self.name}: {why}; trying to open it again"
        self._shut(wait=False)

    def _open(self, first: bool) -> None:
        if self._shutting is not None and self._shutting.is_alive():
            return  # PortAudio still waits for the dead device; starting it anew underneath would crash
        sd = _sounddevice()
        stream = None
        try:
            if not first:
                # PortAudio lists devices only once: without a new start it would never see the one that came back
                sd._terminate()
                sd._initialize()
            self._new = first
            self._next = 0 if first else None
            stream = sd.OutputStream(
                samplerate=self.rate,
                device=_index(sd, self._wanted),
                channels=1,
                dtype="float32",
                latency=LATENCY_S,
                callback=self._callback,
            )
            self._opened = self._called = time.monotonic()
            stream.start()
        except (sd.PortAudioError, ValueError, OSError) as error:
            self.reason = f"{self.name}: {_one_line(error)}; trying to open it again"
            if stream is not None:
                self._stream = stream
                self._shut(wait=False)
            return
        self._stream = stream
        self.reason = None
        if not first:
            self._counts["reopened"] += 1

    def _shut(self, wait: bool) -> None:
        """Close the stream in a thread of its own: a dead device may never answer."""
        stream, self._stream = self._stream, None
        if stream is None:
            return

        def shut() -> None:
            with contextlib.suppress(Exception):  # it is gone already; there is nothing left to do about it
                stream.stop() if wait else stream.abort()
                stream.close()

        self._shutting = threading.Thread(target=shut, name="sound-shut", daemon=True)
        self._shutting.start()
        self._shutting.join(timeout=3)
