"""Makers of outings with exact truth, beside the simulator: each thinks of riders, shores and phones in its own way.

| make | a pump is | learned from |
|---|---|---|
| drawn | a push like a half-sine, and a glide that makes its mean 1 g | yes |
| woven | knots anywhere between up and down | yes |
| sprung | a programme of leg force on a foil | yes |
| stitched | pushes and glides as other sports have them; the longest list of what people do ashore | yes |
| families | eight families of waveform, each with a mechanism | yes |
| chained | two skewed bumps, up and down, that balance | which bounces are pumps, not crossing times |
| strapped | legs and trunk acting together against an unweighting; the phone lags on soft tissue | the same |
| lobes | two bent half-sines | no; one number was chosen on it (`fit_timing.TRUST`) |
| foreign | five makers of pumps | never: it judges |

Those that are learned from teach the nets what the others have in common: what only one has is not learned. The makers
of sprung, stitched, families, chained, strapped and foreign had seen neither the coach nor one another.
"""

from __future__ import annotations

from collections.abc import Callable

from cadence_coach.sim import SimulatedOuting

from .chained import chained_outing
from .families import families_outing
from .sprung import sprung_outing
from .stitched import stitched_outing
from .strapped import strapped_outing

LONG_ONES: dict[str, Callable[[int, int], SimulatedOuting]] = {
    "sprung": sprung_outing, "stitched": stitched_outing, "families": families_outing, "chained": chained_outing,
    "strapped": strapped_outing,
}  # fmt: skip
"""Made by a seed and a number, with a day of several minutes each."""
