"""Speaks the texts of each language into the files beside them. Needs Debian's espeak-ng and sox.

    python sounds/make.py            what is missing or no longer wanted
    python sounds/make.py --all      everything anew (after a change of voice)

Origin of the files: the texts are this project's own, the voice is espeak-ng's formant synthesis (no MBROLA voices,
whose licences forbid some uses). No recording of a person is in it.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

import numpy as np

from cadence_coach.sound.loudness import level_db
from cadence_coach.sound.mixer import limited
from cadence_coach.sound.pcm import WavWriter, read_wav, with_edges
from cadence_coach.sound.speech import LANGUAGES, texts

RATE = 16000
HEADROOM = 0.92  # resampled at load, a wave may pass between the frames that were written
SPEECH_DB = -16.0  # as loud as a cue (cues.CUE_DB) by the A-weighting
HERE = Path(__file__).parent


def speak(text: str, voice: str, words_per_minute: int, out: Path) -> None:
    with tempfile.TemporaryDirectory() as folder:
        raw, cut = Path(folder) / "raw.wav", Path(folder) / "cut.wav"
        subprocess.run(["espeak-ng", "-v", voice, "-s", str(words_per_minute), "-w", raw, "--", text], check=True)
        trim = ["silence", "1", "0.005", "0.8%"]
        # vol: resampling may overshoot; highpass: neither phone speakers nor wind leave anything under 150 Hz
        # compand: plosives stand far over the vowels; evened out, a quiet word is as clear in wind as a sharp one
        even = ["compand", "0.002,0.06", "6:-60,-60,-36,-20,-12,-9,0,-7"]
        chain = ["vol", "0.7", "rate", "-v", str(RATE), "highpass", "150", *even, *trim, "reverse", *trim, "reverse"]
        subprocess.run(["sox", "-D", raw, "-c", "1", "-b", "16", cut, *chain], check=True)
        sound, rate = read_wav(cut)
    gain, loud = 0.0, sound
    for _ in range(6):  # the limiter takes a little of the level away each time
        gain += SPEECH_DB - level_db(loud, rate)
        loud = limited(with_edges(sound * np.float32(10 ** (gain / 20)), rate)) * np.float32(HEADROOM)
    file = WavWriter(out, rate)
    file.write(loud)
    file.close()


def main(everything: bool) -> None:
    for lang in LANGUAGES:
        with open(HERE / lang / "texts.toml", "rb") as file:
            voice = tomllib.load(file)["voice"]
        wanted = texts(lang)
        for file in (HERE / lang).glob("*.wav"):
            if file.stem not in wanted:
                file.unlink()
        todo = [p for p in wanted if everything or not (HERE / lang / f"{p}.wav").exists()]
        for done, part in enumerate(todo, start=1):
            speak(wanted[part], voice["espeak"], voice["words_per_minute"], HERE / lang / f"{part}.wav")
            if sys.stderr.isatty():
                print(f"\r{lang} {done}/{len(todo)} {part:40}", end="", flush=True, file=sys.stderr)
        print(f"{lang}: {len(wanted)} parts, {len(todo)} spoken")


if __name__ == "__main__":
    main("--all" in sys.argv[1:])
