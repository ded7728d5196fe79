"""The catalogue of sounds: what each kind of cue sounds like.

Cues are told apart by rhythm and contour, not by pitch or loudness alone (Brewster, Wright & Edwards; Blattner et al.
1989, Hum-Comput Interact 4:11). Fundamentals lie in 1-2.5 kHz with three harmonics, above the wind, which is mostly
25-150 Hz at the ear. Where a shape can show its meaning it does: quicker hurries upwards, bigger swings wide, lighter
lets go upwards, later waits before its second tone. All cues of a family are equally loud by the A-weighting; none is
louder the second time.

A note is (start [ms], length [ms], pitch [semitones over 1 kHz]) or, for a glide, a row of pitches passed at even
times.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from cadence_coach.sound.loudness import level_db
from cadence_coach.sound.pcm import with_edges

BASE_HZ = 1000.0
HIGHEST_SEMITONE = 16  # 2.52 kHz
HARMONICS = (1.0, 0.32, 0.16, 0.07)

Note = tuple[int, int, tuple[float, ...]]


def _notes(*notes: tuple[int, int, float | tuple[float, ...]]) -> tuple[Note, ...]:
    return tuple((a, n, p if isinstance(p, tuple) else (float(p),)) for a, n, p in notes)


NOTES: dict[str, tuple[Note, ...]] = {
    # what the rider should change
    "quicker": _notes((0, 90, 0), (260, 90, 4), (450, 80, 8), (570, 80, 12)),
    "slower_bigger": _notes((0, 90, 14), (130, 110, 10), (340, 420, (4, 0, 4))),
    "bigger": _notes((0, 620, (2, 9, 15, 9, 2))),
    "lighter": _notes((0, 50, 10), (100, 50, 10), (330, 200, (10, 16))),
    "even_out": _notes((0, 90, 6), (180, 90, 6), (360, 90, 6), (540, 90, 6)),
    "shove_later": _notes((0, 70, 3), (450, 220, 10)),
    "shove_sooner": _notes((0, 220, 10), (250, 70, 3)),
    "speed_first": _notes((0, 240, (0, 12)), (320, 240, (0, 12))),
    # safety, most of them followed by words
    "turn_back": _notes(*((i * 200, 180, 14 if i % 2 == 0 else 5) for i in range(6))),
    "time_limit": _notes((0, 320, 9), (480, 320, 9), (960, 520, 2)),
    "legs_gone": _notes((0, 90, 12), (140, 160, 8), (360, 240, 4), (680, 420, 0)),
    "all_right": _notes((0, 160, (3, 10)), (560, 160, (3, 10)), (1120, 160, (3, 10))),
    # the course of an outing
    "milestone": _notes((0, 60, 4), (100, 60, 4), (200, 60, 4), (300, 380, 16)),
    "rest_over": _notes((0, 70, 2), (110, 70, 2), (560, 70, 9), (670, 70, 9)),
    "armed": _notes((0, 60, 0), (90, 60, 12), (180, 60, 0)),
    "count_in": _notes((0, 70, 8)),
    "started": _notes((0, 140, 3), (320, 420, 10)),
    "paused": _notes((0, 200, 10), (400, 200, 5)),
    "ended": _notes((0, 180, 12), (220, 180, 7), (440, 560, 0)),
    # the machine
    "silent_sensor": _notes((0, 60, 2), (100, 60, 14), (200, 60, 2), (300, 60, 14), (800, 60, 2), (900, 60, 14)),
    "device_back": _notes((0, 260, 0), (420, 90, 5), (540, 90, 9), (660, 90, 0)),
    "battery_low": _notes((0, 300, (14, 2)), (600, 300, (14, 2))),
    "battery_stop": _notes((0, 220, (14, 2)), (280, 220, (14, 2)), (560, 700, (14, 0))),
    "disk_low": _notes((0, 50, 0), (80, 50, 7), (160, 50, 0), (240, 50, 7), (320, 50, 0), (700, 200, 0)),
}

CUES = tuple(NOTES)
CORRECTIONS = CUES[: CUES.index("turn_back")]
BEATS = ("click", "tick")
"""The click is the onset of the push; the softer, lower tick its end (on land)."""

CUE_DB = -16.0
"""A-weighted level of a cue (highest 125 ms), dB re full scale, before the volume. Far from clipping at full volume."""
RELATIVE_DB = {kind: 0.0 for kind in CUES} | {"count_in": -4.0, "click": -4.0, "tick": -10.0}
"""Level of each sound relative to a cue [dB(A)]; the click is heard a hundred times a minute, so it is the softer
one."""


@lru_cache(maxsize=128)
def pcm(kind: str, rate: int = 48000) -> np.ndarray:
    """The sound of a cue, of "click" or of "tick": float32 (frames,), starting and ending at 0. Do not write into
    it."""
    if kind in BEATS:
        raw = _click(rate, 1.0) if kind == "click" else _click(rate, 0.5)
    elif kind in NOTES:
        raw = _melody(NOTES[kind], rate)
    else:
        raise ValueError(f"no sound called {kind!r}; the catalogue has {', '.join((*BEATS, *CUES))}")
    gain = 10 ** ((CUE_DB + RELATIVE_DB[kind] - level_db(raw, rate)) / 20)
    out = (raw * gain).astype(np.float32) + np.float32(0)  # no minus zero: silence is one value
    out.flags.writeable = False
    return out


def _melody(notes: tuple[Note, ...], rate: int) -> np.ndarray:
    out = np.zeros(max(round((a + n) * rate / 1000) for a, n, _ in notes) + 1)
    for start_ms, length_ms, pitches in notes:
        frames = round(length_ms * rate / 1000)
        along = np.arange(frames) / max(frames - 1, 1)
        semitone = np.interp(along, np.linspace(0, 1, len(pitches)), pitches) if len(pitches) > 1 else pitches[0]
        hz = BASE_HZ * 2 ** (np.broadcast_to(semitone, (frames,)) / 12)
        phase = 2 * np.pi * np.cumsum(hz) / rate
        tone = np.sum([a * np.sin(k * phase) for k, a in enumerate(HARMONICS, start=1)], axis=0)
        fade = np.exp(-1.2 * along) if len(pitches) == 1 else 1.0  # a struck tone dies away, a glide stays
        at = round(start_ms * rate / 1000)
        out[at : at + frames] += with_edges(tone * fade, rate, 0.008)
    return out


def _click(rate: int, pitch: float) -> np.ndarray:
    """A short knock: the steep start is what the ear locks to, the harmonics carry it through wind."""
    t = np.arange(round(0.030 * rate)) / rate
    hz = 2000.0 * pitch
    partials = [a * np.sin(2 * np.pi * k * hz * t) * np.exp(-t * (120 + 60 * k)) for k, a in enumerate(HARMONICS, 1)]
    knock = np.sum(partials, axis=0)
    out = with_edges(knock, rate, 0.001)
    out[-round(0.01 * rate) :] *= np.linspace(1, 0, round(0.01 * rate), dtype=np.float32)
    return out
