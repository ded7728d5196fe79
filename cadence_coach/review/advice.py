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
from cadence_coach.review.advising import HALF, Advice, Rule, indices, median, seen_in
from cadence_coach.review.figures import Looked, armed
from cadence_coach.review.flight import FlightFigures
from cadence_coach.review.flight_rules import (
    EVEN_FROM,
    cadence,
    ending,
    fade,
    faded,
    shrank,
    shrinking,
    size,
    steadiness,
    timing,
)
from cadence_coach.review.ladder import CONFIRMED_TAG, score
from cadence_coach.review.rungs import RUNG
from cadence_coach.review.say import Said, say
from cadence_coach.review.sets import sets_advice
from cadence_coach.review.start_rules import rest, start

RULES: tuple[Rule, ...] = (start, size, cadence, fade, ending, steadiness, timing, shrinking, rest)
"""In the order of what costs most."""


def one_thing(looked: Looked) -> Advice:
    """The first rule that holds, focus first; always an answer."""
    if looked.figures.on_land:
        return sets_advice(looked.outing)
    flights = looked.figures.counted
    held = [found for rule in RULES if (found := rule(looked, flights)) is not None]
    focus = looked.figures.focus
    for found in held:
        if focus and found.focus == focus:
            return found
    return held[0] if held else _numbers_alone(looked, flights)


def _numbers_alone(looked: Looked, flights: Sequence[FlightFigures]) -> Advice:
    figures = looked.figures
    if not flights and armed(looked.outing) == "rope_drill":
        return _on_the_rope(looked)
    if not figures.flights:
        tries = len(looked.outing.attempts)
        says, why = ("no_flight_says", "no_flight_why") if tries else ("no_try_says", "no_try_why")
        practise = say("no_flight_practise")
        return Advice("none", "start" if tries else None, say(says), (say(why, tries=tries),), practise)
    if not flights:
        return Advice("none", None, say("not_own_says"), (say("not_own_why"),), say("not_own_practise"))
    long = [f for f in flights if f.pumps >= EVEN_FROM and f.steadiness is not None]
    clean = [f for f in long if not faded(f) and not shrank(looked, f)]
    if len(clean) > HALF * len(long) and median([f.steadiness or 0.0 for f in clean]) <= rules.CLEAN:
        return Advice("clean", None, say("clean_says"), _clean_why(clean, long), say("clean_practise"), indices(clean))
    best = max(flights, key=lambda f: f.own_s)
    why_best = say("numbers_why", seconds=best.own_s, pumps=best.pumps)
    return Advice("numbers", None, say("numbers_says"), (why_best,), say("numbers_practise"), (best.flight,))


def _clean_why(clean: Sequence[FlightFigures], long: Sequence[FlightFigures]) -> tuple[Said, ...]:
    """Of fade and size only where they were looked at: under rules.TWO_CADENCES pumps there is no late and early, and
    without a profile no size that is needed."""
    why = [say("clean_why", seen=seen_in(clean, long), cv=100.0 * median([f.steadiness or 0.0 for f in clean]))]
    held = [f for f in clean if f.drift is not None]
    if held:
        why.append(say("held_why", seen=seen_in(held, [f for f in long if f.drift is not None], long=True)))
    sized = [f for f in long if f.size_ratio is not None]
    big = [f for f in sized if (f.size_ratio or 0.0) >= rules.SIZE_SHARE]
    if big:
        why.append(say("as_needed_why", seen=seen_in(big, sized)))
    return tuple(why)


def _on_the_rope(looked: Looked) -> Advice:
    """Somebody in a rope drill cannot fly on their own yet: the next rung there, how far it is, who confirms it."""
    coming = next((r for r in score(looked) if RUNG[r.key].rope and not r.passed), None)
    if coming is None:
        let_go = RUNG["ten_pumps"]
        return Advice("none", None, say("rope_done_says"), (let_go.passes,), let_go.practise)
    rung = RUNG[coming.key]
    why = (say("rope_why", passes=rung.passes), *coming.standing)
    confirmed = CONFIRMED_TAG in looked.outing.tags
    how = rung.practise if confirmed else say("rope_confirm", how=rung.practise)
    return Advice("none", None, say("rope_says", name=rung.name), why, how)
