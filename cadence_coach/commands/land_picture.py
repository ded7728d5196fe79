"""The small picture of a set: where each movement fell beside its click, and how they heap up."""

from __future__ import annotations

from pathlib import Path

from cadence_coach.errors import CouldNot
from cadence_coach.land.score import SetScore
from cadence_coach.palette import LIGHT

SCATTER_S = 0.05
"""The shaded strip: what PASS_LOCK amounts to at 1.5 Hz."""


def draw(score: SetScore, number: int, path: Path) -> None:
    """Writes FILE.png of one set."""
    from matplotlib import rc_context
    from matplotlib.figure import Figure

    half = 30000 / score.tempo_per_min
    offsets = [1000 * off for off in score.offsets_s]
    style = {"font.size": 9, "text.color": LIGHT["ink"], "axes.labelcolor": LIGHT["ink"], "text.parse_math": False}
    with rc_context(style):
        figure = Figure(figsize=(6.0, 2.6), dpi=120, layout="constrained", facecolor=LIGHT["paper"])
        each, heap = figure.subplots(1, 2, sharey=True, width_ratios=(4, 1))
        for axes in (each, heap):
            axes.set_facecolor(LIGHT["card"])
            axes.spines[["top", "right"]].set_visible(False)
            axes.axhspan(-1000 * SCATTER_S, 1000 * SCATTER_S, color=LIGHT["band"], lw=0)
            axes.axhline(0, color=LIGHT["target"], lw=1)
        each.plot(range(1, len(offsets) + 1), offsets, "o", ms=3.5, color=LIGHT["rider"])
        each.set(ylim=(half, -half), xlabel="movement", ylabel="ms from the click\n(ahead is up)")
        heap.hist(offsets, bins=25, range=(-half, half), orientation="horizontal", color=LIGHT["rider"])
        heap.set(xlabel="how many")
        heap.xaxis.get_major_locator().set_params(integer=True)
        title = f"Set {number}: {score.tempo_per_min:.0f} a minute"
        if score.lock_r is not None and score.steadiness is not None:
            title += f", lock {score.lock_r:.2f}, steady within {100 * score.steadiness:.1f} %"
        figure.suptitle(title, fontsize=10, color=LIGHT["ink"])
        try:
            figure.savefig(path)
        except OSError as error:
            raise CouldNot(f"{path}: cannot be written ({error.strerror}); choose another --pictures") from None
