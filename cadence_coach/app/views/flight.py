"""One flight: the five figures and the sentence, cadence against the band, the mean pump, all figures, corrections.
Pure."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from cadence_coach.app.views import blocks as b
from cadence_coach.app.views import charts
from cadence_coach.app.views.back import KEEP_NOTE, NOTE, PageView, not_kept, shown, summary_of
from cadence_coach.app.views.water import five
from cadence_coach.app.words import Words
from cadence_coach.core.events import ENDED_BY, STARTED_BY
from cadence_coach.core.rules import SHORT_FLIGHT
from cadence_coach.review import words as review
from cadence_coach.review.correcting import HELPED_BY
from cadence_coach.review.figures import Looked, armed
from cadence_coach.review.flight import FlightFigures
from cadence_coach.review.flight_words import groups
from cadence_coach.review.say import minutes
from cadence_coach.sound.speech import texts

STARTED, ENDED, HELPED = "started", "ended", "helped"
SAID_ENDS = tuple(end for end in ENDED_BY if end not in ("gap", "end_of_data"))
"""Endings that a person can know better; the other two are facts of the recording."""
SAID_STARTS = tuple(start for start in STARTED_BY if start != "unknown")


def flight(
    looked: Looked,
    number: int,
    words: Words,
    *,
    writing: str | None = None,
    trouble: Mapping[str, str] | None = None,
) -> PageView:
    """Flight `number` (from 0). writing: the note being written; trouble: an act that could not be done, and why."""
    why = trouble or {}
    told = review.Words(words.lang)
    f = looked.figures.flights[number]
    best = number == looked.figures.best
    title = told("flight_n", n=number + 1)
    shown_five = five(five_figures(looked, number, best), words, armed(looked.outing))
    if f.helped:  # as it is known now; live it may have been told as the rider's own
        shown_five = ((told("row_aloft"), told.span(f.aloft_s)), *shown_five[1:])
    blocks: list[b.Block] = [
        b.Text(" · ".join((minutes(f.start_s), told.started(f.started_by), told.ended(f.ended_by))), muted=True),
        b.Numbers(tuple((value, what) for what, value in shown_five)),
    ]
    summary = summary_of(looked, number)
    sentence = texts(words.lang).get((summary and summary.sentence) or "", "")
    if sentence:
        blocks.append(b.group(b.Text(words("back.sentence"), "small", True), b.Text(sentence, "lead")))
    for chart in (
        charts.cadence(looked, number, told),
        charts.size(looked, number, told),
    ):
        if chart is not None:
            blocks.append(b.Picture(chart, chart.says))
    wave = charts.mean_pump(looked, number, told)
    if wave is not None:
        parts = tuple((told(f"part_{name}"), _part(f, name, told)) for name in charts.PARTS)
        blocks += [b.Picture(wave, wave.says, 220.0), b.group(b.Text(words("back.parts"), "lead"), b.Rows(parts))]
    for name, rows in groups(f, told):
        values = tuple((what, review.held_together(value).replace("→", "›")) for what, value, _ in rows)
        blocks.append(b.group(b.Text(name, "lead"), b.Rows(values)))
    blocks += _corrections(f, why, words, told)
    blocks += _notes(looked, f, words, told, writing, why.get(KEEP_NOTE, ""))
    return PageView(title, tuple(blocks))


def _part(f: FlightFigures, name: str, told: review.Words) -> str:
    if f.parts is None:
        return review.NONE
    part = f.parts[name]
    return f"{100 * part.share:.0f} %, {told.number(part.seconds, 2)} s"


def five_figures(looked: Looked, number: int, best: bool) -> dict[str, Any]:
    """The five figures as the coach told them; worked out from the flight where nothing was told. Which flight is the
    best is known in looking back alone: live, one that was carried may have been."""
    if (summary := summary_of(looked, number)) is not None:
        return {**dict(summary.figures), "best_today": float(best)}
    f = looked.figures.flights[number]
    out: dict[str, Any] = {"seconds": f.own_s or f.aloft_s, "best_today": float(best), "pumps": float(f.pumps)}
    if f.pumps < SHORT_FLIGHT and f.started_by in looked.figures.starts:
        start = looked.figures.starts[f.started_by]
        out |= {"starts_held": float(start.held), "starts_of": float(start.tries)}
    if f.cadence_early_hz is not None and f.cadence_late_hz is not None:
        out |= {"cadence_early_per_min": 60 * f.cadence_early_hz, "cadence_late_per_min": 60 * f.cadence_late_hz}
    elif f.cadence_hz is not None:
        out["cadence_per_min"] = 60 * f.cadence_hz
    out["size_percent"] = None if f.size_g is None else 100 * f.size_g
    out["size_needed_percent"] = None if f.size_needed_g is None else 100 * f.size_needed_g
    if f.speed_early_m_s is not None and f.speed_late_m_s is not None:
        out |= {"speed_early_m_s": f.speed_early_m_s, "speed_late_m_s": f.speed_late_m_s}
    elif f.steadiness is not None:
        out["steadiness_percent"] = 100 * f.steadiness
    else:
        out["landing_to_push_s"] = f.landing_to_push_s
    return out


def _corrections(f: FlightFigures, why: Mapping[str, str], words: Words, told: review.Words) -> list[b.Block]:
    """Kept at once when touched: what the file says is what is marked."""
    starts = tuple((start, told.started(start)) for start in SAID_STARTS)
    ends = tuple((end, told.ended(end)) for end in SAID_ENDS)
    helps = tuple((by, told.helped(by)) for by in HELPED_BY)
    helped = f.helped if f.helped in HELPED_BY else None if f.helped else "no"
    return [
        b.group(
            b.Text(words("back.started"), "lead"),
            not_kept(why.get(STARTED), words),
            b.Pick(STARTED, starts, f.started_by if f.started_by in SAID_STARTS else None, again=True),
        ),
        b.group(
            b.Text(words("back.ended"), "lead"),
            not_kept(why.get(ENDED), words),
            b.Pick(ENDED, ends, f.ended_by if f.ended_by in SAID_ENDS else None, again=True),
        ),
        b.group(
            b.Text(words("back.helped"), "lead"),
            b.Text(told.helped(f.helped), "small", True) if f.helped and helped is None else None,
            not_kept(why.get(HELPED), words),
            b.Pick(HELPED, helps, helped, again=True),
        ),
    ]


def _notes(
    looked: Looked, f: FlightFigures, words: Words, told: review.Words, writing: str | None, trouble: str
) -> list[b.Block]:
    mine = [n for n in looked.outing.notes if n.at_s is not None and f.start_s <= n.at_s <= f.end_s]
    out: list[b.Block] = [b.head(words("back.notes"))]
    for note in mine:
        by = told("who_at", who=note.who, at=minutes(note.at_s or 0.0))
        out.append(b.group(b.Text(shown(note.text)), b.Text(shown(by), "small", True)))
    if writing is None:
        return [*out, b.Push(NOTE, words("back.add_note"))]
    out.append(b.Write(NOTE, words("back.note"), writing, trouble=trouble))
    return [*out, b.Push(KEEP_NOTE, words("back.keep_note"), "strong")]
