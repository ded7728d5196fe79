"""The charts of look-back, of a training and of a season, as plain data. What cannot be drawn is None. Pure."""

from __future__ import annotations

import numpy as np

from cadence_coach.app.views.chart import Area, Axes, Box, Chart, Dots, Label, room, thinned
from cadence_coach.app.words import Words
from cadence_coach.land.score import SetScore
from cadence_coach.review import words as review
from cadence_coach.review.figures import Looked
from cadence_coach.review.say import minutes
from cadence_coach.review.season import Season, around
from cadence_coach.review.waveform import mean_waveform

PARTS = ("catch", "shove", "ease", "gather")


def timeline(looked: Looked, told: review.Words) -> Chart | None:
    """Every try over the time of the outing, as high as it was long; pale what is not the rider's own."""
    figures, outing = looked.figures, looked.outing
    if not outing.attempts and not figures.flights:
        return None
    start = float(outing.accel[0, 0]) if len(outing.accel) else 0.0
    end = max([start + figures.duration_s, *(f.end_s for f in figures.flights), *(a.time for a in outing.attempts)])
    axes = Axes((start, end), (0.0, 1.1 * max([10.0, *(f.aloft_s for f in figures.flights)])))
    boxes = [
        Box("rider" if f.on_own else "muted", axes.at_x(f.start_s), axes.at_x(f.end_s), 0.0, axes.at_y(f.aloft_s),
            faint=not f.on_own)
        for f in figures.flights
    ]  # fmt: skip
    boxes += [Box("line", axes.at_x(g.time), axes.at_x(g.end), 0.0, 1.0, faint=True) for g in outing.gaps]
    short = [a.start for a in outing.attempts if a.flight is None]
    return Chart(
        boxes=tuple(boxes),
        dots=(Dots("muted", axes.points(short, [0.0] * len(short))),) if short else (),
        strokes=() if figures.legs_went_s is None else (axes.rule("target", x=figures.legs_went_s),),
        x_ticks=axes.x_ticks(clock=True),
        y_ticks=axes.y_ticks(),
        y_name=told("axis_seconds_aloft"),
        says=told("timeline_caption")
        + ("" if figures.legs_went_s is None else " " + told("tries_fell_off", at=minutes(figures.legs_went_s))),
    )


def cadence(looked: Looked, number: int, told: review.Words) -> Chart | None:
    """Each pump and the running mean of five against the band."""
    pumps = looked.pumps[number]
    if len(pumps) < 3:
        return None
    x = pumps.end - looked.figures.flights[number].start_s
    each, running = 60.0 * pumps.cadence, 60.0 * pumps.running_cadence
    seen = [*np.percentile(each, [2, 98]), running.min(), running.max()]
    if np.isfinite(pumps.lo).any():
        seen += [60.0 * float(np.nanmin(pumps.lo)), 60.0 * float(np.nanmax(pumps.hi))]
    axes = Axes((0.0, float(x[-1])), room(min(seen), max(seen), 10.0))
    keep = thinned(x)
    return Chart(
        areas=axes.area("band", x, 60.0 * pumps.lo, 60.0 * pumps.hi),
        strokes=(
            *axes.strokes("target", x, 60.0 * pumps.target, dashed=True),
            *axes.strokes("rider", x[keep], running[keep]),
        ),
        dots=(Dots("rider", axes.points(x[keep], each[keep])),),
        x_ticks=axes.x_ticks(),
        y_ticks=axes.y_ticks(),
        x_name="s",
        y_name=told("axis_a_minute"),
        says=told("caption_cadence"),
    )


def size(looked: Looked, number: int, told: review.Words) -> Chart | None:
    """Size of each pump as % of the weight, beside what level flight needs."""
    pumps = looked.pumps[number]
    if len(pumps) < 3:
        return None
    x = pumps.end - looked.figures.flights[number].start_s
    own, needed, top = pumps.sizes_percent
    axes = Axes((0.0, float(x[-1])), (0.0, 1.15 * top))
    keep = thinned(x)
    return Chart(
        strokes=axes.strokes("target", x, needed, dashed=True),
        dots=(Dots("rider", axes.points(x[keep], own[keep])),),
        x_ticks=axes.x_ticks(),
        y_ticks=axes.y_ticks(),
        x_name="s",
        y_name=told("axis_size"),
        says=told("caption_size_dots"),
    )


def mean_pump(looked: Looked, number: int, told: review.Words) -> Chart | None:
    """The mean pump with its spread, and under it its four parts as long as they are."""
    wave = mean_waveform(looked.outing, looked.pumps[number])
    if wave is None:
        return None
    low, high = min(0.0, float(wave.low_g.min())), 1.08 * max(float(wave.high_g.max()), 1.5)
    deep = 0.24 * (high - low)
    axes = Axes((0.0, wave.period_s), (low - deep, high), comma=told.lang == "de")
    x = wave.phase * wave.period_s
    edges = np.array([0.0, *wave.marks, 1.0]) * wave.period_s
    floor = axes.at_y(low - 0.1 * deep)
    boxes, labels = [], []
    for name, a, z in zip(PARTS, edges, edges[1:], strict=False):
        boxes.append(Box(name, axes.at_x(a), axes.at_x(z), 0.0, floor))
        middle = (axes.at_x(a) + axes.at_x(z)) / 2.0
        labels.append(Label(middle, 0.25 * floor, f"{100 * (z - a) / wave.period_s:.0f} %", "onpart", name))
    return Chart(
        areas=axes.area("rider", x, wave.low_g, wave.high_g, faint=True),
        boxes=tuple(boxes),
        strokes=(axes.rule("muted", y=1.0), *axes.strokes("rider", x, wave.mean_g)),
        labels=tuple(labels),
        x_ticks=axes.x_ticks(),
        y_ticks=tuple((place, text) for place, text in axes.y_ticks() if place > floor),
        x_name="s",
        y_name=told("axis_wave", n=wave.pumps),
        says=told("caption_wave"),
    )


def offsets(score: SetScore, words: Words) -> Chart:
    """Where each movement of a set fell beside its click; the shade is what a firm lock amounts to."""
    half = 30.0 / score.tempo_per_min
    return strip([*score.offsets_s], half, words)


FIRM_S = 0.05
"""The shade: what a lock of 0.9 amounts to at 1.5 Hz."""


def strip(found: list[float], half: float, words: Words) -> Chart:
    """Movements in order, ahead of the click above the middle, behind it below [s]."""
    axes = Axes((0.5, max(len(found), 8) + 0.5), (-half, half))
    shade = Area("band", ((0.0, axes.at_y(-FIRM_S), axes.at_y(FIRM_S)), (1.0, axes.at_y(-FIRM_S), axes.at_y(FIRM_S))))
    return Chart(
        areas=(shade,),
        strokes=(axes.rule("target", y=0.0),),
        dots=(Dots("rider", axes.points(range(1, len(found) + 1), [-off for off in found]), big=True),),
        y_ticks=((1.0, words("land.ahead")), (0.5, words("land.click")), (0.0, words("land.behind"))),
        says=words("land.strip"),
    )


def over_days(found: Season, name: str, scale: float, told: review.Words, *, best: bool = False) -> Chart | None:
    """A figure, outing by outing; with `best` the best so far as a line."""
    x, y = found.over_days(name, scale)
    if len(x) < 2:
        return None
    axes = Axes(*around(x, y), told.lang == "de")
    return Chart(
        strokes=axes.strokes("target", x, np.maximum.accumulate(y), dashed=True) if best else (),
        dots=(Dots("rider", axes.points(x, y), big=True),),
        x_ticks=_dates(found, axes, told),
        y_ticks=axes.y_ticks(),
        y_name=told(f"season_axis_{'best' if name == 'best_s' else name}"),
        says=told(f"season_caption_{'best' if name == 'best_s' else name}"),
    )


def _dates(found: Season, axes: Axes, told: review.Words) -> tuple[tuple[float, str], ...]:
    dated = [(d, r.start_utc) for r, d in zip(found.rows, found.days, strict=True) if d is not None]
    chosen = [dated[0], dated[-1]] if len(dated) < 3 else [dated[0], dated[len(dated) // 2], dated[-1]]
    return tuple((axes.at_x(d), told.when(start, "day_short")) for d, start in chosen)
