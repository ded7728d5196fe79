"""Where the sound goes, opened by name: "device", "device:NAME", "wav:FILE", "silent", "phone".

All sinks count the same frames: frame 0 is when the sink starts, and `frame_at(t)` says which frame is heard at the
monotonic time t. So a coach without a device runs exactly as one with it, and a device that comes back goes on at the
right frame.
"""

from __future__ import annotations

import contextlib
import importlib
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Protocol

from cadence_coach.errors import CouldNot, Refused
from cadence_coach.sound.mixer import Mixer
from cadence_coach.sound.pcm import WavWriter

STEP_S = 0.05
"""How often the file is written to."""


class Sink(Protocol):
    """One output. `reason` is None, or why this sink runs instead of the one that was asked for."""

    @property
    def name(self) -> str: ...
    @property
    def rate(self) -> int: ...
    @property
    def reason(self) -> str | None: ...

    def start(self, mixer: Mixer) -> None: ...
    def frame_now(self) -> int: ...
    def frame_at(self, monotonic_s: float) -> int: ...
    def soonest(self) -> int:
        """The first frame on which a sound may still begin."""
        ...

    def trouble(self) -> dict[str, int]: ...
    def close(self) -> None: ...


AHEAD_S = 0.1
"""A sound may begin this long after now: two steps of the file's thread, for each may take up to STEP_S more."""


class SilentSink:
    """Counts frames by the monotonic clock and plays nothing. It has no thread: a wake-up twenty times a second costs
    more than all the sound. What is over is forgotten whenever somebody asks for the soonest frame, or for trouble."""

    def __init__(
        self, rate: int = 48000, reason: str | None = None, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self.name = "silent"
        self.rate = rate
        self.reason = reason
        self._clock = clock
        self._began = 0.0
        self._mixer: Mixer | None = None

    def start(self, mixer: Mixer) -> None:
        same_rate(self, mixer)
        self._mixer = mixer
        self._began = self._clock()

    def frame_now(self) -> int:
        return self.frame_at(self._clock())

    def frame_at(self, monotonic_s: float) -> int:
        return round((monotonic_s - self._began) * self.rate)

    def soonest(self) -> int:
        return self._pass() + round(AHEAD_S * self.rate)

    def trouble(self) -> dict[str, int]:
        self._pass()
        return mixer_trouble(self._mixer)

    def close(self) -> None:
        self._pass()

    def _pass(self) -> int:
        """Nobody plays what lies before now."""
        now = self.frame_now()
        if self._mixer is not None:
            self._mixer.skip(now)
        return now


class WavSink(SilentSink):
    """Writes what would have been heard, in real time, frame for frame."""

    def __init__(self, path: str, rate: int = 48000, clock: Callable[[], float] = time.monotonic) -> None:
        super().__init__(rate, None, clock)
        self.name = f"wav:{path}"
        self._writer: WavWriter | None = WavWriter(path, rate)
        self._ending = threading.Event()
        self._thread: threading.Thread | None = None

    def start(self, mixer: Mixer) -> None:
        super().start(mixer)
        self._thread = threading.Thread(target=self._run, name=f"sound-{self.name}", daemon=True)
        self._thread.start()

    def close(self) -> None:
        self._ending.set()
        if self._thread is not None:
            self._thread.join()
            self._thread = None
        if self._writer is not None:
            self._writer.close()
            self._writer = None

    def _pass(self) -> int:
        return self.frame_now()  # the thread takes what is over, to write it

    def _run(self) -> None:
        assert self._mixer is not None
        done = 0
        while True:
            last = self._ending.wait(STEP_S)
            now = self.frame_now()
            if now > done:
                self._write(self._mixer, done, now)
                done = now
            if last:
                return

    def _write(self, mixer: Mixer, first: int, until: int) -> None:
        if self._writer is None:
            mixer.skip(until)
            return
        try:
            while first < until:  # in seconds, so that a machine that slept needs no memory for what it missed
                frames = min(self.rate, until - first)
                self._writer.write(mixer.take(first, frames))
                first += frames
        except OSError as error:
            self.reason = f"{self.name}: writing stopped ({error.strerror}); the coach goes on in silence"
            with contextlib.suppress(OSError):  # the same complaint again
                self._writer.close()
            self._writer = None
            mixer.skip(until)


def same_rate(sink: Sink, mixer: Mixer) -> None:
    if mixer.rate != sink.rate:
        raise ValueError(f"mixer runs at {mixer.rate} Hz, sink {sink.name} at {sink.rate} Hz: make it Mixer(sink.rate)")


def mixer_trouble(mixer: Mixer | None) -> dict[str, int]:
    return {"late": mixer.late if mixer else 0, "too_many": mixer.too_many if mixer else 0}


def open_sink(spec: str = "device", rate: int = 48000, clock: Callable[[], float] = time.monotonic) -> Sink:
    """The sink that a name asks for. A device that cannot be opened gives a silent one with `reason` set: say it, go
    on. clock: of what is no device."""
    kind, _, rest = spec.partition(":")
    if kind == "silent" and not rest:
        return SilentSink(rate, clock=clock)
    if kind == "wav" and rest:
        if Path(rest).suffix.lower() not in ("", ".wav"):
            raise Refused(f"{spec}: what is written is a WAV; give a name that ends in .wav")
        return WavSink(rest, rate, clock)
    if kind in ("device", "phone"):
        module = "cadence_coach.sound.device" if kind == "device" else "cadence_coach.sound.phone"
        try:
            sink: Sink = importlib.import_module(module).open_device(rest or None, rate)
            return sink
        except CouldNot as error:
            return SilentSink(rate, reason=str(error))
        except ImportError as error:
            return SilentSink(rate, reason=f"{spec}: not on this machine ({error})")
    raise Refused(f"sound output {spec!r}: choose device, device:NAME, wav:FILE or silent")
