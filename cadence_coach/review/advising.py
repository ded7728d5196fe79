"""What an advice is, and the words and small sums that its rules share."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import attrs
import numpy as np

from cadence_coach.review.figures import Looked
from cadence_coach.review.flight import FlightFigures

LONG_PUMPS = 40
"""One flight alone is evidence from here on: as many pumps as three or four short ones."""

HALF = 0.5
"""A fault that shows in fewer flights than this does not repeat."""


@attrs.frozen
class Advice:
    """`rule` names the rule, `focus` what it becomes when it is taken on; `says` is the change in one sentence, `why`
    the figures behind it, `practise` how; `flights` the evidence."""

    rule: str
    focus: str | None
    says: str
    why: tuple[str, ...]
    practise: str
    flights: tuple[int, ...] = ()


Rule = Callable[[Looked, Sequence[FlightFigures]], Advice | None]


def enough(part: Sequence[FlightFigures], whole: Sequence[FlightFigures]) -> bool:
    """Whether what shows in a part of the flights repeats: in HALF of them, and in two flights or a long one."""
    return len(part) >= HALF * len(whole) and (len(part) >= 2 or any(f.pumps >= LONG_PUMPS for f in part))


def indices(flights: Sequence[FlightFigures]) -> tuple[int, ...]:
    return tuple(f.flight for f in flights)


def of(part: Sequence[object], whole: Sequence[object], what: str) -> str:
    """ "5 of 8 flights"; "the one flight" where there is only that."""
    return f"the one {what.removesuffix('s')}" if len(whole) == 1 else f"{len(part)} of {len(whole)} {what}"


def median(values: Sequence[float]) -> float:
    return float(np.median(values))


def per_minute(hz: float) -> str:
    return f"{60.0 * hz:.0f} a minute"
