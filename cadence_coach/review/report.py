"""An outing as one self-contained HTML file: no network, light, dark and print, readable on a phone.

Its order is that of a coach's minute: what to change and why, how the outing went, then flight by flight, then definitions.
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
from cadence_coach.review.ladder import RungResult, next_rung, score
from cadence_coach.review.rungs import RUNG

DETAILED = 24
"""Flights shown with pictures: the longest ones. More would only make the page slow; their figures are all in the list."""

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
    themes = f":root{{color-scheme:light dark;{light}}}@media (prefers-color-scheme:dark){{@media screen{{:root{{{dark}}}}}}}"
    return themes + draw.style(palette.LIGHT) + css


def _evidence(looked: Looked, advice: Advice) -> tuple[str, str] | None:
    """The picture that shows what the advice says, and its caption; of the flight with the most pumps that it rests on."""
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
    return FlightPage(f.flight + 1, line, _groups(f), tuple(drawn), tuple(notes), tuple(tags), draw.minutes(f.start_s))


def _groups(f: FlightFigures) -> tuple[tuple[str, tuple[tuple[str, str, str], ...]], ...]:
    """Figures by what they are about: (title, ((name, value, key of its definition), ...))."""
    pc, no = words.percent, words.number

    def slope(s: Any, unit: str, scale: float = 1.0, digits: int = 0) -> str:
        if s is None:
            return words.NONE
        low, high = scale * s.low, scale * s.high
        return f"{scale * s.slope:+.{digits}f} {unit} ({low:+.{digits}f} to {high:+.{digits}f})"

    parts = f.parts or {}
    last = f.last
    power = words.NONE if f.power_w is None else f"{0.7 * f.power_w:.0f} to {1.3 * f.power_w:.0f} W"
    groups = [
        ("Time", [
            ("aloft", f"{f.aloft_s:.1f} s", "aloft_s"),
            ("coasting after the last pump", f"{f.coast_s:.1f} s", "coast_s"),
            ("on the rope", f"{f.rope_s:.1f} s", "rope_s"),
            ("landing to first push", no(f.landing_to_push_s, 2, "s"), "landing_to_push_s"),
            ("first three pumps", " · ".join(f"{p:.2f}" for p in f.first_periods_s) + " s", "first_periods_s"),
        ]),
        ("Beat", [
            ("cadence", f"{words.course(f)} a minute", "cadence_hz"),
            ("in the band", _band_words(f), "in_band"),
            ("steadiness", pc(f.steadiness, 1), "steadiness"),
            ("beat to beat", no(None if f.rmssd_s is None else 1000 * f.rmssd_s, 0, "ms"), "rmssd_s"),
            ("fade of cadence", slope(f.fade_cadence, "a minute per minute"), "fade_cadence"),
            ("lock to the click", words.NONE if f.lock is None else f"{f.lock.r:.2f} over {f.lock.n} pumps", "lock"),
        ]),
        ("Push", [
            ("size", pc(f.size_g) + " of your weight", "size_g"),
            ("needed for level flight", pc(f.size_needed_g) + (" (estimate)" if f.size_needed_g else ""), "size_needed_g"),
            ("peak, lightness", f"{no(f.peak_g, 2)} g, {no(f.lightness_g, 2)} g", "peak_g"),
            ("rise time", no(f.rise_s, 2, "s"), "rise_s"),
            ("travel of the body", no(None if f.travel_m is None else 100 * f.travel_m, 0, "cm"), "travel_m"),
            ("fade of size", slope(f.fade_size, "% per minute", 100.0), "fade_size"),
        ]),
        ("Timing", [
            ("push share", pc(f.push_share), "push_share"),
            *[(n, f"{100 * p.share:.0f} %, {p.seconds:.2f} s" + (f", ±{50 * p.spread:.0f} %" if p.spread is not None else ""), "parts")
              for n, p in parts.items()],
            ("fade of push share", slope(f.fade_share, "% per minute", 100.0), "fade_share"),
        ]),
        ("Speed and power", [
            ("speed over ground", no(f.speed_m_s, 1, "m/s") + ("" if f.speed_m_s is None else f" ({3.6 * f.speed_m_s:.0f} km/h)"), "speed_m_s"),
            ("distance", no(f.distance_m, 0, "m"), "distance_m"),
            ("metres per pump", no(f.m_per_pump, 1, "m"), "m_per_pump"),
            ("estimated leg power", power, "power_w"),
        ]),
    ]  # fmt: skip
    if last is not None:
        moved = [
            ("cadence", f"{last.cadence_per_min:+.0f} a minute", "last"),
            ("size", f"{100 * last.size_g:+.0f} % of weight", "last"),
            ("push share", f"{100 * last.push_share:+.0f} %", "last"),
            ("travel", f"{100 * last.travel_m:+.0f} cm", "last"),
            ("speed", words.NONE if last.speed_m_s is None else f"{last.speed_m_s:+.1f} m/s", "last"),
        ]
        groups.append(("Last ten pumps against those before", moved))
    ended = words.ENDED[f.ended_by] + ("" if f.ended_by_from == "detector" else f" (by {f.ended_by_from})")
    groups[0][1].append(("ended by", ended, "ended_by"))
    if f.helped:
        groups[0][1].append(("helped", f.helped, "helped"))
    if f.gap_s:
        groups[0][1].append(("hole in the data", f"{f.gap_s:.1f} s", "gap_s"))
    return tuple((title, tuple(rows)) for title, rows in groups)


def _band_words(f: FlightFigures) -> str:
    if f.in_band is None:
        return words.NONE
    sides = [
        f"{100 * s:.0f} % {n}" for s, n in ((f.below_band or 0.0, "under"), (f.above_band or 0.0, "over")) if s >= 0.005
    ]
    at = "at your cruise speed" if f.band_from == "cruise" else "at the speed ridden"
    return f"{words.percent(f.in_band)} of the time" + (f" ({', '.join(sides)})" if sides else "") + f", {at}"


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
            f"{f.gaps} hole{'s' if f.gaps > 1 else ''} in the data, {f.gap_s:.1f} s in all; a flight with a hole is in no score."
        )
    said += [
        f"Sensor: {kind.replace('_', ' ')}, {count} times." for kind, count in f.faults.items() if kind != "speed_lost"
    ]
    if f.flights and not any(x.speed_m_s for x in f.flights):
        said.append("No speed: band and size needed are those at your cruise speed; distance is not known.")
    if looked.table is None:
        said.append("No rider and foil were set: there is no band and no size needed to compare with.")
    return said
