"""The picture of `band`: cadence over speed, drag by part, and how long it can last; for paper and for a phone held
upright."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from cadence_coach.core.targets import replace
from cadence_coach.errors import CouldNot
from cadence_coach.foil.answer import SAFETY, WHOSE
from cadence_coach.foil.band import band_table, least_drag_speed
from cadence_coach.foil.drag import stall_speed, steady_drag
from cadence_coach.foil.endurance import UNSURE, Endurance
from cadence_coach.foil.profile import Profile
from cadence_coach.foil.solve import feasible_speeds, solve
from cadence_coach.palette import DRAG, LIGHT, OTHER

if TYPE_CHECKING:
    from matplotlib.axes import Axes

PART_NAMES = {
    "induced": "lift (induced)",
    "wing": "wing skin",
    "air": "air",
    "mast": "mast",
    "tail": "tail wing",
    "fuselage": "fuselage",
    "spray": "spray",
}
_EDGE = {"stall": "wing stalls", "force": "feet lift off", "stroke": "legs too short"}


def draw(found: dict[str, Any], mine: Profile, other: Profile | None, path: Path) -> None:
    """Writes the picture to a .png or .svg."""
    from matplotlib import rc_context
    from matplotlib.figure import Figure

    style = {
        "font.size": 11,
        "axes.spines.top": False,
        "axes.spines.right": False,
        "axes.edgecolor": LIGHT["muted"],
        "axes.labelcolor": LIGHT["ink"],
        "text.color": LIGHT["ink"],
        "xtick.color": LIGHT["muted"],
        "ytick.color": LIGHT["muted"],
        "axes.facecolor": LIGHT["card"],
        "figure.facecolor": LIGHT["paper"],
        "svg.hashsalt": "band",
        "text.parse_math": False,  # a name may hold a $
    }
    with rc_context(style):
        figure = Figure(figsize=(6.4, 12.6), layout="constrained")
        grid = figure.add_gridspec(3, 2 if other else 1, height_ratios=(1.15, 1, 0.9))
        figure.suptitle(_title(mine, other), fontsize=13, fontweight="bold", x=0.02, ha="left")
        ends = [e for e in (feasible_speeds(p.setup) for p in (mine, other) if p) if e]
        lo = min([e[0] for e in ends], default=3.0) - 0.6
        hi = max([e[1] for e in ends], default=6.0) + 0.5
        cadence = figure.add_subplot(grid[0, :])
        _cadence(cadence, found, mine, lo, hi, bool(other))
        if other:
            _second(cadence, found["against"], other)
        first = figure.add_subplot(grid[1, 0])
        _drag(first, mine, lo, hi, name=mine.foil if other else "", first=True)
        if other:
            second = figure.add_subplot(grid[1, 1], sharey=first)
            _drag(second, other, lo, hi, name=other.foil, first=False)
        _lasting(figure.add_subplot(grid[2, :]), found, mine, other)
        figure.supxlabel(_wrapped(SAFETY, 92), fontsize=8, color=LIGHT["muted"], x=0.02, ha="left")
        try:
            figure.savefig(path, dpi=150, metadata={"Date": None} if path.suffix.lower() == ".svg" else None)
        except OSError as error:
            raise CouldNot(f"{path}: cannot be written ({error.strerror}); choose another place") from error


def _title(mine: Profile, other: Profile | None) -> str:
    return f"{mine.rider} on {mine.foil}" + (f"\nagainst {other.rider} on {other.foil}" if other else "")


def _wrapped(text: str, width: int) -> str:
    from textwrap import fill

    return fill(text, width)


def _note(axes: Axes, text: str, at: tuple[float, float], offset: tuple[float, float] = (0, 0), **style: Any) -> None:
    """Words beside a point, `offset` in typographic points."""
    style = {"ha": "center", "va": "center", "fontsize": 9, "linespacing": 1.1, **style}
    axes.annotate(text, at, offset, textcoords="offset points", **style)


def _cadence(axes: Axes, found: dict[str, Any], profile: Profile, lo: float, hi: float, two: bool) -> None:
    axes.set_title("Pumps a minute that suit each speed", loc="left", fontsize=11)
    axes.set_xlim(lo, hi)
    axes.set_ylim(50, 150)
    axes.set_ylabel("pumps a minute")
    _speed_axis(axes)
    curves = _curves(found, profile)
    if curves is None:
        axes.text(0.5, 0.5, "by this estimate nothing can be pumped", transform=axes.transAxes, ha="center")
        return
    speed, low, target, high, slowest, fastest = curves
    limit, aim = LIGHT["limit"], LIGHT["target"]
    axes.fill_between(speed, low, high, color=LIGHT["band"], linewidth=0)
    axes.plot(speed, target, color=aim, linewidth=3)
    for edge in (slowest, fastest):
        axes.plot(speed, edge, color=limit, linewidth=1.2, linestyle=(0, (4, 2)))
    early, middle, late = (int(np.searchsorted(speed, speed[0] + x * np.ptp(speed))) for x in (0.36, 0.5, 0.62))
    _note(axes, "target", (speed[early], target[early]), (0, 10), color=aim, fontweight="bold", fontsize=11)
    inside = 0.35 * target[middle] + 0.65 * high[middle]
    _note(axes, "any of this is good", (speed[middle], inside), fontsize=11)
    _note(axes, "legs too short below", (speed[late], slowest[late]), (4, -12), color=limit, ha="left", va="top")
    above = np.flatnonzero((fastest < 140) & (np.arange(len(speed)) > middle))
    if len(above):
        at = (speed[above[0]], fastest[above[0]])
        _note(axes, "feet lift\noff above", at, (6, 0), color=limit, ha="left", va="bottom")
    if two:
        _note(axes, "wing stalls", (speed[0], target[0]), (-6, -4), color=limit, rotation=90, va="top")
    else:
        _forbidden(axes, profile, (lo, speed[0]), (speed[-1], hi))
    cruise = band_table(profile.setup).cruise_speed
    at = (cruise, float(np.interp(cruise, speed, target)))
    axes.plot(*at, "o", color=aim, markersize=9, markerfacecolor=LIGHT["card"], markeredgewidth=2.5)
    if not two:
        _note(axes, "least effort a metre", at, (4, 12), color=aim, ha="left")
    own = [(o["speed_m_s"], 60 * o["cadence_hz"]) for o in found["own"] if o["speed_m_s"]]
    if own:
        axes.plot(*zip(*own, strict=True), "D", color=LIGHT["rider"], markersize=7)
        _note(axes, "your best flights", own[-1], (8, 0), color=LIGHT["rider"], ha="left")


def _curves(found: dict[str, Any], profile: Profile) -> list[np.ndarray] | None:
    """Speed [m/s], then lo, target, hi, hard_lo, hard_hi per minute, as the coach goes by them, from the rows of the
    table; None if there are none."""
    table = replace(band_table(profile.setup), q=found["q"])
    rows = [table.at(b.speed) for b in table.bands if b.reason is None]
    if not rows:
        return None
    names = ("lo", "target", "hi", "hard_lo", "hard_hi")
    return [np.array([b.speed for b in rows]), *(np.array([60 * getattr(b, n) for b in rows]) for n in names)]


def _forbidden(axes: Axes, profile: Profile, below: tuple[float, float], above: tuple[float, float]) -> None:
    """The speeds that cannot be pumped, with the reason."""
    table = band_table(profile.setup)
    for (start, end), band, side in ((below, table.bands[0], "too slow"), (above, table.bands[-1], "too fast")):
        axes.axvspan(start, end, facecolor=LIGHT["line"], alpha=0.6, hatch="///", edgecolor=LIGHT["card"], linewidth=0)
        if band.reason:
            text = f"{side}:\n{_EDGE[band.reason]}"
            axes.text((start + end) / 2, 100, text, rotation=90, ha="center", va="center", fontsize=9)


def _second(axes: Axes, found: dict[str, Any], other: Profile) -> None:
    """The second foil over the first: its target as a line, its band as an outline."""
    curves = _curves(found, other)
    if curves is None:
        return
    speed, low, target, high, _, _ = curves
    around, there_and_back = np.concatenate([low, high[::-1]]), np.concatenate([speed, speed[::-1]])
    axes.fill(there_and_back, around, fill=False, edgecolor=OTHER, linewidth=1.3, linestyle=(0, (5, 2)))
    axes.plot(speed, target, color=OTHER, linewidth=2.5)
    stall = (speed[0], target[0])
    _note(axes, "wing stalls", stall, (6, 0), color=OTHER, rotation=90, ha="left", va="top")
    at = (speed[-1], target[-1])
    _note(axes, other.foil, at, (0, 8), color=OTHER, fontweight="bold", ha="right", va="bottom")


def _speed_axis(axes: Axes) -> None:
    axes.set_xlabel("speed through the water, m/s", fontsize=9)
    over = axes.secondary_xaxis("top", functions=(lambda v: 3.6 * v, lambda v: v / 3.6))
    over.set_xlabel("km/h", fontsize=8, color=LIGHT["muted"])
    over.tick_params(labelsize=8)


def _drag(axes: Axes, profile: Profile, lo: float, hi: float, name: str, first: bool) -> None:
    """The parts stacked; `name` of the foil where two stand side by side, and smaller writing."""
    ends = feasible_speeds(profile.setup)
    hi = ends[1] + 0.4 if ends else hi
    speed = np.linspace(max(lo, stall_speed(profile.setup)), hi, 80)
    parts = steady_drag(profile.setup, speed).named()
    layers = np.array([np.broadcast_to(parts[part], speed.shape) for part in DRAG])
    top = np.cumsum(layers, axis=0)
    height, small = float(top[-1].max()) * 1.3, 7.5 if name else 9
    axes.stackplot(speed, layers, colors=list(DRAG.values()), edgecolor=LIGHT["card"], linewidth=0.8)
    axes.set_xlim(lo, hi)
    axes.set_ylim(0, height)
    axes.set_title(f"Drag: {name}" if name else "Drag by part, newtons", loc="left", fontsize=9 if name else 11)
    axes.set_xlabel("speed, m/s", fontsize=9)
    if first:
        axes.set_ylabel("drag, N")
    at = int(0.82 * len(speed))
    for i, part in enumerate(DRAG):
        if layers[i, at] > (0.05 if name else 0.042) * height:
            colour = LIGHT["card"] if _luma(DRAG[part]) < 0.55 else LIGHT["ink"]
            middle = top[i] - layers[i] / 2
            slope = np.degrees(np.arctan2(middle[at + 1] - middle[at - 1], speed[at + 1] - speed[at - 1]))
            axes.text(
                speed[at], middle[at], PART_NAMES[part], color=colour, fontsize=small, ha="center", va="center",
                rotation=slope, rotation_mode="anchor", transform_rotates_text=True,
            )  # fmt: skip
    marks = [(least_drag_speed(profile.setup), "least drag", "right")]
    if ends:
        words = "least effort\na metre" if name else "least effort a metre"
        marks.append((band_table(profile.setup).cruise_speed, words, "left"))
    for value, text, side in marks:
        drag = float(steady_drag(profile.setup, value).total)
        axes.plot([value, value], [0, drag], color=LIGHT["card"], linewidth=1.4, linestyle=(0, (2, 2)))
        axes.plot([value], [drag], "o", color=LIGHT["ink"], markersize=5)
        offset = (-3 if side == "right" else 3, 12)
        _note(axes, f"{text}\n{value:.1f} m/s", (value, drag), offset, ha=side, va="bottom", fontsize=small)


def _luma(colour: str) -> float:
    """Rough lightness, 0 to 1, of a #rrggbb."""
    r, g, b = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    return 0.299 * r + 0.587 * g + 0.114 * b


def _lasting(axes: Axes, found: dict[str, Any], mine: Profile, other: Profile | None) -> None:
    effort = found["effort"]
    rider = Endurance(effort["cp_w"], effort["w_j"], effort["p_max_w"])
    time = np.geomspace(30, 3600, 200)
    power = np.array([rider.power(t) for t in time])
    whose = WHOSE[effort["source"]]
    axes.set_title(f"How long which leg power lasts ({whose})", loc="left", fontsize=11)
    axes.fill_between(time, power * (1 - UNSURE), power * (1 + UNSURE), color=LIGHT["band"], linewidth=0)
    axes.plot(time, power, color=LIGHT["rider"], linewidth=3)
    if other and not other.same_rider(mine):
        second = Endurance(*(found["against"]["effort"][k] for k in ("cp_w", "w_j", "p_max_w")))
        axes.plot(time, [second.power(t) for t in time], color=OTHER, linewidth=2)
        axes.set_title(f"How long which leg power lasts ({mine.rider}, {whose})", loc="left", fontsize=11)
        _note(axes, f"{other.rider}, assumed", (120, second.power(120)), (3, 3), color=OTHER, ha="left", va="bottom")
    axes.set_xscale("log")
    axes.set_xticks((30, 60, 120, 300, 600, 1800, 3600), ["30 s", "1 min", "2", "5", "10", "30", "60 min"])
    axes.minorticks_off()
    axes.set_xlim(30, 3600)
    axes.set_ylim(0, 1.05 * float(power[0] * (1 + UNSURE)))
    axes.set_ylabel("leg power, W")
    axes.text(0.985, 0.93, "shaded: ±30 %", transform=axes.transAxes, ha="right", fontsize=9, color=LIGHT["muted"])
    under = {"facecolor": LIGHT["card"], "edgecolor": "none", "pad": 1, "alpha": 0.8}
    for profile, colour, lift in ((mine, LIGHT["target"], 3), (other, OTHER, -3)):
        if profile is None:
            continue
        cruise = band_table(profile.setup).cruise_speed
        solved = solve(profile.setup, [cruise])
        if solved.feasible[0]:
            need = float(solved.pump.power[0])
            axes.axhline(need, color=colour, linewidth=1.4, linestyle=(0, (5, 2)))
            text = f"{cruise:.1f} m/s needs {need:.0f} W" + (f" on {profile.foil}" if other else "")
            where = {"ha": "right", "va": "bottom" if lift > 0 else "top"}
            _note(axes, text, (3500, need), (0, lift), color=colour, bbox=under, **where)
