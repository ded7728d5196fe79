"""Sounds placed by frame number, and any stretch of frames rendered from them.

`render(first, frames)` depends on what was placed and on nothing else: not on earlier calls and not on the block
size, down to the last bit. For that each frame adds up its sounds in one order (by start, then by when they were
placed), and the limiter looks at one frame at a time. A limiter with a memory (attack, release) would sound no better
at these levels and would make the result depend on what was rendered before.

Threads: the shell's thread places, the sink's thread takes. What lies before the frontier (what a sink has taken) can
no longer be changed: a sound placed there is dropped and counted, a sound that is over is forgotten, so memory stays
bounded.
"""

from __future__ import annotations

import threading
from bisect import insort
from dataclasses import dataclass, field, replace

import numpy as np

from cadence_coach.errors import Refused
from cadence_coach.sound import cues

DEFAULT_VOLUME_DB = -12.0
LOWEST_VOLUME_DB, HIGHEST_VOLUME_DB = -40.0, 0.0
KNEE, CEILING = 0.6, 0.98
"""The limiter leaves everything under the knee as it is and bends what is over it towards the ceiling, never beyond."""
HUSH_S = 0.015
MOST_PLACED = 4096
"""More sounds than this waiting at once is a fault of the caller; the ones that came last are dropped and counted."""


@dataclass(frozen=True, order=True, slots=True)
class Placed:
    """One sound on the track. Ordered by (start, number), so that sums have one order."""

    start: int
    number: int
    pcm: np.ndarray = field(compare=False, repr=False)
    tag: str = field(compare=False, default="")

    @property
    def end(self) -> int:
        return self.start + len(self.pcm)


def limited(sound: np.ndarray) -> np.ndarray:
    """Each frame by itself: x under the knee, then knee + rest u/(1 + u), smooth in value and slope. float32 in and
    out.

    Only +, -, *, / are used: their results are fixed by IEEE 754 and cannot depend on where in a block a frame lies.
    """
    size = np.abs(sound)
    room = np.float32(CEILING - KNEE)
    over = np.maximum(size - np.float32(KNEE), np.float32(0)) / room
    bent = np.minimum(size, np.float32(KNEE)) + room * (over / (np.float32(1) + over))
    return np.asarray(np.copysign(bent, sound))


class Mixer:
    """A track of sounds. `volume_db` (-40..0, default -12) is set by a person only and holds for what is placed from
    then on."""

    def __init__(self, rate: int = 48000, volume_db: float = DEFAULT_VOLUME_DB) -> None:
        self.rate = rate
        self.late = 0
        self.too_many = 0
        self._placed: list[Placed] = []
        self._number = 0
        self._frontier = 0
        self._lock = threading.Lock()
        self.set_volume(volume_db)

    def set_volume(self, volume_db: float) -> None:
        if not LOWEST_VOLUME_DB <= volume_db <= HIGHEST_VOLUME_DB:
            raise Refused(f"volume {volume_db:g} dB: choose {LOWEST_VOLUME_DB:g} to {HIGHEST_VOLUME_DB:g} dB")
        self.volume_db = float(volume_db)

    @property
    def frontier(self) -> int:
        """The first frame that no sink has taken yet."""
        return self._frontier

    def place(self, sound: np.ndarray | str, frame: int, gain_db: float = 0.0, tag: str = "") -> int | None:
        """Let a sound (PCM at this rate, or the name of a cue) begin on exactly this frame.

        Returns its number, or None when that frame has already gone to the device (counted in `late`).
        """
        pcm = cues.pcm(sound, self.rate) if isinstance(sound, str) else sound
        gain = np.float32(10 ** ((gain_db + self.volume_db) / 20))
        scaled = np.asarray(pcm, dtype=np.float32) * gain
        with self._lock:
            if frame < self._frontier:
                self.late += 1
                return None
            if len(self._placed) >= MOST_PLACED:
                self.too_many += 1
                return None
            self._number += 1
            insort(self._placed, Placed(int(frame), self._number, scaled, tag))
            return self._number

    def hush(self, tag: str, frame: int | None = None) -> int:
        """Fade out what bears this tag from `frame` on (soonest: the frontier), over 15 ms; returns how many it
        touched."""
        fade = round(HUSH_S * self.rate)
        ramp = np.linspace(1, 0, fade, dtype=np.float32)
        touched, kept = 0, []
        with self._lock:
            at = max(self._frontier, self._frontier if frame is None else int(frame))
            for one in self._placed:
                if one.tag != tag or one.end <= at:
                    kept.append(one)
                    continue
                touched += 1
                if one.start < at:
                    short = one.pcm[: at - one.start + fade].copy()
                    tail = len(short) - (at - one.start)
                    short[at - one.start :] *= ramp[:tail]
                    kept.append(replace(one, pcm=short))
            self._placed = kept
        return touched

    def render(self, first_frame: int, frames: int) -> np.ndarray:
        """What is heard on frames [first_frame, first_frame + frames): float32 (frames,), within +-0.98. Changes
        nothing."""
        with self._lock:
            pieces = self._between(first_frame, frames)
        return _sum(pieces, first_frame, frames)

    def take(self, first_frame: int, frames: int) -> np.ndarray:
        """As `render`, for the sink that plays it: from now on these frames are gone and what ended before them is
        forgotten."""
        with self._lock:
            pieces = self._between(first_frame, frames)
            self._gone(first_frame + frames)
        return _sum(pieces, first_frame, frames)

    def skip(self, to_frame: int) -> None:
        """Nobody plays the frames before this one (silence, or a device that is gone)."""
        with self._lock:
            self._gone(to_frame)

    def _between(self, first: int, frames: int) -> list[Placed]:
        return [one for one in self._placed if one.start < first + frames and one.end > first]

    def _gone(self, frontier: int) -> None:
        self._frontier = max(self._frontier, frontier)
        if self._placed and self._placed[0].end <= self._frontier:
            self._placed = [one for one in self._placed if one.end > self._frontier]


def _sum(pieces: list[Placed], first: int, frames: int) -> np.ndarray:
    out = np.zeros(frames, dtype=np.float32)
    for one in pieces:
        a, b = max(one.start, first), min(one.end, first + frames)
        out[a - first : b - first] += one.pcm[a - one.start : b - one.start]
    return limited(out) if pieces else out
