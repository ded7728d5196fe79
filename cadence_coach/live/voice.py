"""Puts what the coach decided on the track: each click on its exact frame, each cue and word as soon as may be."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable

import numpy as np

from cadence_coach.core import events as ev
from cadence_coach.core.cuebook import GUARD, MACHINE
from cadence_coach.errors import CouldNot
from cadence_coach.sound import cues, speech
from cadence_coach.sound.mixer import Mixer
from cadence_coach.sound.sinks import Sink

PAUSE_S = 0.25
"""Between a sound and the words that say it."""
WORD = "word"
CLICK = "click"

SAID = frozenset((*GUARD, *MACHINE))
"""Cues that are followed by their words: heard too seldom to be learnt by sound alone."""


class Voice:
    """frame_of: from sensor time [s] to the frame that is heard then. `late` counts clicks that came too late to be
    heard; `until` is the frame on which the last sound ends."""

    def __init__(self, mixer: Mixer, sink: Sink, frame_of: Callable[[float], int], lang: str = "en") -> None:
        self.mixer = mixer
        self.sink = sink
        self.lang = lang
        self.muted = False
        self.late = 0
        self.unsaid: str | None = None
        self._frame_of = frame_of
        self._free = 0
        self.until = 0

    def events(self, events: Iterable[ev.Event]) -> None:
        for event in events:
            if isinstance(event, ev.Click):
                self._click(event)
            elif isinstance(event, ev.Cue):
                self.cue(event.kind, event.known)
            elif isinstance(event, ev.Summary):
                self._say(event.spoken)
            elif isinstance(event, ev.AttemptStarted):
                self.mixer.hush(WORD)  # a new start begins: nothing talks into it

    def _click(self, click: ev.Click) -> None:
        if self.muted or click.level <= 0:
            return
        frame = self._frame_of(click.time)
        if frame < self.sink.soonest():
            self.late += 1  # a click out of place is worse than none; the next beat is right again
        else:
            self.place(click.sound, frame, CLICK, 20 * math.log10(click.level))

    def cue(self, kind: str, known: float) -> None:
        """A cue that was decided on at sensor time `known`. What warns is heard also when muted."""
        if self.muted and kind not in SAID:
            return
        frame = max(self.sink.soonest(), self._frame_of(known))
        self.place(kind, frame, kind)
        if kind in SAID:
            self._say((f"say_{kind}",), frame + len(cues.pcm(kind, self.mixer.rate)) + self._frames(PAUSE_S))

    def _say(self, parts: tuple[str, ...], frame: int | None = None) -> None:
        if not parts or self.muted:
            return
        try:
            sound = speech.pcm(parts, self.lang, self.mixer.rate)
        except (CouldNot, ValueError, OSError) as e:
            self.unsaid = str(e)  # a missing file must not stop the coach; the screen shows the words
            return
        at = max(self.sink.soonest(), self._free, frame or 0)
        self.place(sound, at, WORD)
        self._free = at + len(sound) + self._frames(PAUSE_S)

    def place(self, sound: np.ndarray | str, frame: int, tag: str, gain_db: float = 0.0) -> None:
        """A sound (PCM, or the name of a cue) on a frame."""
        pcm = cues.pcm(sound, self.mixer.rate) if isinstance(sound, str) else sound
        if self.mixer.place(pcm, frame, gain_db, tag) is not None:
            self.until = max(self.until, frame + len(pcm))

    def _frames(self, seconds: float) -> int:
        return round(seconds * self.mixer.rate)
