"""Draws every cue as a spectrogram into cues.png beside this file: python sounds/pictures/cues.py"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from matplotlib.figure import Figure

from cadence_coach.sound import cues

RATE = 48000
COLUMNS = 5
LENGTH_S = 1.6


def main() -> None:
    names = (*cues.BEATS, *cues.CUES)
    rows = -(-len(names) // COLUMNS)
    figure = Figure(figsize=(13, 2.1 * rows), dpi=90, layout="constrained")
    grid = figure.subplots(rows, COLUMNS, sharex=True, sharey=True)
    for axes in grid.flat[len(names) :]:
        axes.set_visible(False)
    for name, axes in zip(names, grid.flat, strict=False):
        sound = np.random.default_rng(1).normal(0, 1e-6, round(LENGTH_S * RATE))  # silence has no logarithm
        pcm = cues.pcm(name, RATE)
        at = round(0.05 * RATE)
        sound[at : at + len(pcm)] += pcm
        axes.specgram(sound, NFFT=1024, noverlap=896, Fs=RATE, vmin=-120, vmax=-35, cmap="magma", rasterized=True)
        axes.set_ylim(0, 6000)
        axes.set_yticks([0, 2000, 4000, 6000], ["0", "2", "4", "6"])
        axes.set_title(name, fontsize=10)
    figure.supxlabel("time [s]", fontsize=10)
    figure.supylabel("frequency [kHz]", fontsize=10)
    figure.suptitle("All sounds of the coach: told apart by rhythm and contour, equally loud (dB(A))", fontsize=12)
    figure.savefig(Path(__file__).with_name("cues.png"))


if __name__ == "__main__":
    main()
