"""What an advice is, and the words and small sums that its rules share."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import attrs
import numpy as np

from cadence_coach.review.figures import Looked
from cadence_coach.review.flight import FlightFigures
from cadence_coach.review.say import Said, say

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
    says: Said
    why: tuple[Said, ...]
    practise: Said
    flights: tuple[int, ...] = ()


Rule = Callable[[Looked, Sequence[FlightFigures]], Advice | None]


def enough(part: Sequence[FlightFigures], whole: Sequence[FlightFigures]) -> bool:
    """Whether what shows in a part of the flights repeats: in HALF of them, and in two flights or a long one."""
    return len(part) >= HALF * len(whole) and (len(part) >= 2 or any(f.pumps >= LONG_PUMPS for f in part))


def indices(flights: Sequence[FlightFigures]) -> tuple[int, ...]:
    return tuple(f.flight for f in flights)


def seen_in(part: Sequence[object], whole: Sequence[object], long: bool = False) -> Said:
    """ "In 5 of 8 flights"; "In the one flight" where there is only that."""
    kind = "long_flight" if long else "flight"
    return say(f"in_the_{kind}") if len(whole) == 1 else say(f"in_{kind}s", n=len(part), all=len(whole))


def median(values: Sequence[float]) -> float:
    return float(np.median(values))
