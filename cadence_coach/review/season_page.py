"""A season as one self-contained HTML file, with the same pictures and colours as the report."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

import numpy as np

from cadence_coach import __version__
from cadence_coach.review import words
from cadence_coach.review.draw import Picture, ticks
from cadence_coach.review.report import environment, page_style
from cadence_coach.review.rungs import RUNG, RUNGS
from cadence_coach.review.season import Season, step_words

TRENDS = {
    "best_s": ("longest flight", 1.0, " s", 0),
    "pumps": ("pumps in an outing", 1.0, "", 0),
    "steadiness": ("steadiness (less is better)", 100.0, " points of %", 1),
    "drift": ("late against early cadence", 100.0, " points of %", 1),
    "in_band": ("time in band", 100.0, " points of %", 0),
}
"""Figure: title, scale, unit, digits."""


def season_html(found: Season, failed: Sequence[tuple[object, str]] = ()) -> str:
    return (
        environment()
        .get_template("season.html")
        .render(
            season=found,
            words=words,
            when=_span(found),
            headline=_headline(found),
            trends=trend_lines(found),
            step=step_words(found),
            pictures=[p for p in pictures(found) if p[0]],
            rungs=[(RUNG[r.key], r) for r in found.rungs],
            next=(RUNG[found.next.key], found.next) if found.next else None,
            failed=[
                text.replace(str(path), Path(str(path)).name) for path, text in failed
            ],  # whoever reads it has other folders
            style=page_style(),
            version=__version__,
            number_of_rungs=len(RUNGS),
        )
    )


def pictures(found: Season) -> list[tuple[str | None, str]]:
    """Longest flight, pumps, steadiness and time in band over the days, and endurance."""
    return [
        (
            _over_days(found, "best_s", "longest flight, s", best=True),
            "Longest flight on your own, outing by outing; the line is the best so far.",
        ),
        (_over_days(found, "pumps", "pumps"), "Pumps in an outing."),
        (_over_days(found, "steadiness", "% from pump to pump", 100.0), "Steadiness: less is steadier; 5 % is clean."),
        (
            _over_days(found, "in_band", "% of the time in band", 100.0),
            "Time in band, median of flights with ten pumps and more.",
        ),
        (
            _over_days(found, "drift", "late against early cadence, %", 100.0),
            "Fade: how much slower the late pumps are than the early ones; zero is none.",
        ),
        (
            endurance(found),
            "Estimated power against length, ±30 %: full dots are the flights that none beats in both; the curve is "
            "fitted to them.",
        ),
    ]


def _over_days(found: Season, name: str, title: str, scale: float = 1.0, *, best: bool = False) -> str | None:
    pairs = [
        (d, scale * getattr(r, name))
        for r, d in zip(found.rows, found.days, strict=True)
        if d is not None and getattr(r, name) is not None
    ]
    if len(pairs) < 2:
        return None
    x, y = np.array(pairs, float).T
    low = min(0.0, float(y.min()))
    room = max(1.0, 0.03 * float(x[-1]))
    p = Picture((-room, float(x[-1]) + room), (1.1 * low, 1.15 * max(float(y.max()), 1.0)), title)
    p.axes(_dates(found, p), [(v, f"{v:g}") for v in ticks(*p.y, 4)], "", title)
    if low < 0.0:
        p.rule(y=0.0)
    if best:
        p.line(x, np.maximum.accumulate(y), "target", dashed=True)
    return p.dots(x, y, "rider").svg()


def _dates(found: Season, p: Picture) -> list[tuple[float, str]]:
    first = next((r.start_utc for r, d in zip(found.rows, found.days, strict=True) if d == 0.0), None)
    if not first:
        return []
    start = datetime.fromisoformat(first.replace("Z", "+00:00")).timestamp()
    days = [d for d in ticks(*p.x, 4) if d >= 0.0]
    return [(d, f"{(at := datetime.fromtimestamp(start + 86400.0 * d)).day} {at:%b}") for d in days]


def endurance(found: Season) -> str | None:
    """Power over the logarithm of the length, the curve where there is one."""
    flights = [f for r in found.rows for f in r.flights if f.power and f.seconds >= 5.0]
    if len(flights) < 2:
        return None
    seconds, power = np.array([(f.seconds, f.power) for f in flights], float).T
    top = max(float(seconds.max()) * 1.3, found.step.seconds * 1.1 if found.step else 0.0)
    p = Picture((np.log(5.0), np.log(top)), (0.0, 1.25 * float(power.max())), "Power and duration")
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
    p.axes(marks, [(v, f"{v:g}") for v in ticks(*p.y, 4)], "", "estimated leg power, W")
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
            float(np.log(found.step.seconds)), None, "next", kind="cue", anchor="end", y_px=32.0, dx=-4
        )
    return p.svg()


def trend_lines(found: Season) -> list[str]:
    """Each trend per 30 days with its interval, said only as far as the interval allows."""
    lines = []
    for name, slope in found.trends.items():
        title, scale, unit, digits = TRENDS[name]
        low, middle, high = (f"{scale * v:+.{digits}f}" for v in (slope.low, slope.slope, slope.high))
        clear = "" if slope.clear else "no clear change, "
        lines.append(f"{title}: {clear}{middle}{unit} in 30 days ({low} to {high})")
    return lines


def _span(found: Season) -> str:
    known = [r.start_utc for r in found.rows if r.start_utc]
    if not known:
        return f"{len(found.rows)} outings"
    first, last = (words.when(s).split(",")[0] for s in (known[0], known[-1]))
    return f"{len(found.rows)} outings, {first} to {last}" if len(found.rows) > 1 else f"1 outing, {first}"


def _headline(found: Season) -> list[tuple[str, str]]:
    best = max((r.best_s for r in found.rows), default=0.0)
    passed = [r for r in found.rungs if r.passed]
    return [
        (words.span(best), "longest flight"),
        (f"{sum(r.pumps for r in found.rows)}", "pumps"),
        (words.span(sum(r.own_s for r in found.rows)), "aloft on your own"),
        (f"{sum(r.tries for r in found.rows)}", "tries"),
        (f"{len(passed)} of {len(RUNGS)}", "rungs"),
    ]
