"""Which flights and which outings count for best, longest, ladder and band, and what is said where some do not.

One rule for all places: what `review` calls the best flight is what season, ladder and club table go by.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from cadence_coach.review.flight import LEFT_OUT, FlightFigures
from cadence_coach.review.say import Said, say
from cadence_coach.store.outing import Outing

if TYPE_CHECKING:
    from cadence_coach.review.season_row import SeasonRow

SIMULATED = "simulated"
"""How the device of a simulated rider or mover begins (`sim.outing`, `sources.squats`), also in a recording of one."""


def left_out(flights: Iterable[FlightFigures]) -> dict[str, int]:
    """How many flights do not count, by reason."""
    return dict(Counter(f.left_out for f in flights if f.left_out is not None))


def added(parts: Iterable[Mapping[str, int]]) -> dict[str, int]:
    """Those of several outings together."""
    total: Counter[str] = Counter()
    for part in parts:
        total.update(part)
    return dict(total)


def left_out_said(counts: Mapping[str, int]) -> tuple[Said, ...]:
    """One short sentence a reason."""
    return tuple(say(f"{reason}_left_out", n=counts[reason]) for reason in LEFT_OUT if counts.get(reason))


def armchair(outing: Outing) -> bool:
    """Whether nobody rode: its samples were simulated."""
    source = outing.meta.get("source") or {}
    device = (source.get("meta") or {}).get("device") or outing.meta.get("device")
    return str(device or "").startswith(SIMULATED)


def counted_rows(rows: Iterable[SeasonRow]) -> list[SeasonRow]:
    """The outings that count, in their order: a rider's armchair outings only where that rider has no others."""
    rows = list(rows)
    rode = {r.rider for r in rows if not r.armchair}
    return [r for r in rows if not r.armchair or r.rider not in rode]


def armchair_said(rows: Sequence[SeasonRow]) -> tuple[Said, ...]:
    """Of all outings of a rider: that some were left out, or that there are none but simulated ones."""
    simulated = sum(r.armchair for r in rows)
    if not simulated:
        return ()
    return (say("armchair_only") if simulated == len(rows) else say("armchair_left_out", n=simulated),)
