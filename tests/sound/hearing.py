"""What a listener could go by, taken from the sound itself and not from the table it was made from: when it sounds
(rhythm) and how the pitch moves (contour)."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np

from cadence_coach.core import events as ev
from cadence_coach.sound.track import chunks

HOP_S = 0.005
WINDOW_S = 0.02
LOWEST_HZ, HIGHEST_HZ = 900.0, 2800.0


@dataclass(frozen=True)
class Heard:
    """`on` (n,): sounding or not every 5 ms. `pitch` (n,): semitones over 1 kHz where it sounds, NaN elsewhere."""

    on: np.ndarray
    pitch: np.ndarray


def render_events(events: Iterable[ev.Event], seconds: float, rate: int = 48000, **how: Any) -> np.ndarray:
    """All of a track as one array, float32 (round(seconds * rate),)."""
    return np.concatenate(list(chunks(events, seconds, rate, **how)))


def hear(pcm: np.ndarray, rate: int) -> Heard:
    window, hop = round(WINDOW_S * rate), round(HOP_S * rate)
    padded = np.concatenate((np.zeros(window // 2), np.asarray(pcm, dtype=float), np.zeros(window)))
    starts = np.arange(0, len(pcm), hop)
    frames = padded[starts[:, None] + np.arange(window)] * np.hanning(window)
    size = 8192
    spectrum = np.abs(np.fft.rfft(frames, size))
    hz = np.fft.rfftfreq(size, 1 / rate)
    inside = (hz >= LOWEST_HZ) & (hz <= HIGHEST_HZ)
    energy = np.sum(np.square(spectrum[:, inside]), axis=1)
    on = energy > 0.08 * np.max(energy)
    best = hz[inside][np.argmax(spectrum[:, inside], axis=1)]
    return Heard(on, np.where(on, 12 * np.log2(best / 1000), np.nan))


def rhythm_distance(a: Heard, b: Heard) -> float:
    """Share of the longer one's length in which one sounds and the other does not: 0 the same, 1 nothing in common."""
    n = max(len(a.on), len(b.on))
    one, two = np.zeros(n, bool), np.zeros(n, bool)
    one[: len(a.on)], two[: len(b.on)] = a.on, b.on
    return float(np.mean(one != two))


def contour_distance(a: Heard, b: Heard) -> float:
    """Rms difference [semitones] of how the pitch moves about its own mean, over the sounding part stretched to one
    length."""
    return float(np.sqrt(np.mean(np.square(_contour(a) - _contour(b)))))


def _contour(sound: Heard, points: int = 64) -> np.ndarray:
    pitch = sound.pitch[sound.on]
    stretched = np.interp(np.linspace(0, 1, points), np.linspace(0, 1, len(pitch)), pitch)
    return stretched - np.mean(stretched)
