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
from cadence_coach.core.cuebook import STATE
from cadence_coach.review import draw, pictures
from cadence_coach.review.advice import Advice, one_thing
from cadence_coach.review.because import because
from cadence_coach.review.counted import left_out, left_out_said
from cadence_coach.review.definitions import definitions
from cadence_coach.review.figures import Looked
from cadence_coach.review.flight import FlightFigures
from cadence_coach.review.flight_words import groups
from cadence_coach.review.ladder import RungResult, next_rung, score
from cadence_coach.review.rungs import RUNG
from cadence_coach.review.say import minutes
from cadence_coach.review.sets import told_sets
from cadence_coach.review.words import NONE, Words, held_together

DETAILED = 24
"""Flights shown with pictures: the longest ones. More would only make the page slow; their figures are all in the
list."""

DRAWN_FROM = 6
"""Pumps from which a flight has something to draw."""

EVIDENCE: dict[str, Callable[[Looked, int, Words], str | None]] = {
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


def report_html(looked: Looked, *, place: bool = True, advice: Advice | None = None, lang: str = "en") -> str:
    """The whole page in a language. Without `place` nothing in it tells where the outing was: no way over ground, no
    co-ordinates."""
    w = Words(lang)
    advice = advice or one_thing(looked)
    rungs = score(looked)
    figures = looked.figures
    shown = {f.flight for f in sorted(figures.flights, key=lambda f: -f.aloft_s)[:DETAILED]} | set(advice.flights[:3])
    return (
        environment()
        .get_template("report.html")
        .render(
            figures=figures,
            w=w,
            title=w.when(figures.start_utc),
            kit=w.kit(figures),
            advice=advice,
            evidence=_evidence(looked, advice, w),
            numbers=[] if figures.on_land else _numbers(looked, w),
            sets=told_sets(looked.outing, w.lang, drawn=False) if figures.on_land else [],
            timeline=pictures.timeline(looked, w),
            timeline_wide=pictures.timeline(looked, w, 720.0),
            flights=[_flight(looked, f, f.flight in shown, w) for f in figures.flights],
            left_out=len(figures.flights) - len(shown),
            starts=figures.starts,
            cues=[(c, because(c.reason, w, c.kind)) for c in figures.cues if c.kind not in STATE],
            helped=[figures.flights[i] for i in figures.helped],
            rope=[figures.flights[i] for i in figures.rope],
            notes=[n for n in looked.outing.notes if n.at_s is None],
            moments=[(chr(97 + i % 26), n) for i, n in enumerate(n for n in looked.outing.notes if n.at_s is not None)],
            next=None if figures.on_land else _next(rungs, w),
            passed=[w.tell(RUNG[r.key].name) for r in rungs if r.passed],
            way=pictures.way(looked, w) if place else None,
            care=care(looked, w),
            definitions=definitions(w.lang),
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
    found.filters["nb"] = held_together
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


def _evidence(looked: Looked, advice: Advice, w: Words) -> tuple[str, str] | None:
    """The picture that shows what the advice says, and its caption; of the flight with the most pumps that it rests
    on."""
    drawing = EVIDENCE.get(advice.focus or "")
    if drawing is None or not advice.flights:
        return None
    flight = max(advice.flights, key=lambda i: looked.figures.flights[i].pumps)
    picture = drawing(looked, flight, w)
    return None if picture is None else (picture, w("evidence", n=flight + 1))


def _numbers(looked: Looked, w: Words) -> list[tuple[str, str]]:
    f = looked.figures
    tries = sum(s.tries for s in f.starts.values())
    held = sum(s.held for s in f.starts.values())
    best = f.flights[f.best] if f.best is not None else None
    return [
        (w.span(best.own_s) if best else NONE, w("best_own")),
        (f"{best.pumps}" if best else NONE, w("pumps_in_it")),
        (w("n_of_all", n=held, all=tries), w("tries_reached")),
        (w.span(f.own_s), w("own_in_all")),
        (f"{f.pumps}", w("pumps_in_all")),
        (f"{len(f.sets)}", w("one_set" if len(f.sets) == 1 else "many_sets")),
    ]


DRAWN: tuple[tuple[Callable[[Looked, int, Words], str | None], str], ...] = (
    (pictures.cadence, "caption_cadence"),
    (pictures.size, "caption_size"),
    (pictures.waveform, "caption_wave"),
    (pictures.share, "caption_share"),
    (pictures.speed, "caption_speed"),
)


def _flight(looked: Looked, f: FlightFigures, shown: bool, w: Words) -> FlightPage:
    drawn: list[tuple[str, str]] = []
    if shown and f.pumps >= DRAWN_FROM:
        for drawing, caption in DRAWN:
            picture = drawing(looked, f.flight, w)
            if picture:
                drawn.append((picture, w(caption)))
    tags = [w.started(f.started_by), w.ended(f.ended_by), *w.tags(f, f.flight == looked.figures.best)]
    line = (
        w.span(f.aloft_s),
        f"{f.pumps}",
        w.course(f),
        w.size(f) if f.size_g is not None else NONE,
        w.percent(f.in_band),
        w.percent(f.steadiness),
    )
    notes = [n for n in looked.outing.notes if n.at_s is not None and f.start_s <= n.at_s <= f.end_s]
    start = minutes(f.start_s)
    return FlightPage(f.flight + 1, line, groups(f, w), tuple(drawn), tuple(notes), tuple(tags), start)


def _next(rungs: Sequence[RungResult], w: Words) -> tuple[str, str, str, str] | None:
    found = next_rung([r for r in rungs if not RUNG[r.key].rope and not RUNG[r.key].land])
    if found is None:
        return None
    rung = RUNG[found.key]
    return w.tell(rung.name), w.tell(rung.passes), w.tell(found.standing), w.tell(rung.practise)


def care(looked: Looked, w: Words) -> list[str]:
    """What a reader must know about the data before trusting a figure."""
    f = looked.figures
    said = []
    holed = left_out(f.flights).get("holed", 0)
    said += [w.tell(one) for one in left_out_said({"holed": holed})]  # the others have a part of the page of their own
    if f.gaps:
        said.append(w("care_holes" if f.gaps > 1 else "care_hole", n=f.gaps, seconds=f.gap_s))
    kinds = [(kind, count) for kind, count in f.faults.items() if kind != "speed_lost"]
    said += [w("care_sensor", kind=w.fault(kind), n=count) for kind, count in kinds]
    if f.flights and not any(x.speed_m_s for x in f.flights):
        said.append(w("care_no_speed"))
    if looked.table is None:
        said.append(w("care_no_kit"))
    return said
