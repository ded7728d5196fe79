"""One thing to work on next, with the figures behind it.

A rule looks at the flights that are the rider's own (no rope drill, not carried, no hole in the data) and answers with an
Advice or with None. The order of RULES is the order of what costs most: whoever does not get going has no cadence to mend.
A focus that rider or coach has set goes first, as long as its rule still holds. Values shared with the live coach are
taken from `core.rules`. Never a cause that the body cannot show
(nose angle, ride height, pressure under a foot).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import attrs
import numpy as np

from cadence_coach.core import rules
from cadence_coach.review.figures import HELD, Looked
from cadence_coach.review.flight import FlightFigures

FEW_TRIES = 3
START_HOLDS = 0.6
"""Three of five tries: what the ladder asks of a start."""
FIRST_SLOWER = 1.12
"""First periods of tries that died against those that held: more than two spreads of a usual 5 % start."""

NOT_LIGHT = 0.8
"""The push is as high as needed, but the glide is less light than this share of what is needed."""

BAND_FROM = 10
OUT_OF_BAND = 0.5
"""Of the pumping time: the running mean of five misfires on about 1 % of looks in a rider who is inside."""

EVEN_FROM = 10
UNEVEN = 0.06
"""Over the 5 % that counts as clean, and over what the live coach takes for a steady rider."""

SHARE_MOVES = 0.05
"""The live coach speaks of a push that has moved by this much, too."""

END_SHARE = 0.10
"""Quicker by half of this and smaller by this: clear of the scatter of ten pumps (4 % / sqrt 10 and 8 % / sqrt 10)."""

HALF = 0.5
"""A fault that shows in fewer flights than this does not repeat."""


@attrs.frozen
class Advice:
    """`rule` names the rule, `focus` what it becomes when it is taken on; `says` is the change in one sentence, `why` the
    figures behind it, `practise` how; `flights` the evidence."""

    rule: str
    focus: str | None
    says: str
    why: tuple[str, ...]
    practise: str
    flights: tuple[int, ...] = ()


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
    return [f for f in looked.figures.own_flights if f.gap_s == 0.0]


def _indices(flights: Sequence[FlightFigures]) -> tuple[int, ...]:
    return tuple(f.flight for f in flights)


def _of(part: Sequence[object], whole: Sequence[object], what: str) -> str:
    return f"{len(part)} of {len(whole)} {what}"


def _median(values: Sequence[float]) -> float:
    return float(np.median(values))


def _per_min(hz: float) -> str:
    return f"{60.0 * hz:.0f} a minute"


# ---- getting going ----


def start(looked: Looked, flights: Sequence[FlightFigures]) -> Advice | None:
    """Run-up or step: most tries do not reach HELD pumps. Slow to push says so; else a slow first beat; else practise."""
    tries = [a for a in looked.outing.attempts if a.started_by in ("run_up", "step")]
    held = [a for a in tries if a.pumps >= HELD]
    if len(tries) < FEW_TRIES or len(held) >= START_HOLDS * len(tries):
        return None
    why = [f"{_of(held, tries, 'run-up or step starts')} reached {HELD} pumps."]
    pushes = [a.landing_to_push_s for a in tries if a.landing_to_push_s is not None]
    if pushes and _median(pushes) > rules.SLOW_FIRST_PUSH_S:
        why.append(
            f"From landing to the first push you took {_median(pushes):.1f} s in the middle; {rules.SLOW_FIRST_PUSH_S} s is late."
        )
        return Advice(
            "start: late push",
            "start",
            "Push as soon as both feet are down.",
            tuple(why),
            "On land: step onto a low box and push in the same count, ten times. On the water: say “now” as the second foot lands.",
        )
    numbers = {f.attempt: f for f in looked.figures.flights}
    firm = [f for f in numbers.values() if f.pumps >= HELD and f.attempt in {a.attempt for a in held}]
    lost = [f for f in numbers.values() if f.pumps < HELD and f.started_by in ("run_up", "step")]
    if firm and lost:
        slow, quick = _median([f.first_periods_s[0] for f in lost]), _median([f.first_periods_s[0] for f in firm])
        if slow > FIRST_SLOWER * quick:
            why.append(f"The first pump took {slow:.2f} s in tries that died, {quick:.2f} s in those that held.")
            return Advice(
                "start: slow first pumps",
                "start",
                "Make the first three pumps quick.",
                tuple(why),
                "Count one-two-three aloud, as quick as your best tries, then settle into your own beat.",
                _indices(lost),
            )
    return Advice(
        "start: does not hold",
        "start",
        "Work on the start before anything else: five pumps, every time.",
        tuple(why),
        "Short tries with rests: stop after five pumps on purpose, and do it again. Three of five in a row is the goal.",
    )


# ---- once going ----


def size(looked: Looked, flights: Sequence[FlightFigures]) -> Advice | None:
    """Size under rules.SIZE_SHARE of what level flight needs at that cadence, in half of the flights with rules.SIZE_PUMPS pumps."""
    seen = [f for f in flights if f.pumps >= rules.SIZE_PUMPS and f.size_ratio is not None]
    small = [f for f in seen if f.size_ratio is not None and f.size_ratio < rules.SIZE_SHARE]
    if len(small) < 2 or len(small) < HALF * len(seen):
        return None
    has = _median([f.size_g or 0.0 for f in small])
    needs = _median([f.size_needed_g or 0.0 for f in small])
    cadence = _median([f.cadence_hz or 0.0 for f in small])
    why = [
        f"In {_of(small, seen, 'flights')} your pumps were {100 * has:.0f} % of your weight; level flight needs about "
        f"{100 * needs:.0f} % at that cadence (estimate)."
    ]
    best = looked.figures.flights[looked.figures.best].cadence_hz if looked.figures.best is not None else None
    if cadence > rules.QUICK_CADENCE or (best is not None and cadence > rules.QUICK_FACTOR * best):
        own = (
            f"; your best flight had {_per_min(best)}"
            if best is not None and cadence > rules.QUICK_FACTOR * best
            else ""
        )
        why.append(f"They came quickly: {_per_min(cadence)}{own}.")
        says, rule = "Quick and small: slow the beat a little and use more leg.", "size: quick and small"
    elif (
        _median([(f.peak_g or 1.0) - 1.0 for f in small]) >= needs
        and _median([1.0 - (f.lightness_g or 1.0) for f in small]) < NOT_LIGHT * needs
    ):
        light, peak = _median([f.lightness_g or 1.0 for f in small]), _median([f.peak_g or 1.0 for f in small])
        why.append(f"The push is there ({peak:.1f} g), the glide is not: it stays at {light:.1f} g.")
        says, rule = "Get lighter after the push.", "size: not light"
    else:
        says, rule = "Push deeper, then get lighter.", "size: small"
    practise = "On land: sets of 20 squats at this beat, each as deep as you would on the board, hips rising last."
    return Advice(rule, "size", says, tuple(why), practise, _indices(small))


def cadence(looked: Looked, flights: Sequence[FlightFigures]) -> Advice | None:
    """More than OUT_OF_BAND of the pumping time on one side of the band, in half of the flights with BAND_FROM pumps."""
    seen = [f for f in flights if f.pumps >= BAND_FROM and f.in_band is not None]
    for side, says, practise in (
        (
            "below_band",
            "Pump quicker.",
            "Take the click at your target on land first, then in the first ten pumps of a flight.",
        ),
        (
            "above_band",
            "Slow the beat and make each pump bigger.",
            "Ten pumps as slow and as deep as you can hold, then look.",
        ),
    ):
        out = [f for f in seen if (getattr(f, side) or 0.0) > OUT_OF_BAND]
        if len(out) >= 2 and len(out) >= HALF * len(seen):
            hz = _median([f.cadence_hz or 0.0 for f in out])
            share = _median([getattr(f, side) for f in out])
            lo, hi = _band(looked, out)
            beyond = "below" if side == "below_band" else "above"
            why = (
                f"In {_of(out, seen, 'flights')} you were {beyond} the band for {100 * share:.0f} % of the pumping time.",
                f"You pumped {_per_min(hz)}; the band for you and this foil is {60 * lo:.0f} to {60 * hi:.0f} (estimate).",
            )
            return Advice(f"cadence: {side.split('_')[0]}", "cadence", says, why, practise, _indices(out))
    return None


def _band(looked: Looked, flights: Sequence[FlightFigures]) -> tuple[float, float]:
    lows = np.concatenate([looked.pumps[f.flight].lo for f in flights])
    highs = np.concatenate([looked.pumps[f.flight].hi for f in flights])
    return float(np.nanmedian(lows)), float(np.nanmedian(highs))


def fade(looked: Looked, flights: Sequence[FlightFigures]) -> Advice | None:
    """Late cadence under early by max(rules.FADE_LEAST, rules.FADE_CVS x CV) in half of the long flights."""
    seen = [f for f in flights if f.drift is not None]
    faded = [f for f in seen if -(f.drift or 0.0) > max(rules.FADE_LEAST, rules.FADE_CVS * (f.steadiness or 0.0))]
    if not faded or len(faded) < HALF * len(seen):
        return None
    early = _median([f.cadence_early_hz or 0.0 for f in faded])
    late = _median([f.cadence_late_hz or 0.0 for f in faded])
    why = [
        f"In {_of(faded, seen, 'long flights')} the beat slipped from {_per_min(early)} to {_per_min(late)}.",
    ]
    hard = [f for f in faded if f.size_early_g and f.size_g and f.size_early_g > rules.HARD_START * f.size_g]
    if len(hard) >= HALF * len(faded):
        more = _median([100.0 * ((f.size_early_g or 0.0) / (f.size_g or 1.0) - 1.0) for f in hard])
        why.append(f"The first eight pumps were {more:.0f} % bigger than the rest.")
        return Advice(
            "fade: started too hard",
            "fade",
            "Start softer: the first eight pumps cost you the rest.",
            tuple(why),
            "Leave the first eight pumps a notch smaller than they want to be, then keep that size.",
            _indices(faded),
        )
    return Advice(
        "fade: beat slipped",
        "fade",
        "Rest longer, then hold the beat to the end.",
        tuple(why),
        "Fewer tries, rested, each with one wish: the last ten pumps as quick as the first ten.",
        _indices(faded),
    )


def ending(looked: Looked, flights: Sequence[FlightFigures]) -> Advice | None:
    """In the last ten pumps quicker and smaller by END_SHARE, in half of the flights with twenty pumps."""
    seen = [f for f in flights if f.last is not None]
    rushed = [
        f
        for f in seen
        if f.last is not None
        and f.last.cadence_per_min > END_SHARE / 2.0 * 60.0 * (f.cadence_hz or 1.0)
        and f.last.size_g < -END_SHARE * (f.size_g or 1.0)
    ]
    if not rushed or len(rushed) < HALF * len(seen):
        return None
    quicker = _median([f.last.cadence_per_min for f in rushed if f.last])
    smaller = _median([100.0 * -f.last.size_g / (f.size_g or 1.0) for f in rushed if f.last])
    why = (
        f"In {_of(rushed, seen, 'long flights')} the last ten pumps came {quicker:.0f} a minute quicker and "
        f"{smaller:.0f} % smaller than those before.",
    )
    return Advice(
        "size: rushed end",
        "size",
        "When it gets hard, keep the leg long: slower and bigger, not quick and small.",
        why,
        "From pump twenty on, call “long” to yourself at every push.",
        _indices(rushed),
    )


def steadiness(looked: Looked, flights: Sequence[FlightFigures]) -> Advice | None:
    """Coefficient of variation over UNEVEN in half of the flights with EVEN_FROM pumps, without a fade that explains it."""
    seen = [f for f in flights if f.pumps >= EVEN_FROM and f.steadiness is not None]
    rough = [f for f in seen if (f.steadiness or 0.0) > UNEVEN]
    if len(rough) < 2 or len(rough) < HALF * len(seen):
        return None
    cv = 100.0 * _median([f.steadiness or 0.0 for f in rough])
    why = (
        f"In {_of(rough, seen, 'flights')} the time from pump to pump varied by {cv:.0f} %; {100 * rules.CLEAN:.0f} % is clean.",
    )
    return Advice(
        "steadiness",
        "steadiness",
        "Even out the beat.",
        why,
        "On land with the click: three sets of 60, until the lock is 0.95. On the water: let the click run from pump six.",
        _indices(rough),
    )


def timing(looked: Looked, flights: Sequence[FlightFigures]) -> Advice | None:
    """The push share moves by more than SHARE_MOVES from early to late, in half of the long flights."""
    seen = [f for f in flights if f.last is not None]
    moved = [f for f in seen if f.last is not None and abs(f.last.push_share) > SHARE_MOVES]
    if len(moved) < 2 or len(moved) < HALF * len(seen):
        return None
    change = _median([100.0 * f.last.push_share for f in moved if f.last])
    longer = change > 0.0
    why = (
        f"In {_of(moved, seen, 'long flights')} the push took {abs(change):.0f} % of a pump "
        f"{'more' if longer else 'less'} in the last ten pumps than before.",
    )
    says = (
        "Keep the push short when you tire: stand up, do not press."
        if longer
        else "Keep pushing to the end of the leg."
    )
    return Advice(
        "timing",
        "timing",
        says,
        why,
        "Listen for the second half of the push: peak to light, always the same length.",
        _indices(moved),
    )


def rest(looked: Looked, flights: Sequence[FlightFigures]) -> Advice | None:
    """The legs went, and the rests before that were shorter than rules.REST_FACTOR the flight and rules.REST_LEAST_S."""
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
    why.append(f"{len(short)} rests before that were too short, {_median(short):.0f} s in the middle.")
    return Advice(
        "rest",
        None,
        "Rest longer between tries, and stop when the legs go.",
        tuple(why),
        "Twice the flight, at least two minutes; after a minute aloft five.",
    )


RULES: tuple[Callable[[Looked, Sequence[FlightFigures]], Advice | None], ...] = (
    start,
    size,
    cadence,
    fade,
    ending,
    steadiness,
    timing,
    rest,
)


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
    if long and _median([f.steadiness or 0.0 for f in long]) <= rules.CLEAN:
        cv = 100.0 * _median([f.steadiness or 0.0 for f in long])
        why = f"{len(long)} flights with ten pumps and more, {cv:.1f} % from pump to pump, no fade, size as needed."
        return Advice(
            "clean",
            None,
            "Clean. The same again, a little longer.",
            (why,),
            "Take the next rung of the ladder.",
            _indices(long),
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
