"""A season as one self-contained HTML file, with the same pictures and colours as the report."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from pathlib import Path

import numpy as np

from cadence_coach import __version__
from cadence_coach.review.draw import Picture, ticks
from cadence_coach.review.report import environment, page_style
from cadence_coach.review.rungs import RUNG, RUNGS
from cadence_coach.review.say import signed
from cadence_coach.review.season import Season, around, step_said
from cadence_coach.review.words import Words
from cadence_coach.store.dates import when

TRENDS = {
    "best_s": (1.0, "unit_seconds", 0),
    "pumps": (1.0, "unit_none", 0),
    "steadiness": (100.0, "unit_points", 1),
    "drift": (100.0, "unit_points", 1),
    "in_band": (100.0, "unit_points", 0),
}
"""Figure: scale, unit, digits."""

OVER_DAYS = (
    ("best_s", "best", 1.0),
    ("pumps", "pumps", 1.0),
    ("steadiness", "steadiness", 100.0),
    ("in_band", "in_band", 100.0),
    ("drift", "drift", 100.0),
)
"""Figure, key of its texts, scale."""


def season_html(found: Season, failed: Sequence[tuple[object, str]] = (), lang: str = "en") -> str:
    w = Words(lang)
    return (
        environment()
        .get_template("season.html")
        .render(
            season=found,
            w=w,
            when=" · ".join([*sorted({r.rider for r in found.rows if r.rider}), span(found, w)]),
            headline=headline(found, w),
            trends=trend_lines(found, w),
            step=[w.tell(said) for said in step_said(found)],
            pictures=[p for p in pictures(found, w) if p[0]],
            rungs=[(w.tell(RUNG[r.key].name), r.passed, w.tell(r.shown)) for r in found.rungs],
            next=RUNG[found.next.key] if found.next else None,
            failed=[
                text.replace(str(path), Path(str(path)).name) for path, text in failed
            ],  # whoever reads it has other folders
            style=page_style(),
            version=__version__,
        )
    )


def pictures(found: Season, w: Words) -> list[tuple[str | None, str]]:
    """Longest flight, pumps, steadiness and time in band over the days, and endurance."""
    drawn = [
        (_over_days(found, name, w(f"season_axis_{key}"), w, scale, best=name == "best_s"), w(f"season_caption_{key}"))
        for name, key, scale in OVER_DAYS
    ]
    return [*drawn, (endurance(found, w), w("season_caption_power"))]


def _over_days(found: Season, name: str, title: str, w: Words, scale: float = 1.0, *, best: bool = False) -> str | None:
    x, y = found.over_days(name, scale)
    if len(x) < 2:
        return None
    p = Picture(*around(x, y), title)
    p.axes(_dates(found, p, w), [(v, w.point(f"{v:g}")) for v in ticks(*p.y, 4)], "", title)
    if p.y[0] < 0.0:
        p.rule(y=0.0)
    if best:
        p.line(x, np.maximum.accumulate(y), "target", dashed=True)
    return p.dots(x, y, "rider").svg()


def _dates(found: Season, p: Picture, w: Words) -> list[tuple[float, str]]:
    start = next((when(r.start_utc) for r, d in zip(found.rows, found.days, strict=True) if d == 0.0), None)
    if start is None:
        return []
    days = sorted({float(round(d)) for d in ticks(*p.x, 4) if d >= 0.0})  # a day is named once
    return [(d, w.when((start + timedelta(days=d)).isoformat(), "day_short")) for d in days]


def endurance(found: Season, w: Words) -> str | None:
    """Power over the logarithm of the length, the curve where there is one."""
    flights = [f for r in found.rows for f in r.flights if f.power and f.seconds >= 5.0]
    if len(flights) < 2:
        return None
    seconds, power = np.array([(f.seconds, f.power) for f in flights], float).T
    top = max(float(seconds.max()) * 1.3, found.step.seconds * 1.1 if found.step else 0.0)
    p = Picture((np.log(5.0), np.log(top)), (0.0, 1.25 * float(power.max())), w("season_picture_power"))
    marks = [
        (np.log(s), t)
        for s, t in (
            (5, "5 s"),
            (10, "10 s"),
            (30, "30 s"),
            (60, "1 min"),
            (120, "2"),
            (300, "5"),
            (600, "10"),
            (1800, "30"),
        )
        if s <= top
    ]
    p.axes(marks, [(v, f"{v:g}") for v in ticks(*p.y, 4)], "", w("season_axis_power"))
    p.dots(np.log(seconds), power, "rider", radius=1.8, hollow=True)
    p.dots(np.log([f.seconds for f in found.points]), [f.power or 0.0 for f in found.points], "rider", radius=3.5)
    if found.curve is not None:
        t = np.geomspace(15.0, top, 60)
        curve = np.array([found.curve.endurance.power(float(s)) for s in t])
        p.line(np.log(t), np.where(curve <= p.y[1], curve, np.nan), "target")
        low, high = found.curve.cp_interval
        if np.isfinite(low):
            p.rule(y=min(high, p.y[1]), kind="target").rule(y=max(low, 0.0), kind="target")
    if found.step:
        p.rule(x=float(np.log(found.step.seconds)), kind="cue").text(
            float(np.log(found.step.seconds)), None, w("mark_next"), kind="cue", anchor="end", y_px=32.0, dx=-4
        )
    return p.svg()


def trend_lines(found: Season, w: Words) -> list[str]:
    """Each trend per 30 days with its interval, said only as far as the interval allows."""
    lines = []
    for name, slope in found.trends.items():
        scale, unit, digits = TRENDS[name]
        low, middle, high = (w.point(signed(f"{scale * v:+.{digits}f}")) for v in (slope.low, slope.slope, slope.high))
        key, unit_said = "trend" if slope.clear else "trend_unclear", w(unit)
        values = {"middle": middle, "low": low, "high": high, "unit": unit_said and f" {unit_said}"}
        lines.append(w(key, title=w(f"trend_{name}"), **values))
    return lines


def span(found: Season, w: Words) -> str:
    """How many outings, from when to when."""
    known = [r.start_utc for r in found.rows if r.start_utc]
    if not known:
        return w("season_outings", n=len(found.rows))
    first, last = (w.when(s, "day_only") for s in (known[0], known[-1]))
    if len(found.rows) == 1:
        return w("season_one", day=first)
    if first == last:
        return w("season_outings", n=len(found.rows)) + f", {first}"
    return w("season_span", n=len(found.rows), first=first, last=last)


def headline(found: Season, w: Words) -> list[tuple[str, str]]:
    """The five numbers of a season, and their names."""
    best = max((r.best_s for r in found.rows), default=0.0)
    passed = [r for r in found.rungs if r.passed]
    return [
        (w.span(best), w("head_longest")),
        (f"{sum(r.pumps for r in found.rows)}", w("head_pumps")),
        (w.span(sum(r.own_s for r in found.rows)), w("head_own")),
        (f"{sum(r.tries for r in found.rows)}", w("head_tries")),
        (w("n_of_all", n=len(passed), all=len(RUNGS)), w("head_rungs")),
    ]
