"""How loud sounds are beside each other, by the ear's own weighting. Says nothing about the level at a rider's ear.

Sources: IEC 61672-1:2013, 5.5.8 and annex E (the A-weighting curve and its four pole frequencies) from memory,
checked in the tests against the tabulated values and against librosa; time weighting "Fast" is 125 ms (same standard,
5.8).
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

F1_HZ, F2_HZ, F3_HZ, F4_HZ = 20.598997, 107.65265, 737.86223, 12194.217
"""Poles of the A-weighting (IEC 61672-1, annex E)."""
FAST_S = 0.125

HEARING_LINES = {
    "en": "Keep it as quiet as still works: ITU-T H.870 counts 80 dB(A) for 40 hours a week as the whole week's dose, "
    "and every 3 dB more halves the time. The phone cannot know the level at your ear, and it never gets louder by "
    "itself.",
    "de": "So leise, wie es noch reicht: ITU-T H.870 zählt 80 dB(A) über 40 Stunden als die Dosis einer ganzen Woche, "
    "und je 3 dB mehr halbieren die Zeit. Das Telefon kennt den Pegel an deinem Ohr nicht, und es wird nie von selbst "
    "lauter.",
}
HEARING_LINE = HEARING_LINES["en"]
"""Shown wherever the volume is set."""


def a_weighting_db(frequency_hz: np.ndarray | float) -> np.ndarray:
    """The A-weighting [dB] at frequencies [Hz] > 0: 0 dB at 1 kHz."""
    f2 = np.square(np.asarray(frequency_hz, dtype=np.float64))
    gain = _a_gain(f2)
    return np.asarray(20 * np.log10(gain / _a_gain(np.asarray(1e6))))


def _a_gain(f2: np.ndarray) -> np.ndarray:
    under = (f2 + F1_HZ**2) * np.sqrt((f2 + F2_HZ**2) * (f2 + F3_HZ**2)) * (f2 + F4_HZ**2)
    return np.asarray(F4_HZ**2 * f2**2 / under)


@lru_cache(maxsize=8)
def _a_curve(length: int, rate: int) -> np.ndarray:
    return _a_gain(np.square(np.fft.rfftfreq(length, 1 / rate))) / float(_a_gain(np.asarray(1e6)))


def a_weighted(pcm: np.ndarray, rate: int) -> np.ndarray:
    """The sound (frames,) as the A-weighting lets it through, without phase shift; same length, float64."""
    length = 1 << max(
        10, math.ceil(math.log2(len(pcm) + rate // 8 + 1))
    )  # room, so that the end does not wrap onto the start
    return np.fft.irfft(np.fft.rfft(pcm, length) * _a_curve(length, rate), length)[: len(pcm)]


def level_db(pcm: np.ndarray, rate: int) -> float:
    """Highest A-weighted level over any 125 ms [dB re a full-scale square wave]; -inf for silence."""
    window = round(FAST_S * rate)
    power = np.concatenate((np.zeros(window), np.square(a_weighted(pcm, rate)), np.zeros(window)))
    total = np.cumsum(power)
    highest = float(np.max(total[window:] - total[:-window])) / window
    return 10 * math.log10(highest) if highest > 0 else -math.inf
