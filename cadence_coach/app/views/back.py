"""Looking back: the list of outings, and one outing. Pure: from season rows and from what a review found."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import attrs

from cadence_coach.app.views import blocks as b
from cadence_coach.app.views import charts
from cadence_coach.app.words import Words
from cadence_coach.core import events as ev
from cadence_coach.land.score import SetScore
from cadence_coach.land.tell import heading, place, verdict
from cadence_coach.review import words as review
from cadence_coach.review.advice import Advice
from cadence_coach.review.counted import left_out_said
from cadence_coach.review.figures import Looked, OutingFigures
from cadence_coach.review.flight import FlightFigures
from cadence_coach.review.say import minutes
from cadence_coach.review.season_row import SeasonRow
from cadence_coach.review.sets import set_scores

FOCUS = "focus"
SHARE = "share"
NOTE = "note"
KEEP_NOTE = "keep_note"
OPEN = "open:"
"""Acts; after OPEN the path of an outing, or the number of a flight from 0."""


@attrs.frozen
class Listed:
    """One outing in the list: its file, and its row or why it cannot be read."""

    path: str
    row: SeasonRow | None
    trouble: str = ""


@attrs.frozen
class PageView:
    """A page of blocks; `file` is what is shared, where there is something."""

    title: str
    blocks: tuple[b.Block, ...]


def outings(
    listed: Sequence[Listed] | None, words: Words, goes_on: Callable[[str], bool] = lambda path: False
) -> PageView:
    """The outings, newest first; None while they are being read. goes_on: whether the one in that file does."""
    title = words("home.back")
    if listed is None:
        return PageView(title, (b.Text(words("back.reading"), muted=True),))
    if not listed:
        return PageView(title, (b.Text(words("back.none")),))
    told = review.Words(words.lang)
    newest = sorted(listed, key=lambda one: (one.row.start_utc or "") if one.row else "", reverse=True)
    whole = [_listed(one, one.row, goes_on(one.path), words, told) for one in newest if one.row is not None]
    damaged = [b.Text(words("back.unreadable", name=name_of(one.path))) for one in newest if one.row is None]
    return PageView(title, (*whole, *([b.head(words("back.damaged"))] if damaged else []), *damaged))


def _listed(one: Listed, row: SeasonRow, goes_on: bool, words: Words, told: review.Words) -> b.Go:
    day = told.when(row.start_utc, "day_only")
    sub = words("back.training") if row.on_land else _sub(row, words, told)
    title = words("back.on_land", when=day) if row.on_land else day
    at = told.when(row.start_utc, "time_only") if row.start_utc else ""
    marks = (at, row.foil, told("armchair") if row.armchair else "", words("back.goes_on") if goes_on else "")
    return b.Go(OPEN + one.path, title, "\n".join(filter(None, (sub, " · ".join(filter(None, marks))))))


def _sub(row: SeasonRow, words: Words, told: review.Words) -> str:
    """Tries and the best flight; below it why there is none, or what does not count."""
    one = row.tries == 1
    if row.flights:
        key = "back.one_flight" if one else "back.flights"
    elif row.left_out:
        key = "back.one_try" if one else "back.tries"
    else:
        key = "back.try_only" if one else "back.tries_only"
    line = words(key, tries=row.tries, best=told.span(row.best_s), pumps=row.pumps)
    return "\n".join(filter(None, (line, told.tell(left_out_said(row.left_out)))))


def outing(
    looked: Looked,
    advice: Advice,
    words: Words,
    *,
    focus: str | None,
    writing: str | None = None,
    trouble: Mapping[str, str] | None = None,
    goes_on: bool = False,
) -> PageView:
    """One outing. focus: the one that is taken now; writing: the note being written (None: none); trouble: an act that
    could not be done, and why; goes_on: it is still being recorded."""
    why = trouble or {}
    told = review.Words(words.lang)
    figures = looked.figures
    kit = told.kit(figures)
    blocks: list[b.Block] = [b.Text(words("back.goes_on_more"), "lead")] if goes_on else []
    blocks += [b.Text(kit, muted=True)] if kit else []
    if figures.on_land:
        blocks += _sets(looked, words)
    else:
        blocks += [_work_on(advice, focus, why.get(FOCUS), words, told), b.Numbers(numbers(figures, told))]
        blocks += _went(looked, words, told)
    blocks += _notes(looked, words, told, writing, why.get(KEEP_NOTE, ""))
    blocks += share(words("back.share"), why.get(SHARE, ""), words)
    blocks += [b.Text(line, "small", True) for line in care(looked, told)]
    return PageView(told.title(figures, short=True), tuple(blocks))


def share(what: str, not_shared: str, words: Words) -> list[b.Block]:
    """What shares a page; not_shared: why it could not."""
    why = [b.Text(words("back.not_shared", why=not_shared))] if not_shared else []
    return [b.Push(SHARE, what), *why]


def not_kept(why: str | None, words: Words) -> b.Text | None:
    """Above what was touched, where it is in sight: why the file did not take it; None where it did."""
    return b.Text(words("back.not_kept", why=why)) if why else None


def _work_on(advice: Advice, focus: str | None, why: str | None, words: Words, told: review.Words) -> b.Group:
    offer: b.Block | None = None
    if advice.focus is not None and advice.focus == focus:
        offer = b.Text(words("back.focus_taken"), "small", True)
    elif advice.focus is not None:
        offer = b.Push(FOCUS, words("back.focus"), "strong")
    return b.group(
        b.Text(told("one_thing"), "small", True),
        b.Text(told.tell(advice.says), "title"),
        *(b.Text(review.held_together(told.tell(line))) for line in advice.why),
        b.Text(f"{told('how')} {review.held_together(told.tell(advice.practise))}"),
        not_kept(why, words),
        offer,
    )


def numbers(figures: OutingFigures, told: review.Words) -> tuple[tuple[str, str], ...]:
    """The numbers of an outing, as the report has them."""
    tries, held = (sum(getattr(s, name) for s in figures.starts.values()) for name in ("tries", "held"))
    best = figures.flights[figures.best] if figures.best is not None else None
    return (
        (told.span(best.own_s) if best else review.NONE, told("best_own")),
        (f"{best.pumps}" if best else review.NONE, told("pumps_in_it")),
        (told("n_of_all", n=held, all=tries), told("tries_reached")),
        (told.span(figures.own_s), told("own_in_all")),
        (f"{figures.pumps}", told("pumps_in_all")),
    )


def _went(looked: Looked, words: Words, told: review.Words) -> list[b.Block]:
    figures = looked.figures
    chart = charts.timeline(looked, told)
    if chart is None:
        return [b.Text(told("no_try_found"))]
    out: list[b.Block] = [b.head(told("how_it_went")), b.Picture(chart, chart.says)]
    rows = [_flight(f, figures, told) for f in figures.flights]
    short = sum(a.flight is None for a in looked.outing.attempts)
    out += [b.head(told("flight_by_flight")), *rows] if rows else [b.Text(told("no_flight_section"))]
    if short:
        out.append(b.Text(words("back.short_tries" if short > 1 else "back.short_try", n=short), "small", True))
    return out


def _flight(f: FlightFigures, figures: OutingFigures, told: review.Words) -> b.Go:
    tags = [minutes(f.start_s), told.started(f.started_by), told.ended(f.ended_by)]
    tags += told.tags(f, f.flight == figures.best)
    line = f"{told('flight_n', n=f.flight + 1)}: {told.span(f.aloft_s)}, {f.pumps} {told('col_pumps')}"
    return b.Go(f"{OPEN}{f.flight}", line, " · ".join(tags))


def _sets(looked: Looked, words: Words) -> list[b.Block]:
    """The sets of a training, each as it was told when it was done."""
    scores = set_scores(looked.outing)
    if not scores:
        return [b.Text(words("land.nothing_kept"))]
    out: list[b.Block] = []
    for number, score in enumerate(scores, start=1):
        out.append(set_card(number, len(scores), score, words))
    return out


def set_card(number: int, of: int, score: SetScore, words: Words) -> b.Group:
    """One set: lock, tempo, where beside the click, and whether it passed."""
    told = review.Words(words.lang)
    chart = charts.offsets(score, words)
    return b.group(
        b.Text(heading(number, of, score.tempo_per_min, words.lang), "lead"),
        b.Text(verdict(score.passed, score.shortfalls, words.lang)),
        b.Rows(
            (
                (words("land.lock"), told.number(score.lock_r, 2)),
                (words("land.steady"), told.percent(score.steadiness, 1)),
                (words("land.tempo_was"), told.number(score.cadence_per_min, 1)),
                (words("land.moves"), words("land.of_clicks", moves=score.matched, clicks=score.clicks)),
            )
        ),
        b.Text(place(score.lead_s, words.lang), "small", True),
        b.Picture(chart, chart.says, 120.0) if score.offsets_s else None,
    )


def _notes(looked: Looked, words: Words, told: review.Words, writing: str | None, trouble: str) -> list[b.Block]:
    out: list[b.Block] = [b.head(words("back.notes"))]
    for note in looked.outing.notes:
        by = told("who_when", who=note.who, when=told.when(note.when_utc))
        if note.at_s is not None:
            by = told("who_at_outing", who=note.who, at=minutes(note.at_s))
        out.append(b.group(b.Text(shown(note.text)), b.Text(shown(by), "small", True)))
    if writing is None:
        out.append(b.Push(NOTE, words("back.add_note")))
    else:
        out.append(b.Write(NOTE, words("back.note"), writing, trouble=trouble))
        out.append(b.Push(KEEP_NOTE, words("back.keep_note"), "strong"))
    return out


def shown(text: str) -> str:
    """A stranger's text as a label can take it: no control signs, which a font draws as boxes."""
    return "".join(c if c == "\n" or c.isprintable() else " " for c in text)


def care(looked: Looked, told: review.Words) -> list[str]:
    from cadence_coach.review.report import care as said

    return said(looked, told)


def unreadable(why: str, words: Words) -> PageView:
    return PageView(words("home.back"), (b.Text(why),))


def reading(words: Words) -> PageView:
    return PageView(words("home.back"), (b.Text(words("back.reading"), muted=True),))


def summary_of(looked: Looked, number: int) -> ev.Summary | None:
    """What the coach told after a flight, where it did."""
    return next((s for s in looked.outing.summaries if s.flight == number), None)


def name_of(path: str) -> str:
    """A file's name as it can be read and wrapped: day, time and the rest."""
    stem = Path(path).stem
    if found := re.fullmatch(r"(\d{4}-\d\d-\d\d)T(\d\d)-(\d\d)-\d\dZ-(.+)", stem):
        stem = "{} {}:{}, {}".format(*found.groups())
    return " ".join(part for word in stem.split() for part in re.findall(r".{1,16}", word))
