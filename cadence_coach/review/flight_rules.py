"""Rules of advice about the flight itself: size, cadence, fade, end, steadiness, timing."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from cadence_coach.core import rules
from cadence_coach.review.advising import HALF, Advice, enough, indices, median, of, per_minute
from cadence_coach.review.figures import Looked
from cadence_coach.review.flight import FlightFigures

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
    why = [
        f"In {of(small, seen, 'flights')} your pumps were {100 * has:.0f} % of your weight; level flight needs about "
        f"{100 * needs:.0f} % at that cadence (estimate)."
    ]
    best = looked.figures.flights[looked.figures.best].cadence_hz if looked.figures.best is not None else None
    if cadence > rules.QUICK_CADENCE or (best is not None and cadence > rules.QUICK_FACTOR * best):
        own = (
            f"; your best flight had {per_minute(best)}"
            if best is not None and cadence > rules.QUICK_FACTOR * best
            else ""
        )
        why.append(f"They came quickly: {per_minute(cadence)}{own}.")
        says, rule = "Quick and small: slow the beat a little and use more leg.", "size: quick and small"
    elif (
        median([(f.peak_g or 1.0) - 1.0 for f in small]) >= needs
        and median([1.0 - (f.lightness_g or 1.0) for f in small]) < NOT_LIGHT * needs
    ):
        light, peak = median([f.lightness_g or 1.0 for f in small]), median([f.peak_g or 1.0 for f in small])
        why.append(f"The push is there ({peak:.1f} g), the glide is not: it stays at {light:.1f} g.")
        says, rule = "Get lighter after the push.", "size: not light"
    else:
        says, rule = "Push deeper, then get lighter.", "size: small"
    practise = "On land: sets of 20 squats at this beat, each as deep as you would on the board, hips rising last."
    return Advice(rule, "size", says, tuple(why), practise, indices(small))


def cadence(looked: Looked, flights: Sequence[FlightFigures]) -> Advice | None:
    """More than OUT_OF_BAND of the pumping time on one side of the band, in half of the flights with BAND_FROM
    pumps."""
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
        if enough(out, seen):
            hz = median([f.cadence_hz or 0.0 for f in out])
            share = median([getattr(f, side) for f in out])
            lo, hi = _band(looked, out)
            beyond = "below" if side == "below_band" else "above"
            why = (
                f"In {of(out, seen, 'flights')} you were {beyond} the band for {100 * share:.0f} % of the pumping "
                f"time.",
                f"You pumped {per_minute(hz)}; the band for you and this foil is {60 * lo:.0f} to {60 * hi:.0f} "
                f"(estimate).",
            )
            return Advice(f"cadence: {side.split('_')[0]}", "cadence", says, why, practise, indices(out))
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
    early = median([f.cadence_early_hz or 0.0 for f in faded])
    late = median([f.cadence_late_hz or 0.0 for f in faded])
    why = [
        f"In {of(faded, seen, 'long flights')} the beat slipped from {per_minute(early)} to {per_minute(late)}.",
    ]
    hard = [f for f in faded if f.size_early_g and f.size_g and f.size_early_g > rules.HARD_START * f.size_g]
    if len(hard) >= HALF * len(faded):
        more = median([100.0 * ((f.size_early_g or 0.0) / (f.size_g or 1.0) - 1.0) for f in hard])
        why.append(f"The first eight pumps were {more:.0f} % bigger than the rest.")
        return Advice(
            "fade: started too hard",
            "fade",
            "Start softer: the first eight pumps cost you the rest.",
            tuple(why),
            "Leave the first eight pumps a notch smaller than they want to be, then keep that size.",
            indices(faded),
        )
    return Advice(
        "fade: beat slipped",
        "fade",
        "Rest longer, then hold the beat to the end.",
        tuple(why),
        "Fewer tries, rested, each with one wish: the last ten pumps as quick as the first ten.",
        indices(faded),
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
    quicker = median([f.last.cadence_per_min for f in rushed if f.last])
    smaller = median([100.0 * -f.last.size_g / (f.size_g or 1.0) for f in rushed if f.last])
    why = (
        f"In {of(rushed, seen, 'long flights')} the last ten pumps came {quicker:.0f} a minute quicker and "
        f"{smaller:.0f} % smaller than those before.",
    )
    return Advice(
        "size: rushed end",
        "size",
        "When it gets hard, keep the leg long: slower and bigger, not quick and small.",
        why,
        "From pump twenty on, call “long” to yourself at every push.",
        indices(rushed),
    )


def scatter(f: FlightFigures) -> float:
    """Scatter from pump to pump as a share of the period."""
    return (f.rmssd_s or 0.0) * (f.cadence_hz or 0.0) / math.sqrt(2.0)


def steadiness(looked: Looked, flights: Sequence[FlightFigures]) -> Advice | None:
    """Scatter from pump to pump over UNEVEN in half of the flights with EVEN_FROM pumps. A drift is no unevenness: so
    it is taken from neighbouring pumps, RMSSD / (sqrt 2 x period), which for pure scatter is the coefficient of
    variation."""
    seen = [f for f in flights if f.pumps >= EVEN_FROM and f.rmssd_s is not None]
    rough = [f for f in seen if scatter(f) > UNEVEN]
    if not enough(rough, seen):
        return None
    cv = 100.0 * median([scatter(f) for f in rough])
    why = (
        f"In {of(rough, seen, 'flights')} the time from pump to pump varied by {cv:.0f} %; {100 * rules.CLEAN:.0f} % "
        f"is clean.",
    )
    return Advice(
        "steadiness",
        "steadiness",
        "Even out the beat.",
        why,
        "On land with the click: three sets of 60, until the lock is 0.95. On the water: let the click run from pump "
        "six.",
        indices(rough),
    )


def timing(looked: Looked, flights: Sequence[FlightFigures]) -> Advice | None:
    """The push share moves by more than SHARE_MOVES from early to late, in half of the long flights."""
    seen = [f for f in flights if f.last is not None]
    moved = [f for f in seen if f.last is not None and abs(f.last.push_share) > SHARE_MOVES]
    if not enough(moved, seen):
        return None
    change = median([100.0 * f.last.push_share for f in moved if f.last])
    longer = change > 0.0
    why = (
        f"In {of(moved, seen, 'long flights')} the push took {abs(change):.0f} % of a pump "
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
        indices(moved),
    )
