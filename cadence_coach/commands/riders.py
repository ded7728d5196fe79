"""Whose outings: a season and a ladder are one rider's, a coach's folder holds many."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from cadence_coach.commands.flight_table import columns
from cadence_coach.commands.naming import own_profile
from cadence_coach.errors import Refused
from cadence_coach.review.counted import added, armchair_said, counted_rows, left_out_said
from cadence_coach.review.ladder import merge, next_rung
from cadence_coach.review.rungs import RUNG
from cadence_coach.review.words import Words

if TYPE_CHECKING:
    from cadence_coach.review.season_row import SeasonRow


def only(rows: Sequence[SeasonRow], name: str, wanted: str | None) -> list[SeasonRow]:
    """Rows whose `name` (rider, foil or water) is `wanted`, upper and lower case alike; all where nothing is wanted.

    Raises Refused, with what there is, where none is left.
    """
    if wanted is None:
        return list(rows)
    there = sorted({getattr(r, name) for r in rows})
    kept = [r for r in rows if getattr(r, name).casefold() == wanted.casefold()]
    if not kept:
        raise Refused(
            f"--{name} {wanted}: no such outing; there is {', '.join(t or 'one not said' for t in there) or 'none'}"
        )
    return kept


def of_one(rows: Sequence[SeasonRow], wanted: str | None, own: bool) -> list[SeasonRow]:
    """The rows of one rider, where it is clear which: the one named, the only one, or with `own` the one of the profile
    in the data folder. Else the rows of all."""
    rows = only(rows, "rider", wanted)
    mine = _own_name() if own and wanted is None else None
    return [r for r in rows if r.rider == mine] or list(rows)


def names(rows: Sequence[SeasonRow]) -> list[str]:
    return sorted({r.rider for r in rows})


def rider_lines(rows: Sequence[SeasonRow], words: Words) -> list[str]:
    """One line a rider, the longest flight first: what a coach of many looks at before the single one;
    then whose outings or flights do not all count, and why."""
    table = [[words(f"col_{c}") for c in ("rider", "outings", "longest", "pumps", "steadiness", "next_rung")]]
    all_of = {name: [r for r in rows if r.rider == name] for name in names(rows)}
    parts = {name: counted_rows(part) for name, part in all_of.items()}
    for name, part in sorted(parts.items(), key=lambda item: -max(r.best_s for r in item[1])):
        steady = sorted(r.steadiness for r in part if r.steadiness is not None)
        coming = next_rung(merge(r.rungs for r in part))
        table.append(
            [
                name or words("not_said"),
                str(len(part)),
                words.span(max(r.best_s for r in part)),
                str(sum(r.pumps for r in part)),
                words.percent(steady[len(steady) // 2] if steady else None),
                words.tell(RUNG[coming.key].name) if coming else "–",
            ]
        )
    notes = []
    for name, part in parts.items():
        if said := armchair_said(all_of[name]) + left_out_said(added(r.left_out for r in part)):
            notes.append(f"{name or words('not_said')}: {words.tell(said)}")
    return [*columns(table, left=(0, 5)), *notes]


def _own_name() -> str | None:
    from cadence_coach.foil.profile import load_profile

    path = own_profile(None)
    if path is None:
        return None
    try:
        return load_profile(path).rider
    except Refused:
        return None  # a broken profile is said where it is needed
