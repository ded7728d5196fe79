"""An outing as lines of plain text for a terminal: the same order as the report."""

from __future__ import annotations

from cadence_coach.review import words
from cadence_coach.review.advice import Advice
from cadence_coach.review.draw import minutes
from cadence_coach.review.figures import Looked
from cadence_coach.review.flight import FlightFigures

HEAD = ("no.", "at", "aloft", "pumps", "a minute", "size", "in band", "steady", "start, end")


def lines(looked: Looked, advice: Advice) -> list[str]:
    f = looked.figures
    tries = sum(s.tries for s in f.starts.values())
    out = [f"On the water, {words.when(f.start_utc)}" + (f" · {words.kit(f)}" if words.kit(f) else ""), ""]
    out += [f"Work on: {advice.says}", *(f"  - {why}" for why in advice.why), f"  How: {advice.practise}", ""]
    if tries:
        held = sum(s.held for s in f.starts.values())
        out.append(
            f"{tries} tries, {held} reached five pumps; {words.span(f.own_s)} on your own, {f.pumps} pumps in all."
        )
    for kind, s in f.starts.items():
        push = "" if s.landing_to_push_s is None else f", landing to push {s.landing_to_push_s:.2f} s"
        out.append(f"  {words.STARTED[kind]}: {s.flights} of {s.tries} became a flight{push}")
    if f.flights:
        out += ["", *_table([_row(one, one.flight == f.best) for one in f.flights])]
    if f.helped:
        out.append(f"Helped by swell or wake: flight {', '.join(str(i + 1) for i in f.helped)}.")
    if f.legs_went_s is not None:
        out.append(f"The legs went after {minutes(f.legs_went_s)}.")
    if f.gaps:
        out.append(f"Holes in the data: {f.gaps}, {f.gap_s:.1f} s in all.")
    for note in looked.outing.notes:
        where = "" if note.at_s is None else f" at {minutes(note.at_s)}"
        out.append(f"Note of {note.who}{where}: {note.text}")
    return out


def _row(f: FlightFigures, best: bool) -> tuple[str, ...]:
    ways = f"{words.STARTED[f.started_by]}, {words.ENDED[f.ended_by]}" + (" (best)" if best else "")
    size = (
        words.percent(f.size_ratio) + " of needed"
        if f.size_ratio is not None
        else words.percent(f.size_g) + " of weight"
    )
    return (
        str(f.flight + 1),
        minutes(f.start_s),
        words.span(f.aloft_s),
        str(f.pumps),
        words.course(f),
        size,
        words.percent(f.in_band),
        words.percent(f.steadiness),
        ways,
    )


def _table(rows: list[tuple[str, ...]]) -> list[str]:
    whole = [HEAD, *rows]
    widths = [max(len(row[i]) for row in whole) for i in range(len(HEAD))]
    return ["  ".join(cell.ljust(w) for cell, w in zip(row, widths, strict=True)).rstrip() for row in whole]
