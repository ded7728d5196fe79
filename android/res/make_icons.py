"""Draws the app's pictures: `python res/make_icons.py` (needs matplotlib). One pump of a foil: the push above the water
line, the glide below it, a dot where the click falls. The same drawing as the status bar's
res/drawable/stat_coach.xml."""

from __future__ import annotations

from pathlib import Path

import matplotlib

matplotlib.use("Agg")
import matplotlib.pyplot as plt
import numpy as np

from cadence_coach.palette import DARK

HERE = Path(__file__).resolve().parent
WATER, FOAM, CLICK = DARK["paper"], DARK["ink"], DARK["target"]


def draw(name: str, size: int, scale: float, back: str | None, word: str = "") -> None:
    """size [px]; scale: share of the picture that the drawing takes (an adaptive icon shows the inner 66 %)."""
    figure = plt.figure(figsize=(1, 1), dpi=size)
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set(xlim=(-1 / scale, 1 / scale), ylim=(-1 / scale, 1 / scale))
    axes.axis("off")
    if back:
        figure.patch.set_facecolor(back)
    else:
        figure.patch.set_alpha(0)
    x = np.linspace(-0.95, 0.95, 200)
    wave = 0.52 * np.sin(np.pi * (x + 0.95) / 0.95) * np.where(x < 0, 1.0, 0.8)
    points = 72 / size  # of one pixel
    axes.plot(
        [-0.95, 0.95], [0, 0], color=FOAM, alpha=0.35, lw=size * 0.012 * points * scale / 0.62, solid_capstyle="round"
    )
    axes.plot(x, wave, color=FOAM, lw=size * 0.06 * points * scale / 0.62, solid_capstyle="round")
    axes.plot([-0.95], [0], "o", color=CLICK, ms=size * 0.13 * points * scale / 0.62)
    if word:
        axes.text(0, -1.35, word, color=FOAM, ha="center", fontsize=size * 0.06 * points, family="DejaVu Sans")
    figure.savefig(HERE / name, dpi=size, transparent=back is None)
    plt.close(figure)


def flat(name: str, size: int) -> None:
    figure = plt.figure(figsize=(1, 1), dpi=size, facecolor=WATER)
    figure.savefig(HERE / name, dpi=size)
    plt.close(figure)


if __name__ == "__main__":
    draw("icon.png", 512, 0.72, WATER)
    draw("icon_front.png", 432, 0.46, None)
    flat("icon_back.png", 432)
    draw("start.png", 512, 0.5, WATER, "cadence coach")
