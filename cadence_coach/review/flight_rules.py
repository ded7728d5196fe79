"""Rules of advice about the flight itself: size, cadence, fade, end, steadiness, timing, size that fades."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from cadence_coach.core import rules
from cadence_coach.review import stats
from cadence_coach.review.advising import HALF, Advice, enough, indices, median, seen_in
from cadence_coach.review.figures import Looked
from cadence_coach.review.flight import EARLY, LATE, FlightFigures
from cadence_coach.review.say import Said, say

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

SIZE_FADES = 0.15
"""Late size under early by this: medians of eight pumps that scatter by 8 % differ by 5 % by chance."""


def size(looked: Looked, flights: Sequence[FlightFigures]) -> Advice | None:
    """Size under rules.SIZE_SHARE of what level flight needs at that cadence, in half of the flights with
    rules.SIZE_PUMPS pumps."""
    seen = [f for f in flights if f.pumps >= rules.SIZE_PUMPS and f.size_ratio is not None]
    small = [f for f in seen if f.size_ratio is not None and f.size_ratio < rules.SIZE_SHARE]
    if not enough(small, seen):
        return None
    has = median([f.size_g or 0.0 for f in small])
    needs = median([f.size_needed_g or 0.0 for f in small])
    cadence = median([f.cadence_hz or 0.0 for f in small])
    why = [say("size_why", seen=seen_in(small, seen), has=100.0 * has, needs=100.0 * needs)]
    model = looked.figures.flights[looked.figures.best] if looked.figures.best is not None else None
    best = model.cadence_hz if model is not None else None
    over_best = best is not None and cadence > rules.QUICK_FACTOR * best
    if cadence > rules.QUICK_CADENCE or over_best:
        kind = "size_why_quicker" if over_best else "size_why_quick"
        why.append(say(kind, cadence=60.0 * cadence, best=60.0 * (best or 0.0)))
        says, rule = "size_says_quick", "size: quick and small"
    elif (
        median([(f.peak_g or 1.0) - 1.0 for f in small]) >= needs
        and median([1.0 - (f.lightness_g or 1.0) for f in small]) < NOT_LIGHT * needs
    ):
        light, peak = median([f.lightness_g or 1.0 for f in small]), median([f.peak_g or 1.0 for f in small])
        why.append(say("size_why_light", peak=peak, light=light))
        says, rule = "size_says_light", "size: not light"
    else:
        says, rule = "size_says", "size: small"
    if model is not None and model.size_g and model.size_ratio is not None and model.size_ratio >= 1.0:
        why.append(say("size_why_model", size=100.0 * model.size_g, need=100.0 * (model.size_needed_g or 0.0)))
    return Advice(rule, "size", say(says), tuple(why), say("size_practise"), indices(small))


def cadence(looked: Looked, flights: Sequence[FlightFigures]) -> Advice | None:
    """More than OUT_OF_BAND of the pumping time on one side of the band, in half of the flights with BAND_FROM
    pumps. Too quick: bigger is asked for only where the size is known to be under what is needed."""
    name, out, why = beside_band(looked, [f for f in flights if f.pumps >= BAND_FROM], OUT_OF_BAND)
    if name is None:
        return None
    ratios = [f.size_ratio for f in out if f.size_ratio is not None]
    if name == "fast" and ratios and median(ratios) < 1.0:
        name = "fast_small"
    rule = "cadence: below" if name == "slow" else "cadence: above"
    return Advice(rule, "cadence", say(f"{name}_says"), why, say(f"{name}_practise"), indices(out))


def beside_band(
    looked: Looked, flights: Sequence[FlightFigures], share: float
) -> tuple[str | None, list[FlightFigures], tuple[Said, ...]]:
    """ "slow" or "fast" where more than this share of the pumping time was on that side of the band in half of the
    flights, those flights, and the words for it: the cadence is that of the pumps which were out, as the whole flight's
    may be inside."""
    seen = [f for f in flights if f.in_band is not None]
    for side, name in (("below_band", "slow"), ("above_band", "fast")):
        out = [f for f in seen if (getattr(f, side) or 0.0) > share]
        if enough(out, seen):
            pumps = [looked.pumps[f.flight] for f in out]
            cadence, lo, hi = (
                np.concatenate([getattr(p, of) for p in pumps]) for of in ("running_cadence", "lo", "hi")
            )
            away = cadence < lo if name == "slow" else cadence > hi
            numbers = {"cadence": cadence, "lo": lo, "hi": hi}
            why = (
                say(f"{name}_why", seen=seen_in(out, seen), share=100.0 * median([getattr(f, side) for f in out])),
                say("band_why", **{n: 60.0 * float(np.median(values[away])) for n, values in numbers.items()}),
            )
            return name, out, why
    return None, [], ()


def scatter(f: FlightFigures) -> float:
    """Scatter from pump to pump as a share of the period, a drift taken out: RMSSD / (sqrt 2 x period), which for pure
    scatter is the coefficient of variation. Never more than that one: long and short in turn would count double."""
    beat_to_beat = (f.rmssd_s or 0.0) * (f.cadence_hz or 0.0) / math.sqrt(2.0)
    return min(beat_to_beat, f.steadiness or 0.0)


def faded(f: FlightFigures) -> bool:
    """Late cadence under early by max(rules.FADE_LEAST, rules.FADE_CVS x scatter). Not the coefficient of variation:
    it holds the fade itself, so that a large one would hide behind its own size."""
    return -(f.drift or 0.0) > max(rules.FADE_LEAST, rules.FADE_CVS * scatter(f))


def fade(looked: Looked, flights: Sequence[FlightFigures]) -> Advice | None:
    """The beat slips in half of the long flights."""
    seen = [f for f in flights if f.drift is not None]
    slipped = [f for f in seen if faded(f)]
    if not slipped or len(slipped) < HALF * len(seen):
        return None
    early = median([f.cadence_early_hz or 0.0 for f in slipped])
    late = median([f.cadence_late_hz or 0.0 for f in slipped])
    why = [say("fade_why", seen=seen_in(slipped, seen, long=True), early=60.0 * early, late=60.0 * late)]
    hard = [f for f in slipped if f.size_early_g and f.size_g and f.size_early_g > rules.HARD_START * f.size_g]
    rule, name = "fade: beat slipped", "fade"
    if len(hard) >= HALF * len(slipped):
        more = median([100.0 * ((f.size_early_g or 0.0) / (f.size_g or 1.0) - 1.0) for f in hard])
        why.append(say("hard_why", more=more))
        rule, name = "fade: started too hard", "hard"
    return Advice(rule, "fade", say(f"{name}_says"), tuple(why), say(f"{name}_practise"), indices(slipped))


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
    quicker = median([f.last.cadence_per_min for f in rushed if f.last])
    smaller = median([100.0 * -f.last.size_g / (f.size_g or 1.0) for f in rushed if f.last])
    why = say("rushed_why", seen=seen_in(rushed, seen, long=True), quicker=quicker, smaller=smaller)
    return Advice("size: rushed end", "size", say("rushed_says"), (why,), say("rushed_practise"), indices(rushed))


def steadiness(looked: Looked, flights: Sequence[FlightFigures]) -> Advice | None:
    """Scatter from pump to pump over UNEVEN in half of the flights with EVEN_FROM pumps; a drift is no unevenness."""
    seen = [f for f in flights if f.pumps >= EVEN_FROM and f.rmssd_s is not None]
    rough = [f for f in seen if scatter(f) > UNEVEN]
    if not enough(rough, seen):
        return None
    cv = 100.0 * median([scatter(f) for f in rough])
    why = say("uneven_why", seen=seen_in(rough, seen), cv=cv, clean=100.0 * rules.CLEAN)
    return Advice("steadiness", "steadiness", say("uneven_says"), (why,), say("uneven_practise"), indices(rough))


def timing(looked: Looked, flights: Sequence[FlightFigures]) -> Advice | None:
    """The push share moves by more than SHARE_MOVES from early to late, in half of the long flights."""
    seen = [f for f in flights if f.last is not None]
    moved = [f for f in seen if f.last is not None and abs(f.last.push_share) > SHARE_MOVES]
    if not enough(moved, seen):
        return None
    change = median([100.0 * f.last.push_share for f in moved if f.last])
    name = "longer" if change > 0.0 else "shorter"
    why = say(f"{name}_why", seen=seen_in(moved, seen, long=True), change=abs(change))
    return Advice("timing", "timing", say(f"{name}_says"), (why,), say("timing_practise"), indices(moved))


def shrank(looked: Looked, f: FlightFigures) -> bool:
    """The size fades clearly: the interval of its slope is under zero, and late size under early by SIZE_FADES."""
    early, late = _early_and_late(looked, f)
    return f.fade_size is not None and f.fade_size.high < 0.0 and late < (1.0 - SIZE_FADES) * early


def _early_and_late(looked: Looked, f: FlightFigures) -> tuple[float, float]:
    """Median size [g] of the pumps that cadence early and late are taken of: the start itself is in neither."""
    sizes = looked.pumps[f.flight].size_g
    return stats.middle(sizes[EARLY]) or 0.0, stats.middle(sizes[LATE]) or 0.0


def shrinking(looked: Looked, flights: Sequence[FlightFigures]) -> Advice | None:
    """The size fades in half of the long flights, also where the beat holds. After `timing`: a push that changes
    changes the size too, and says more."""
    seen = [f for f in flights if f.fade_size is not None]
    small = [f for f in seen if shrank(looked, f)]
    if not enough(small, seen):
        return None
    early, late = (100.0 * median(sizes) for sizes in zip(*(_early_and_late(looked, f) for f in small), strict=True))
    why = say("shrink_why", seen=seen_in(small, seen, long=True), early=early, late=late)
    return Advice("size: shrinks", "size", say("shrink_says"), (why,), say("shrink_practise"), indices(small))
