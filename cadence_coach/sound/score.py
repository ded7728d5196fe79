"""From events of the core to sounds on the track: the same rules live and in a file.

Live, the shell hands over how a time becomes a frame and which frame is the soonest; in a file both are plain
arithmetic. What is said and when was decided in the core; here is only that one message ends before the next begins,
that a cue breaks into a spoken summary, and that a new start silences it.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from cadence_coach.core import events as ev
from cadence_coach.core.cuebook import GUARD, MACHINE
from cadence_coach.errors import Refused
from cadence_coach.sound import cues, speech
from cadence_coach.sound.mixer import Mixer

WORDS = ("all", "needed", "none")
"""Which cues are followed by their word: all; those heard too seldom to be learnt by sound alone; none."""
NEEDED = frozenset((*GUARD, *MACHINE))
BEFORE_WORD_S = 0.12
BETWEEN_S = 0.25
BEAT, MESSAGE, SUMMARY = "beat", "message", "summary"


def message(kind: str, lang: str, rate: int, words: str = "needed") -> np.ndarray:
    """A cue as it is heard: its sound, then its word where `words` wants one: float32 (frames,)."""
    sound = cues.pcm(kind, rate)
    if kind == "count_in" or words == "none" or (words == "needed" and kind not in NEEDED):
        return sound
    between = np.zeros(round(BEFORE_WORD_S * rate), dtype=np.float32)
    return np.concatenate((sound, between, speech.pcm((f"say_{kind}",), lang, rate)))


class Score:
    """Places what events ask for. `frame_of` turns an event's time [s] into a frame, `soonest` says what can still be
    heard."""

    def __init__(
        self,
        mixer: Mixer,
        frame_of: Callable[[float], int],
        soonest: Callable[[], int] = lambda: 0,
        lang: str = "en",
        words: str = "needed",
        click_every_onset: bool = False,
    ) -> None:
        if words not in WORDS:
            raise Refused(f"words {words!r}: choose one of {', '.join(WORDS)}")
        speech.texts(lang)  # an unknown language is said now, not on the water
        self.mixer = mixer
        self.lang = lang
        self.words = words
        self._frame_of = frame_of
        self._soonest = soonest
        self._every_onset = click_every_onset
        self._free = 0
        self._summary_ends = 0

    def receive(self, event: ev.Event) -> None:
        match event:
            case ev.Click():
                if event.level > 0:
                    gain_db = 20 * math.log10(event.level)
                    self.mixer.place(event.sound, self._frame_of(event.time), gain_db, tag=BEAT)
            case ev.Cue():
                self._say(message(event.kind, self.lang, self.mixer.rate, self.words), event.known, MESSAGE)
            case ev.Summary():
                if event.spoken:
                    self._say(speech.pcm(event.spoken, self.lang, self.mixer.rate), event.known, SUMMARY)
            case ev.AttemptStarted() | ev.FlightStarted():
                self._silence_summary(event.known)
            case ev.Onset() if self._every_onset:
                self.mixer.place("tick", max(0, self._frame_of(event.time)), tag=BEAT)
            case _:
                pass

    def _say(self, pcm: np.ndarray, known: float, tag: str) -> None:
        if tag == MESSAGE:
            self._silence_summary(known)
        frame = max(self._frame_of(known), self._soonest(), self._free)
        if self.mixer.place(pcm, frame, tag=tag) is None:
            return
        self._free = frame + len(pcm) + round(BETWEEN_S * self.mixer.rate)
        if tag == SUMMARY:
            self._summary_ends = frame + len(pcm)

    def _silence_summary(self, known: float) -> None:
        frame = max(self._frame_of(known), self._soonest())
        if frame < self._summary_ends:
            self.mixer.hush(SUMMARY, frame)
            self._free = frame + round(BETWEEN_S * self.mixer.rate)
            self._summary_ends = 0
