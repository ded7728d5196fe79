"""Did it help: what the rider did after each cue, and how the pumps sat on the clicks."""

from __future__ import annotations

from collections.abc import Sequence

import attrs
import numpy as np

from cadence_coach.core import events as ev
from cadence_coach.review import stats
from cadence_coach.review.pumps import LOOK, Pumps

NEXT = 6
"""Pumps after a cue in which an answer is looked for."""

MOVED = 0.02
"""Change of the median that counts as an answer: with 4 % from pump to pump, six against five medians differ by chance
by about 2.4 %, so this is "went the asked way", not proof."""

# kind -> (column of Pumps, direction); every pair must have moved
WANTED: dict[str, tuple[tuple[str, int], ...]] = {
    "quicker": (("cadence", 1),),
    "slower_bigger": (("cadence", -1), ("size_g", 1)),
    "bigger": (("size_g", 1),),
    "lighter": (("lowest_g", -1),),
    "shove_later": (("push_share", 1),),
    "shove_sooner": (("push_share", -1),),
    "speed_first": (("speed", 1),),
}


@attrs.frozen
class CueFigures:
    """A cue and its answer: `followed` is None where the flight ended within three pumps or nothing can be measured."""

    time_s: float
    kind: str
    reason: str
    flight: int | None
    followed: bool | None


def cue_figures(cue: ev.Cue, flight: int | None, pumps: Pumps | None) -> CueFigures:
    return CueFigures(cue.time, cue.kind, cue.reason, flight, None if pumps is None else _followed(cue, pumps))


def _followed(cue: ev.Cue, pumps: Pumps) -> bool | None:
    first = int(np.searchsorted(pumps.onset, cue.time))
    before, after = pumps.rows(slice(max(0, first - LOOK), first)), pumps.rows(slice(first, first + NEXT))
    if len(before) < 3 or len(after) < 3:
        return None
    if cue.kind == "even_out":
        now, then = stats.variation(after.period), stats.variation(before.period)
        return None if now is None or then is None else now < (1.0 - MOVED) * then
    wanted = WANTED.get(cue.kind)
    if wanted is None:
        return None
    answers = []
    for column, direction in wanted:
        then, now = stats.middle(getattr(before, column)), stats.middle(getattr(after, column))
        if then is None or now is None or then == 0.0:
            return None
        answers.append(direction * (now / then - 1.0) >= MOVED)
    return all(answers)


def click_lock(clicks: Sequence[ev.Click], pumps: Pumps) -> stats.Lock | None:
    """Phases of the onsets against the nearest click, in turns of the pump's own period. Positive: after the click."""
    times = np.array([c.time for c in clicks if c.sound == "click"])
    if len(times) < 3 or len(pumps) < 3:
        return None
    after = np.clip(np.searchsorted(times, pumps.onset), 1, len(times) - 1)
    left, right = pumps.onset - times[after - 1], pumps.onset - times[after]
    apart = np.where(np.abs(left) <= np.abs(right), left, right)
    near = np.abs(apart) <= 0.5 * pumps.period
    return stats.lock(2.0 * np.pi * apart[near] / pumps.period[near])
