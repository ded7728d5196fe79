"""The ladder and the season, from the season's rows. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from cadence_coach.app.views import blocks as b
from cadence_coach.app.views import charts
from cadence_coach.app.views.back import PageView, share
from cadence_coach.app.words import Words
from cadence_coach.review import words as review
from cadence_coach.review.counted import armchair_said, counted_rows
from cadence_coach.review.ladder import RungResult, merge, next_rung
from cadence_coach.review.rungs import RUNGS, Rung
from cadence_coach.review.season import Season, step_said
from cadence_coach.review.season_page import OVER_DAYS, headline, span, trend_lines
from cadence_coach.review.season_row import SeasonRow

RUNG = "rung:"
"""Act; after it the key of a rung to open or close."""
TRAIN, RIDE = "train", "ride"


def ladder(rows: Sequence[SeasonRow] | None, open_rung: str | None, words: Words, failed: int = 0) -> PageView:
    """All rungs, the next one in full; `open_rung` is one that was touched. failed: outings that could not be read."""
    title = words("home.ladder")
    if rows is None:
        return PageView(title, (b.Text(words("back.reading"), muted=True),))
    told = review.Words(words.lang)
    results: Mapping[str, RungResult] = {r.key: r for r in merge(row.rungs for row in counted_rows(rows))}
    coming = next_rung([results[r.key] for r in RUNGS if r.key in results])
    key = coming.key if coming is not None else (RUNGS[0].key if not results else None)
    passed = sum(r.passed for r in results.values())
    blocks: list[b.Block] = [b.Text(words("ladder.reached", n=passed, all=len(RUNGS)), muted=True)]
    if said := armchair_said(rows):
        blocks.append(b.Text(told.tell(said), "small", True))
    for rung in RUNGS:
        result = results.get(rung.key)
        if rung.key == key:
            blocks.append(_in_full(rung, result, words, told, words("ladder.next")))
        elif rung.key == open_rung:
            blocks.append(_in_full(rung, result, words, told, ""))
        else:
            said = told.tell(result.said or result.missing) if result is not None else ""
            mark = "ladder.mark_reached" if result is not None and result.passed else ""
            name = told.tell(rung.name)
            blocks.append(b.Go(RUNG + rung.key, words(mark, name=name) if mark else name, said))
    if failed:
        blocks.append(b.Text(words("season.not_read", n=failed), "small", True))
    blocks.append(b.Text(told("ladder_care"), "small", True))
    return PageView(title, tuple(blocks))


def _in_full(rung: Rung, result: RungResult | None, words: Words, told: review.Words, above: str) -> b.Group:
    best = told.tell(result.standing) if result is not None else ""
    parts = (
        ("ladder.why", told.tell(rung.why)),
        ("ladder.how", told.tell(rung.practise)),
        ("ladder.best", review.held_together(best) or review.NONE),
        ("ladder.target", review.held_together(told.tell(rung.passes))),
    )
    lines: list[b.Block] = []
    for key, text in parts:
        lines += [b.Text(words(key), "small", True), b.Text(text)]
    go: b.Block = b.Push(RUNG + rung.key, words("ladder.close"), "quiet")
    if above:
        go = b.Push(TRAIN, words("ladder.to_train"), "strong") if rung.land else b.Push(RIDE, words("ladder.to_ride"))
    return b.group(b.Text(above, "small", True) if above else None, b.Text(told.tell(rung.name), "title"), *lines, go)


def season(found: Season | None, failed: int, words: Words, not_shared: str = "") -> PageView:
    """Trends, charts over the days, and what the next duration would take. not_shared: why its page could not be."""
    title = words("home.season")
    if found is None:
        return PageView(title, (b.Text(words("back.reading"), muted=True),))
    told = review.Words(words.lang)
    if not found.rows:
        return PageView(title, (b.Text(told("season_none")),))
    blocks: list[b.Block] = [b.Text(span(found, told), muted=True), b.Numbers(tuple(headline(found, told)))]
    if found.left_out:
        blocks.append(b.Text(told.tell(found.left_out), "small", True))
    trends = trend_lines(found, told)
    lines = [b.Text(review.held_together(line)) for line in trends] or [b.Text(words("season.too_few"))]
    blocks.append(b.group(b.Text(words("season.better"), "lead"), *lines))
    for name, _, scale in OVER_DAYS:
        chart = charts.over_days(found, name, scale, told, best=name == "best_s")
        if chart is not None:
            blocks.append(b.Picture(chart, chart.says))
    steps = (b.Text(review.held_together(told.tell(said))) for said in step_said(found))
    blocks.append(b.group(b.Text(told("season_last"), "lead"), *steps))
    blocks += share(words("season.share"), not_shared, words)
    if failed:
        blocks.append(b.Text(words("season.not_read", n=failed), "small", True))
    blocks.append(b.Text(told("season_foot"), "small", True))
    return PageView(title, tuple(blocks))
