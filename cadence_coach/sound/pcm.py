"""Sounds as arrays: float32, mono, full scale 1. Reading, writing, resampling, edges. Numpy and the standard library
alone."""

from __future__ import annotations

import math
import wave
from pathlib import Path

import numpy as np

from cadence_coach.errors import CouldNot

EDGE_S = 0.004
"""Raised-cosine edge: long enough that no edge is heard as a click of its own."""


def with_edges(pcm: np.ndarray, rate: int, seconds: float = EDGE_S) -> np.ndarray:
    """The same sound with its first and last `seconds` faded; the first and last frame are exactly 0."""
    out = np.array(pcm, dtype=np.float32)
    n = min(round(seconds * rate), len(out) // 2)
    if n > 0:
        ramp = (0.5 - 0.5 * np.cos(np.pi * np.arange(n) / n)).astype(np.float32)
        out[:n] *= ramp
        out[-n:] *= ramp[::-1]
    return out


def resampled(pcm: np.ndarray, rate: int, to: int) -> np.ndarray:
    """The same sound at another rate, band-limited: by the spectrum of the whole sound, with silence around it.

    Why not a polyphase filter: this is done once at load, sounds last a second or two, and the phone has no scipy.
    """
    if rate == to or len(pcm) == 0:
        return np.asarray(pcm, dtype=np.float32)
    step = rate // math.gcd(rate, to)
    pad = step * math.ceil(0.02 * rate / step)
    length = step * math.ceil((len(pcm) + 2 * pad) / step)
    spectrum = np.fft.rfft(np.concatenate((np.zeros(pad), pcm, np.zeros(length - len(pcm) - pad))))
    out_length = length * to // rate
    kept = min(len(spectrum), out_length // 2 + 1)
    out = np.zeros(out_length // 2 + 1, dtype=complex)
    out[:kept] = spectrum[:kept]
    sound = np.fft.irfft(out, out_length) * (to / rate)
    start = pad * to // rate
    return sound[start : start + math.ceil(len(pcm) * to / rate)].astype(np.float32)


def read_wav(path: Path) -> tuple[np.ndarray, int]:
    """A mono 16-bit WAV as (float32 frames, rate)."""
    try:
        with wave.open(str(path), "rb") as file:
            if file.getsampwidth() != 2 or file.getnchannels() != 1:
                raise CouldNot(f"{path}: wants a mono 16-bit WAV; convert it with `sox IN -c 1 -b 16 OUT.wav`")
            data = np.frombuffer(file.readframes(file.getnframes()), dtype="<i2")
            return data.astype(np.float32) / np.float32(32768), file.getframerate()
    except (OSError, EOFError, wave.Error) as error:
        raise CouldNot(
            f"{path}: no sound can be read here ({error}); make the spoken parts again or reinstall"
        ) from error


def to_int16(pcm: np.ndarray) -> np.ndarray:
    """Full scale 1 -> 32767, rounded; the caller keeps within full scale (the mixer's limiter does)."""
    return np.rint(pcm * 32767.0).astype("<i2")


class WavWriter:
    """A mono 16-bit WAV that grows; the header is right after every block, so that a killed program leaves a file
    that plays."""

    def __init__(self, path: str | Path, rate: int) -> None:
        try:
            self._raw = open(path, "wb")  # noqa: SIM115 - open for as long as the outing
        except OSError as error:
            raise CouldNot(f"{path}: cannot write the sound file ({error.strerror}); choose another place") from error
        self._file = wave.open(self._raw, "wb")  # noqa: SIM115
        self._file.setnchannels(1)
        self._file.setsampwidth(2)
        self._file.setframerate(rate)
        self._file.writeframes(b"")

    def write(self, pcm: np.ndarray) -> None:
        self._file.writeframes(to_int16(pcm).tobytes())
        self._raw.flush()

    def close(self) -> None:
        try:
            self._file.close()
        finally:
            self._raw.close()
