"""Which flights count for best, longest, advice and ladder, and what is said where some do not.

One rule for all places: what `review` calls the best flight is what season, ladder and club table go by.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping

from cadence_coach.review.flight import LEFT_OUT, FlightFigures
from cadence_coach.review.say import Said, say


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
