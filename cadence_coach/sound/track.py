"""A whole outing as it was, or would have been, heard: from the events of the core to one sound, second by second."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any

import numpy as np

from cadence_coach.core import events as ev
from cadence_coach.sound.mixer import Mixer
from cadence_coach.sound.pcm import WavWriter
from cadence_coach.sound.score import Score

FILE_VOLUME_DB = -6.0
CHUNK_S = 1.0
LOOK_AHEAD_S = 1.0
"""An onset is known up to this much after it happened (normally 60 ms); clicks and cues never lie before `known`."""


def chunks(
    events: Iterable[ev.Event],
    seconds: float,
    rate: int = 48000,
    lang: str = "en",
    click_every_onset: bool = False,
    words: str = "needed",
) -> Iterator[np.ndarray]:
    """The sound of `seconds` of events, a second at a time: float32, each event's sound on frame round(time * rate).

    Events must come as the core gave them, in the order of `known`. With `click_every_onset` a tick sounds on each
    onset the detector found, so that one can listen to the detector.
    """
    mixer = Mixer(rate, FILE_VOLUME_DB)
    score = Score(mixer, lambda t: round(t * rate), lang=lang, words=words, click_every_onset=click_every_onset)
    coming = iter(events)
    waiting = next(coming, None)
    total, done = round(seconds * rate), 0
    while done < total:
        frames = min(round(CHUNK_S * rate), total - done)
        heard_by = (done + frames) / rate + LOOK_AHEAD_S
        while waiting is not None and waiting.known < heard_by:
            score.receive(waiting)
            waiting = next(coming, None)
        yield mixer.take(done, frames)
        done += frames


def write_wav(
    path: str | Path,
    events: Iterable[ev.Event],
    seconds: float,
    rate: int = 48000,
    progress: Callable[[float], None] | None = None,
    **how: Any,
) -> int:
    """Write the track as a mono 16-bit WAV, calling `progress(seconds done)` now and then; `how` as in `chunks`.
    Returns the frames written."""
    writer = WavWriter(path, rate)
    frames = 0
    try:
        for chunk in chunks(events, seconds, rate, **how):
            writer.write(chunk)
            frames += len(chunk)
            if progress is not None:
                progress(frames / rate)
    finally:
        writer.close()
    return frames
