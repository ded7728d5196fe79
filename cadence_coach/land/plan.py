"""What a training is made of: tempos, sets, rests; and which tempo comes next."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

LOWEST_PER_MIN, HIGHEST_PER_MIN = 30.0, 200.0
COUNT_IN = 4
FAILED_TWICE = 2
RISE = 0.06
"""A step of the ladder made from a band: as small as one interval can be heard to change (Drake & Botte 1993)."""


@dataclass(frozen=True, slots=True)
class Plan:
    """`tempos` [per minute] are the rungs, climbed in order; `sets` how many sets in all. Lengths in s.

    `push_share` says where between two clicks the push end ticks (None: no tick). A rest is as long as a set at
    least, by default: legs recover about as long as they worked (common practice, no source).
    """

    tempos: tuple[float, ...]
    sets: int
    set_s: float = 40.0
    rest_s: float = 60.0
    push_share: float | None = 0.5

    def __post_init__(self) -> None:
        if not self.tempos:
            raise ValueError("no tempo: give one, or a ladder of some")
        for tempo in self.tempos:
            if not LOWEST_PER_MIN <= tempo <= HIGHEST_PER_MIN:
                raise ValueError(f"tempo {tempo:g} a minute: choose {LOWEST_PER_MIN:g} to {HIGHEST_PER_MIN:g}")
        for name, value, lo, hi, unit in (
            ("sets", self.sets, 1, 60, ""),
            ("length of a set", self.set_s, 2, 600, " s"),
            ("rest", self.rest_s, 0, 1800, " s"),
            ("push share", self.push_share, 0.2, 0.8, ""),
        ):
            if value is not None and not (math.isfinite(value) and lo <= value <= hi):
                raise ValueError(f"{name} {value:g}{unit}: choose {lo:g} to {hi:g}{unit}")

    def beats(self, tempo: float) -> int:
        """Clicks of one set, the count-in apart."""
        return max(2, math.ceil(self.set_s * tempo / 60))


def ladder(text: str) -> tuple[float, ...]:
    """Rungs from FROM:TO:STEP or a list 80,84,90, per minute. ValueError says what was wrong."""
    try:
        if ":" in text:
            first, last, step = (float(part) for part in text.split(":"))
            if not (step > 0 and last >= first and (last - first) / step <= 40):
                raise ValueError
            return tuple(first + k * step for k in range(int((last - first) / step + 1e-9) + 1))
        return tuple(float(part) for part in text.split(","))
    except ValueError:
        raise ValueError(f"ladder {text!r}: give FROM:TO:STEP, such as 80:104:4, or a list such as 80,86,92") from None


def towards(target_per_min: float) -> tuple[float, ...]:
    """Rungs that lead up to a target and one beyond it: each RISE over the one before."""
    return tuple(round(target_per_min * (1 + RISE) ** k, 1) for k in range(-3, 2))


def next_rung(rungs: int, history: Sequence[tuple[int, bool | None]]) -> int:
    """Which rung the next set has. `history`: (rung, passed) of the sets so far; passed is None where nothing was
    measured.

    Passed, or not measured: one up. Not passed: the same again; not passed twice running on it: one down. The top is
    kept.
    """
    if not history:
        return 0
    rung, passed = history[-1]
    if passed is not False:
        return min(rung + 1, rungs - 1)
    running = 0
    for at, ok in reversed(history):
        if at != rung or ok is not False:
            break
        running += 1
    return max(0, rung - 1) if running >= FAILED_TWICE else rung
