"""Rules of advice about getting going and about resting between tries."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from cadence_coach.core import rules
from cadence_coach.core.guard import rest as rest_wanted
from cadence_coach.core.rules import HELD
from cadence_coach.review.advising import HALF, Advice, indices, median
from cadence_coach.review.figures import Looked
from cadence_coach.review.flight import FlightFigures
from cadence_coach.review.flight_rules import BAND_FROM, beside_band
from cadence_coach.review.say import say

FEW_TRIES = 3
START_HOLDS = 0.6
"""Three of five tries: what the ladder asks of a start."""
FIRST_SLOWER = 1.12
"""First periods of tries that died against those that held: more than two spreads of a usual 5 % start."""

NEARLY_ALL = 0.8
"""Of the pumping time. A short flight is mostly the start, in which a beat outside the band is no fault by itself."""


def start(looked: Looked, flights: Sequence[FlightFigures]) -> Advice | None:
    """Run-up or step: most tries do not reach HELD pumps. Slow to push says so; else a slow first beat; else
    practise. Short flights nearly all beside the band are told as well: there may be no long one to show it."""
    tries = [a for a in looked.outing.attempts if a.started_by in ("run_up", "step")]
    held = [a for a in tries if a.pumps >= HELD]
    if len(tries) < FEW_TRIES or len(held) >= START_HOLDS * len(tries):
        return None
    why = [say("starts_why", n=len(held), all=len(tries), held=HELD)]
    short = [f for f in flights if f.pumps < BAND_FROM and f.in_band is not None]
    _, out, told = beside_band(looked, short, NEARLY_ALL)
    if out:
        why += [say("short_beside_why", n=len(out), all=len(short)), told[-1]]
    pushes = [a.landing_to_push_s for a in tries if a.landing_to_push_s is not None]
    if pushes and median(pushes) > rules.SLOW_FIRST_PUSH_S:
        why.append(say("late_push_why", took=median(pushes), late=rules.SLOW_FIRST_PUSH_S))
        return Advice("start: late push", "start", say("late_push_says"), tuple(why), say("late_push_practise"))
    numbers = {f.attempt: f for f in looked.figures.flights}
    firm = [f for f in numbers.values() if f.pumps >= HELD and f.attempt in {a.attempt for a in held}]
    lost = [f for f in numbers.values() if f.pumps < HELD and f.started_by in ("run_up", "step")]
    if firm and lost:
        slow, quick = median([f.first_periods_s[0] for f in lost]), median([f.first_periods_s[0] for f in firm])
        if slow > FIRST_SLOWER * quick:
            why.append(say("slow_first_why", slow=slow, quick=quick))
            says, practise = say("slow_first_says"), say("slow_first_practise")
            return Advice("start: slow first pumps", "start", says, tuple(why), practise, indices(lost))
    return Advice("start: does not hold", "start", say("start_says"), tuple(why), say("start_practise"))


def rest(looked: Looked, flights: Sequence[FlightFigures]) -> Advice | None:
    """The legs went, and half of the rests before that and more were shorter than the coach asks for: after a flight,
    not after a try that did not become one, nor after one that a hole in the data cut."""
    went = looked.figures.legs_went_s
    if went is None:
        return None
    tries = looked.outing.attempts
    pairs = [(a, b) for a, b in pairwise(tries) if b.start <= went and a.flight is not None and a.ended_by != "gap"]
    short = [b.start - a.time for a, b in pairs if b.start - a.time < rest_wanted(a.time - a.start)]
    if not short or len(short) < HALF * len(pairs):
        return None
    why = (say("legs_why", minutes=went / 60.0), say("rests_why", n=len(short), middle=median(short)))
    return Advice("rest", None, say("rest_says"), why, say("rest_practise"))
