"""An outing as lines of plain text for a terminal: the same order as the report."""

from __future__ import annotations

from cadence_coach.review.advice import Advice
from cadence_coach.review.figures import Looked
from cadence_coach.review.flight import LEFT_OUT, FlightFigures
from cadence_coach.review.say import minutes
from cadence_coach.review.sets import told_sets
from cadence_coach.review.words import Words

HEAD = ("no", "at", "aloft", "pumps", "a_minute", "size", "in_band", "steady", "start_end")


def lines(looked: Looked, advice: Advice, w: Words) -> list[str]:
    f = looked.figures
    tries = sum(s.tries for s in f.starts.values())
    kit = w.kit(f)
    out = [w.title(f) + (f" · {kit}" if kit else ""), ""]
    out += [w.tell(advice.says) if f.on_land else w("work_on", says=advice.says)]
    out += [*(f"  - {w.tell(why)}" for why in advice.why), f"  {w('how')} {w.tell(advice.practise)}", ""]
    for title, told in told_sets(looked.outing, w.lang) if f.on_land else ():
        out += [title, *(f"  {line}" for line in told)]
    if tries:
        held = sum(s.held for s in f.starts.values())
        out.append(w("tries_line", tries=tries, held=held, own=w.span(f.own_s), pumps=f.pumps))
    for kind, s in f.starts.items():
        key = "became_flight" if s.landing_to_push_s is None else "became_flight_landing"
        out.append("  " + w(key, start=w.started(kind), flights=s.flights, tries=s.tries, landing=s.landing_to_push_s))
    if f.flights:
        out += ["", *_table([_row(one, one.flight == f.best, w) for one in f.flights], w)]
    for why in LEFT_OUT:
        if numbers := [str(one.flight + 1) for one in f.flights if one.left_out == why]:
            out.append(w(f"{why}_flights", flights=", ".join(numbers)))
    if f.legs_went_s is not None:
        out.append(w("legs_went", at=minutes(f.legs_went_s)))
    if f.gaps:
        out.append(w("holes_line", n=f.gaps, seconds=f.gap_s))
    for note in looked.outing.notes:
        if note.at_s is None:
            out.append(w("note_line", who=note.who, text=note.text))
        else:
            out.append(w("note_line_at", who=note.who, at=minutes(note.at_s), text=note.text))
    return out


def _row(f: FlightFigures, best: bool, w: Words) -> tuple[str, ...]:
    ways = f"{w.started(f.started_by)}, {w.ended(f.ended_by)}" + "".join(f" ({tag})" for tag in w.tags(f, best))
    return (
        str(f.flight + 1),
        minutes(f.start_s),
        w.span(f.aloft_s),
        str(f.pumps),
        w.course(f),
        w.size(f),
        w.percent(f.in_band),
        w.percent(f.steadiness),
        ways,
    )


def _table(rows: list[tuple[str, ...]], w: Words) -> list[str]:
    whole = [tuple(w(f"col_{name}") for name in HEAD), *rows]
    widths = [max(len(row[i]) for row in whole) for i in range(len(HEAD))]
    return ["  ".join(cell.ljust(w) for cell, w in zip(row, widths, strict=True)).rstrip() for row in whole]
