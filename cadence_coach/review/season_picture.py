"""A season as one picture for a wall or a message: PNG, SVG or PDF by matplotlib, on a desktop only."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from cadence_coach import palette
from cadence_coach.errors import CouldNot
from cadence_coach.review.season import Season

PANELS = (
    ("best_s", 1.0, "longest flight, s"),
    ("pumps", 1.0, "pumps an outing"),
    ("steadiness", 100.0, "steadiness, % from pump to pump"),
    ("in_band", 100.0, "% of the time in band"),
)

SECONDS = (1, 2, 3, 5, 10, 20, 30, 60, 120, 180, 300, 600, 1200, 1800, 3600)
"""Lengths of flights that are written at the scale of endurance."""


def season_picture(found: Season, path: Path) -> None:
    """Four panels over the days and the endurance below them."""
    import matplotlib

    matplotlib.use("Agg")
    with matplotlib.rc_context({"text.parse_math": False}):  # a name may hold a $
        _draw(found, path)


def _draw(found: Season, path: Path) -> None:
    from matplotlib import pyplot
    from matplotlib.ticker import MaxNLocator

    colour = palette.LIGHT
    figure, axes = pyplot.subplots(3, 2, figsize=(10, 9), layout="constrained", facecolor=colour["paper"])
    try:
        for axis, (name, scale, title) in zip(axes.flat, PANELS, strict=False):
            x, y = found.over_days(name, scale)
            if not len(y):
                _nothing(axis, title, "not known: no rider and foil" if name == "in_band" else "not known yet")
                continue
            axis.plot(x, y, "o", color=colour["rider"], markersize=4)
            if name == "best_s" and len(y):
                axis.step(x, np.maximum.accumulate(y), where="post", color=colour["target"], linewidth=1.5)
            axis.set_ylabel(title)
            axis.set_ylim(0.0, 1.1 * float(y.max()) or 1.0)
            axis.set_xlim(min(0.0, float(x.min())) - 1.0, max(7.0, float(x.max())) + 1.0)
            axis.xaxis.set_major_locator(MaxNLocator(integer=True, nbins=8))
            axis.set_xlabel("days since the first outing")
        who = sorted({r.rider for r in found.rows if r.rider})
        outings = f"{len(found.rows)} outing{'s' * (len(found.rows) != 1)}"
        figure.suptitle(" · ".join([*who, outings]), color=colour["ink"], fontsize=13, fontweight="bold")
        _endurance(axes[2, 0], found, colour)
        _rungs(axes[2, 1], found, colour)
        for axis in axes.flat[:5]:
            axis.set_facecolor(colour["card"])
            axis.spines[["top", "right"]].set_visible(False)
            axis.grid(axis="y", color=colour["line"], linewidth=0.6)
        figure.savefig(path, dpi=150)
    except OSError as error:
        raise CouldNot(f"{path}: cannot be written ({error.strerror}); choose another place") from None
    finally:
        pyplot.close(figure)


def _nothing(axis, title: str, why: str) -> None:  # type: ignore[no-untyped-def]
    """An empty panel that says why it is empty, instead of a scale with nothing on it."""
    axis.set_ylabel(title)
    axis.set_xticks([])
    axis.set_yticks([])
    axis.text(0.5, 0.5, why, transform=axis.transAxes, ha="center", va="center", fontsize=10)


def _endurance(axis, found: Season, colour: dict[str, str]) -> None:  # type: ignore[no-untyped-def]
    flights = [f for r in found.rows for f in r.flights if f.power]
    if not flights:
        _nothing(axis, "estimated leg power, W (±30 %)", "not known: no flight with speed, rider and foil")
        return
    axis.set_xscale("log")
    lengths = [f.seconds for f in flights]
    axis.set_xlim(0.8 * min(lengths), 1.5 * max(lengths))
    axis.set_xticks([s for s in SECONDS if 0.8 * min(lengths) <= s <= 1.5 * max(lengths)])
    axis.set_xticks([], minor=True)
    axis.xaxis.set_major_formatter("{x:g}")
    axis.plot(
        [f.seconds for f in flights], [f.power for f in flights], "o", markersize=3, mfc="none", color=colour["rider"]
    )
    axis.plot(
        [f.seconds for f in found.points], [f.power for f in found.points], "o", markersize=6, color=colour["rider"]
    )
    if found.curve and flights:
        t = np.geomspace(20.0, max(f.seconds for f in flights) * 1.5, 60)
        axis.set_title("line: what your best flights say you can hold", fontsize=9, loc="left")
        axis.plot(t, [found.curve.endurance.power(float(s)) for s in t], color=colour["target"])
        axis.set_ylim(0.0, 1.4 * max(f.power or 0.0 for f in flights))
    axis.set_xlabel("length of a flight, s")
    axis.set_ylabel("estimated leg power, W (±30 %)")


def _rungs(axis, found: Season, colour: dict[str, str]) -> None:  # type: ignore[no-untyped-def]
    from cadence_coach.review.rungs import RUNG
    from cadence_coach.review.say import tell

    axis.axis("off")
    for i, r in enumerate(found.rungs):
        reached = r.passed
        text = f"{'reached' if reached else '–':>8}   {tell(RUNG[r.key].name)}"
        axis.text(
            0.0, 1.0 - (i + 1) / (len(found.rungs) + 1), text, color=colour["ink" if reached else "muted"], fontsize=9
        )
