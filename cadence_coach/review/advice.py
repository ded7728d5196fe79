"""One thing to work on next, with the figures behind it.

A rule looks at the flights that are the rider's own (no rope drill, not carried, no large hole in the data) and answers
with an Advice or with None. The order of RULES is the order of what costs most: whoever does not get going has no
cadence to mend. A focus that rider or coach has set goes first, as long as its rule still holds. Values shared with the
live coach are taken from `core.rules`. Never a cause that the body cannot show (nose angle, ride height, pressure under
a foot).
"""

from __future__ import annotations

from collections.abc import Sequence

from cadence_coach.core import rules
from cadence_coach.review.advising import Advice, Rule, indices, median
from cadence_coach.review.figures import Looked
from cadence_coach.review.flight import FlightFigures
from cadence_coach.review.flight_rules import EVEN_FROM, cadence, ending, fade, size, steadiness, timing
from cadence_coach.review.start_rules import rest, start

HOLE_SHARE = 0.02
"""A hole that took no more of a flight than this costs a pump or two and changes no median; the ladder is stricter."""

RULES: tuple[Rule, ...] = (start, size, cadence, fade, ending, steadiness, timing, rest)
"""In the order of what costs most."""


def one_thing(looked: Looked) -> Advice:
    """The first rule that holds, focus first; always an answer."""
    flights = _scored(looked)
    held = [found for rule in RULES if (found := rule(looked, flights)) is not None]
    focus = looked.figures.focus
    for found in held:
        if focus and found.focus == focus:
            return found
    return held[0] if held else _numbers_alone(looked, flights)


def _scored(looked: Looked) -> list[FlightFigures]:
    return [f for f in looked.figures.own_flights if f.gap_s <= HOLE_SHARE * f.own_s]


def _numbers_alone(looked: Looked, flights: Sequence[FlightFigures]) -> Advice:
    figures = looked.figures
    if not figures.flights:
        tries = len(looked.outing.attempts)
        said = f"{tries} tries, none with three pumps." if tries else "No try was found in this outing."
        says = "Get three pumps: that makes a flight." if tries else "Nothing to judge yet."
        return Advice(
            "none",
            "start" if tries else None,
            says,
            (said,),
            "Have the start shown to you, then short tries with rests.",
        )
    if not flights:
        why = "All flights were in a rope drill, carried by swell or wake, or have holes in the data."
        return Advice(
            "none",
            None,
            "Nothing of your own to judge in this outing.",
            (why,),
            "Fly on your own once, then look again.",
        )
    long = [f for f in flights if f.pumps >= EVEN_FROM and f.steadiness is not None]
    if long and median([f.steadiness or 0.0 for f in long]) <= rules.CLEAN:
        cv = 100.0 * median([f.steadiness or 0.0 for f in long])
        why = f"{len(long)} flights with ten pumps and more, {cv:.1f} % from pump to pump, no fade, size as needed."
        return Advice(
            "clean",
            None,
            "Clean. The same again, a little longer.",
            (why,),
            "Take the next rung of the ladder.",
            indices(long),
        )
    best = max(flights, key=lambda f: f.own_s)
    why = f"Best flight {best.own_s:.0f} s with {best.pumps} pumps; no rule found a fault that repeats."
    return Advice(
        "numbers",
        None,
        "Nothing stands out. More flights like your best.",
        (why,),
        "Repeat what you did in the best flight.",
        (best.flight,),
    )
