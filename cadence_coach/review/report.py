"""An outing as one self-contained HTML file: no network, light, dark and print, readable on a phone.

Its order is that of a coach's minute: what to change and why, how the outing went, then flight by flight, then
definitions.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache
from importlib.resources import files
from typing import Any

import attrs
import jinja2

from cadence_coach import __version__, palette
from cadence_coach.review import draw, pictures, words
from cadence_coach.review.advice import Advice, one_thing
from cadence_coach.review.definitions import DEFINITIONS
from cadence_coach.review.figures import Looked
from cadence_coach.review.flight import FlightFigures
from cadence_coach.review.flight_words import groups
from cadence_coach.review.ladder import RungResult, next_rung, score
from cadence_coach.review.rungs import RUNG

DETAILED = 24
"""Flights shown with pictures: the longest ones. More would only make the page slow; their figures are all in the
list."""

DRAWN_FROM = 6
"""Pumps from which a flight has something to draw."""

EVIDENCE: dict[str, Callable[[Looked, int], str | None]] = {
    "size": pictures.size,
    "cadence": pictures.cadence,
    "fade": pictures.cadence,
    "steadiness": pictures.cadence,
    "timing": pictures.share,
}


@attrs.frozen
class FlightPage:
    """A flight as the page shows it: its line, its figures by group, its pictures with captions, its notes."""

    number: int
    line: tuple[str, ...]
    groups: tuple[tuple[str, tuple[tuple[str, str, str], ...]], ...]
    drawn: tuple[tuple[str, str], ...]
    notes: tuple[Any, ...]
    tags: tuple[str, ...]
    start: str


def report_html(looked: Looked, *, place: bool = True, advice: Advice | None = None) -> str:
    """The whole page. Without `place` nothing in it tells where the outing was: no way over ground, no co-ordinates."""
    advice = advice or one_thing(looked)
    rungs = score(looked)
    figures = looked.figures
    shown = {f.flight for f in sorted(figures.flights, key=lambda f: -f.aloft_s)[:DETAILED]} | set(advice.flights[:3])
    return (
        environment()
        .get_template("report.html")
        .render(
            figures=figures,
            words=words,
            title=words.when(figures.start_utc),
            kit=words.kit(figures),
            advice=advice,
            evidence=_evidence(looked, advice),
            numbers=_numbers(looked),
            timeline=pictures.timeline(looked),
            timeline_wide=pictures.timeline(looked, 720.0),
            flights=[_flight(looked, f, f.flight in shown) for f in figures.flights],
            left_out=len(figures.flights) - len(shown),
            starts=figures.starts,
            cues=figures.cues,
            helped=[figures.flights[i] for i in figures.helped],
            rope=[figures.flights[i] for i in figures.rope],
            notes=[n for n in looked.outing.notes if n.at_s is None],
            moments=[(chr(97 + i % 26), n) for i, n in enumerate(n for n in looked.outing.notes if n.at_s is not None)],
            next=_next(rungs),
            passed=[RUNG[r.key].name for r in rungs if r.passed],
            way=pictures.way(looked) if place else None,
            care=_care(looked),
            definitions=DEFINITIONS,
            style=page_style(),
            version=__version__,
            clock=draw.minutes,
        )
    )


@cache
def environment() -> jinja2.Environment:
    """Everything from outside is escaped; only pictures and styles that this package made pass as they are."""
    folder = files("cadence_coach.review") / "templates"
    source = jinja2.FunctionLoader(lambda name: (folder / name).read_text(encoding="utf-8"))
    found = jinja2.Environment(loader=source, autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True)
    found.filters["nb"] = words.held_together
    return found


@cache
def page_style() -> str:
    """The page's CSS with the palette for light, dark and print."""
    css = (files("cadence_coach.review") / "templates" / "page.css").read_text(encoding="utf-8")
    light, dark = draw.variables(palette.LIGHT), draw.variables(palette.DARK)
    themes = (
        f":root{{color-scheme:light dark;{light}}}"
        f"@media (prefers-color-scheme:dark){{@media screen{{:root{{{dark}}}}}}}"
    )
    return themes + draw.style(palette.LIGHT) + css


def _evidence(looked: Looked, advice: Advice) -> tuple[str, str] | None:
    """The picture that shows what the advice says, and its caption; of the flight with the most pumps that it rests
    on."""
    drawing = EVIDENCE.get(advice.focus or "")
    if drawing is None or not advice.flights:
        return None
    flight = max(advice.flights, key=lambda i: looked.figures.flights[i].pumps)
    picture = drawing(looked, flight)
    return None if picture is None else (picture, f"Flight {flight + 1}, one of those it rests on.")


def _numbers(looked: Looked) -> list[tuple[str, str]]:
    f = looked.figures
    tries = sum(s.tries for s in f.starts.values())
    held = sum(s.held for s in f.starts.values())
    best = f.flights[f.best] if f.best is not None else None
    return [
        (words.span(best.own_s) if best else words.NONE, "best flight on your own"),
        (f"{best.pumps}" if best else words.NONE, "pumps in it"),
        (f"{held} of {tries}", "tries reached five pumps"),
        (words.span(f.own_s), "aloft on your own in all"),
        (f"{f.pumps}", "pumps in all"),
        (f"{len(f.sets)}", "set" if len(f.sets) == 1 else "sets"),
    ]


def _flight(looked: Looked, f: FlightFigures, shown: bool) -> FlightPage:
    drawn: list[tuple[str, str]] = []
    if shown and f.pumps >= DRAWN_FROM:
        for drawing, caption in (
            (
                pictures.cadence,
                "Cadence: dots are pumps, the line their running mean of five, the shade the band, dashes the target.",
            ),
            (
                pictures.size,
                "Size: dots are pumps, the line their running median, dashes what level flight needs (estimate).",
            ),
            (pictures.waveform, "The mean pump, onset to onset; the shade holds eight pumps of ten."),
            (pictures.share, "Push share against cadence: hollow in the first half of the flight, full in the second."),
            (pictures.speed, "Speed over ground, from fixes once a second; dashes: first push and last pump."),
        ):
            picture = drawing(looked, f.flight)
            if picture:
                drawn.append((picture, caption))
    tags = [words.STARTED[f.started_by], words.ENDED[f.ended_by]]
    tags += [t for t, yes in (("best", f.flight == looked.figures.best), ("rope drill", f.own_s == 0.0)) if yes]
    tags += ["helped"] if f.helped else []
    line = (
        words.span(f.aloft_s),
        f"{f.pumps}",
        words.course(f),
        words.percent(f.size_ratio) if f.size_ratio is not None else words.percent(f.size_g),
        words.percent(f.in_band),
        words.percent(f.steadiness),
    )
    notes = [n for n in looked.outing.notes if n.at_s is not None and f.start_s <= n.at_s <= f.end_s]
    return FlightPage(f.flight + 1, line, groups(f), tuple(drawn), tuple(notes), tuple(tags), draw.minutes(f.start_s))


def _next(rungs: Sequence[RungResult]) -> tuple[str, str, str, str] | None:
    found = next_rung([r for r in rungs if not RUNG[r.key].rope and not RUNG[r.key].land])
    if found is None:
        return None
    rung = RUNG[found.key]
    return rung.name, rung.passes, " ".join(filter(None, (found.said, found.missing))), rung.practise


def _care(looked: Looked) -> list[str]:
    """What a reader must know about the data before trusting a figure."""
    f = looked.figures
    said = []
    if f.gaps:
        said.append(
            f"{f.gaps} hole{'s' if f.gaps > 1 else ''} in the data, {f.gap_s:.1f} s in all; a flight with a hole is in "
            f"no score."
        )
    said += [
        f"Sensor: {kind.replace('_', ' ')}, {count} times." for kind, count in f.faults.items() if kind != "speed_lost"
    ]
    if f.flights and not any(x.speed_m_s for x in f.flights):
        said.append("No speed: band and size needed are those at your cruise speed; distance is not known.")
    if looked.table is None:
        said.append("No rider and foil were set: there is no band and no size needed to compare with.")
    return said
