"""Spoken parts: words, sentences and numbers as finished files, strung together.

A part id is a word or sentence of `texts.toml`, a cue kind as "say_KIND", or a whole number as "n_34" (0 to 9999).
Numbers over 100 are put together from recorded ones, so any number can be said. What is said when is decided in
`core.word`; tests hold the two lists of ids together.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path

import numpy as np

from cadence_coach.errors import CouldNot, Refused
from cadence_coach.sound.pcm import read_wav, resampled

LANGUAGES = ("en", "de")
BETWEEN_S = 0.03
PAUSE_S = 0.30
"""Silence between parts, and where a part called "pause" stands."""


@lru_cache(maxsize=1)
def folder() -> Path:
    """Where texts and finished files live: inside an installed package, or beside it in a checkout."""
    inside = Path(__file__).parent.parent / "sounds"
    beside = inside.parent.parent / "sounds"
    for place in (inside, beside):
        if (place / "en" / "texts.toml").is_file():
            return place
    raise CouldNot(f"no spoken parts in {inside} or {beside}; reinstall the package")


@lru_cache(maxsize=4)
def texts(lang: str) -> dict[str, str]:
    """Part id -> text, everything that must have a file (numbers as n_0 .. n_100 and n_200 .. n_900)."""
    if lang not in LANGUAGES:
        raise Refused(f"--lang {lang}: choose one of {', '.join(LANGUAGES)}")
    with open(folder() / lang / "texts.toml", "rb") as file:
        raw = tomllib.load(file)
    out = dict(raw["parts"]) | dict(raw["sentences"])
    out |= {f"say_{kind}": text for kind, text in raw["cues"].items()}
    out |= {f"n_{n}": str(n) for n in (*range(101), *range(200, 1000, 100))}
    return out


def files_of(part: str, lang: str) -> list[str]:
    """The recorded parts (names without .wav) that say one part id, in order. ValueError for an id that nobody
    recorded."""
    if part in texts(lang):
        return [part]
    digits = part.removeprefix("n_")
    if part.startswith("n_") and digits.isdecimal() and int(digits) < 10000:
        n = int(digits)
        out = [*files_of(f"n_{n // 1000}", lang), "thousand"] if n >= 1000 else []
        n %= 1000
        hundreds, rest = n - n % 100, n % 100
        return out + [f"n_{m}" for m in (hundreds, rest) if m]
    raise ValueError(f"nothing is recorded for the spoken part {part!r} in {lang}")


def text(part_ids: Iterable[str], lang: str) -> str:
    """The same words to read."""
    known = texts(lang)
    words = []
    for part in part_ids:
        if part == "pause":
            continue
        words.append(known.get(part) or (str(int(part[2:])) if files_of(part, lang) else ""))
    return " ".join(words)


@lru_cache(maxsize=512)
def _part(name: str, lang: str, rate: int) -> np.ndarray:
    sound, own_rate = read_wav(folder() / lang / f"{name}.wav")
    out = resampled(sound, own_rate, rate)
    out.flags.writeable = False
    return out


def pcm(part_ids: Iterable[str], lang: str = "en", rate: int = 48000) -> np.ndarray:
    """The parts spoken one after the other: float32 (frames,)."""
    between = np.zeros(round(BETWEEN_S * rate), dtype=np.float32)
    pieces: list[np.ndarray] = []
    for part in part_ids:
        if part == "pause":
            pieces.append(np.zeros(round(PAUSE_S * rate), dtype=np.float32))
            continue
        for name in files_of(part, lang):
            pieces += [between, _part(name, lang, rate)] if pieces else [_part(name, lang, rate)]
    return np.concatenate(pieces) if pieces else np.zeros(0, dtype=np.float32)
