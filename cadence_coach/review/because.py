"""Why the coach said something, in the words of the page: its reasons are kept as one English line of plain figures."""

from __future__ import annotations

import re

from cadence_coach.review.words import Words

NUMBER = r"(-?\d+(?:\.\d+)?)"

FAULT = rf"([a-z_]+) \({NUMBER}\)"
"""What is wrong with the machine, and how often."""

FORMS = (
    (rf"size {NUMBER} g, under {NUMBER} of {NUMBER} g.*", "because_size", (100.0, None, 100.0)),
    (rf"cadence {NUMBER} a minute, over {NUMBER}.*", "because_over", (1.0, 1.0)),
    (rf"cadence {NUMBER} a minute, under {NUMBER}.*", "because_under", (1.0, 1.0)),
    (rf"periods differ by {NUMBER} %.*", "because_uneven", (1.0,)),
    (rf"{NUMBER} min on the water", "because_time", (1.0,)),
    (rf"{NUMBER} m from the start, limit {NUMBER} m", "because_far", (1.0, 1.0)),
    (rf"shove {NUMBER} of the period against own {NUMBER}.*", "because_shove", (100.0, 100.0)),
    (rf"{NUMBER} m/s: no feasible pumping at this speed.*", "because_slow", (1.0,)),
    (rf"{NUMBER} s of rest", "because_rest", (1.0,)),
    (rf"{NUMBER} s in this flight", "because_goal_s", (1.0,)),
    (rf"{NUMBER} pumps in this flight", "because_goal_pumps", (1.0,)),
    (rf"last three attempts {NUMBER} pumps, best three {NUMBER}", "because_legs", (1.0, 1.0)),
    (rf"a blow of {NUMBER} g at the sensor's range", "because_blow", (1.0,)),
    (rf"no movement for {NUMBER} s", "because_still", (1.0,)),
)
"""The reasons as a rider is told them: the line as the core writes it, the text, and a factor for each figure
(None: left out)."""


def because(reason: str, w: Words, cue: str = "") -> str:
    """The reason in the page's language and units; a form that is not known stays as it was kept. `cue`: what was
    asked for: "lighter" alone, beside a size that is small, would read as "push less"."""
    for form, key, factors in FORMS:
        if found := re.fullmatch(form, reason):
            given = [float(x) * k for x, k in zip(found.groups(), factors, strict=True) if k is not None]
            if key == "because_size" and cue == "lighter":
                key = "because_size_lighter"
            return w(key, **dict(zip("ab", given, strict=False)))
    fault = re.fullmatch(FAULT, reason)
    return w.fault(fault[1]) if fault else reason
