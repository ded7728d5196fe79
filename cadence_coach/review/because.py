"""Why the coach said something, in the words of the page: its reasons are kept as one English line of plain figures."""

from __future__ import annotations

import re

from cadence_coach.review.words import Words

NUMBER = r"(-?\d+(?:\.\d+)?)"

FORMS = (
    (rf"size {NUMBER} g, under {NUMBER} of {NUMBER} g.*", "because_size", (100.0, None, 100.0)),
    (rf"cadence {NUMBER} a minute, over {NUMBER}.*", "because_over", (1.0, 1.0)),
    (rf"cadence {NUMBER} a minute, under {NUMBER}.*", "because_under", (1.0, 1.0)),
    (rf"periods differ by {NUMBER} %.*", "because_uneven", (1.0,)),
    (rf"{NUMBER} min on the water", "because_time", (1.0,)),
    (rf"{NUMBER} m from the start, limit {NUMBER} m", "because_far", (1.0, 1.0)),
)
"""The reasons a rider can be told more plainly: the line as the core writes it, the text, and a factor for each figure
(None: left out)."""


def because(reason: str, w: Words) -> str:
    """The reason in the page's language and units; a form that is not known stays as it was kept."""
    for form, key, factors in FORMS:
        if found := re.fullmatch(form, reason):
            given = [float(x) * k for x, k in zip(found.groups(), factors, strict=True) if k is not None]
            return w(key, **dict(zip("ab", given, strict=False)))
    return reason
