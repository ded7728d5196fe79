"""Rules of advice about getting going and about resting between tries."""

from __future__ import annotations

from collections.abc import Sequence

from cadence_coach.core import rules
from cadence_coach.review.advising import HALF, Advice, indices, median, of
from cadence_coach.review.figures import HELD, Looked
from cadence_coach.review.flight import FlightFigures

FEW_TRIES = 3
START_HOLDS = 0.6
"""Three of five tries: what the ladder asks of a start."""
FIRST_SLOWER = 1.12
"""First periods of tries that died against those that held: more than two spreads of a usual 5 % start."""


def start(looked: Looked, flights: Sequence[FlightFigures]) -> Advice | None:
    """Run-up or step: most tries do not reach HELD pumps. Slow to push says so; else a slow first beat; else
    practise."""
    tries = [a for a in looked.outing.attempts if a.started_by in ("run_up", "step")]
    held = [a for a in tries if a.pumps >= HELD]
    if len(tries) < FEW_TRIES or len(held) >= START_HOLDS * len(tries):
        return None
    why = [f"{of(held, tries, 'run-up or step starts')} reached {HELD} pumps."]
    pushes = [a.landing_to_push_s for a in tries if a.landing_to_push_s is not None]
    if pushes and median(pushes) > rules.SLOW_FIRST_PUSH_S:
        why.append(
            f"From landing to the first push you took {median(pushes):.1f} s in the middle; {rules.SLOW_FIRST_PUSH_S} "
            f"s is late."
        )
        return Advice(
            "start: late push",
            "start",
            "Push as soon as both feet are down.",
            tuple(why),
            "On land: step onto a low box and push in the same count, ten times. On the water: say “now” as the "
            "second foot lands.",
        )
    numbers = {f.attempt: f for f in looked.figures.flights}
    firm = [f for f in numbers.values() if f.pumps >= HELD and f.attempt in {a.attempt for a in held}]
    lost = [f for f in numbers.values() if f.pumps < HELD and f.started_by in ("run_up", "step")]
    if firm and lost:
        slow, quick = median([f.first_periods_s[0] for f in lost]), median([f.first_periods_s[0] for f in firm])
        if slow > FIRST_SLOWER * quick:
            why.append(f"The first pump took {slow:.2f} s in tries that died, {quick:.2f} s in those that held.")
            return Advice(
                "start: slow first pumps",
                "start",
                "Make the first three pumps quick.",
                tuple(why),
                "Count one-two-three aloud, as quick as your best tries, then settle into your own beat.",
                indices(lost),
            )
    return Advice(
        "start: does not hold",
        "start",
        "Work on the start before anything else: five pumps, every time.",
        tuple(why),
        "Short tries with rests: stop after five pumps on purpose, and do it again. Three of five in a row is the "
        "goal.",
    )


def rest(looked: Looked, flights: Sequence[FlightFigures]) -> Advice | None:
    """The legs went, and the rests before that were shorter than rules.REST_FACTOR the flight and
    rules.REST_LEAST_S."""
    went = looked.figures.legs_went_s
    if went is None:
        return None
    short = []
    pairs = list(zip(looked.outing.attempts, looked.outing.attempts[1:], strict=False))
    for earlier, later in pairs:
        wanted = max(rules.REST_LEAST_S, rules.REST_FACTOR * (earlier.time - earlier.start))
        if later.start <= went and later.start - earlier.time < wanted:
            short.append(later.start - earlier.time)
    why = [f"After {went / 60.0:.0f} min your last three tries fell under 60 % of your best three."]
    if len(short) < HALF * len(pairs):
        return None
    why.append(f"{len(short)} rests before that were too short, {median(short):.0f} s in the middle.")
    return Advice(
        "rest",
        None,
        "Rest longer between tries, and stop when the legs go.",
        tuple(why),
        "Twice the flight, at least two minutes; after a minute aloft five.",
    )
