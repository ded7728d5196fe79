"""From events of the core to sounds on the track: the same rules live and in a file.

Live, the shell hands over how a time becomes a frame and which frame is the soonest; in a file both are plain
arithmetic. What is said and when was decided in the core; here is only that one message ends before the next begins,
that a cue breaks into a spoken summary, that a new start silences it, and that being muted leaves the warnings.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable
from typing import Any

import numpy as np

from cadence_coach.core import events as ev
from cadence_coach.core.cuebook import GUARD, MACHINE
from cadence_coach.errors import CouldNot, Refused
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
    heard.

    `muted`: warnings alone are heard. `late` counts clicks that came too late to be heard, `unsaid` is why words were
    left out, `until` the frame on which the last sound ends.
    """

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
        self.muted = False
        self.late = 0
        self.unsaid: str | None = None
        self._ends: dict[str, int] = {}  # of the last sound of each tag
        self._ahead: deque[ev.Click] = deque()  # not sounded yet, muted or not
        self._frame_of = frame_of
        self._soonest = soonest
        self._every_onset = click_every_onset
        self._free = 0
        self._summary_ends = 0

    def receive(self, event: ev.Event) -> None:
        match event:
            case ev.Click():
                self._click(event)
            case ev.Cue() if not self.muted or event.kind in NEEDED:
                self._say(self._message(event.kind), event.known, MESSAGE)
            case ev.Summary() if event.spoken and not self.muted:
                words = self._words(event.spoken)
                if words is not None:
                    self._say(words, event.known, SUMMARY)
            case ev.AttemptStarted() | ev.FlightStarted():
                self._silence_summary(event.known)
            case ev.Onset() if self._every_onset:
                self.place(cues.pcm("tick", self.mixer.rate), max(0, self._frame_of(event.time)), BEAT)
            case _:
                pass

    def place(self, pcm: np.ndarray, frame: int, tag: str, gain_db: float = 0.0) -> bool:
        """A sound on a frame; False where that is over."""
        if self.mixer.place(pcm, frame, gain_db, tag) is None:
            return False
        self._ends[tag] = max(self._ends.get(tag, 0), frame + len(pcm))
        return True

    @property
    def until(self) -> int:
        return max(self._ends.values(), default=0)

    def tell(self, name: str, given: dict[str, Any]) -> None:
        """A command that the engine took. Muted or ended, no click of those that lie ahead is heard: on land they are
        those of a whole set; no longer muted, those that still do are."""
        changed = name == "mute" and given["on"] != self.muted
        if changed:
            self.muted = given["on"]
        if name == "stop":
            self._ahead.clear()
        if name == "stop" or (changed and self.muted):
            self.mixer.hush(BEAT)
            self._ends.pop(BEAT, None)
        elif changed:
            ahead, self._ahead = self._ahead, deque()
            for click in ahead:
                if self._frame_of(click.time) >= self._soonest():
                    self._click(click)

    def _click(self, click: ev.Click) -> None:
        if click.level <= 0:
            return
        frame, soonest = self._frame_of(click.time), self._soonest()
        while self._ahead and self._frame_of(self._ahead[0].time) < soonest:
            self._ahead.popleft()
        self._ahead.append(click)
        if self.muted:
            return
        if frame < soonest:
            self.late += 1  # a click out of place is worse than none; the next beat is right again
        else:
            self.place(cues.pcm(click.sound, self.mixer.rate), frame, BEAT, 20 * math.log10(click.level))

    def _message(self, kind: str) -> np.ndarray:
        try:
            return message(kind, self.lang, self.mixer.rate, self.words)
        except (CouldNot, ValueError, OSError) as e:
            self.unsaid = str(e)
            return cues.pcm(kind, self.mixer.rate)

    def _words(self, parts: tuple[str, ...]) -> np.ndarray | None:
        try:
            return speech.pcm(parts, self.lang, self.mixer.rate)
        except (CouldNot, ValueError, OSError) as e:
            self.unsaid = str(e)  # a missing file must not stop the coach; the screen shows the words
            return None

    def _say(self, pcm: np.ndarray, known: float, tag: str) -> None:
        if tag == MESSAGE:
            self._silence_summary(known)
        frame = max(self._frame_of(known), self._soonest(), self._free)
        if not self.place(pcm, frame, tag):
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
