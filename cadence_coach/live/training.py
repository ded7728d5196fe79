"""What a screen shows of a training on land, folded from its events: a plain value inside the snapshot."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from cadence_coach.core import events as ev
from cadence_coach.land.engine import TrainingBegun
from cadence_coach.land.score import SetScore
from cadence_coach.land.session import SetDone, SetStarted

SHOWN_OFFSETS = 16
"""Latest movements whose place beside the click is shown."""


class TrainingShown:
    """`plain` is None until a training has begun, then: sets, set (from 1), tempo_per_min, first_s and ends_s of the
    set that is on or coming (None between), next_s (count-in of the next set, None when none follows), moves,
    offsets_s (latest movements after their click), scores (one a set that is done, as in the JSON of `land`, None where
    too little was seen), over. Times in s of the outing."""

    def __init__(self) -> None:
        self.plain: dict[str, Any] | None = None
        self._offsets: list[float] = []

    def fold(self, event: ev.Event) -> None:
        if isinstance(event, TrainingBegun):
            self.plain = {
                "sets": event.sets,
                "set": 0,
                "tempo_per_min": event.tempos_per_min[0],
                "first_s": None,
                "ends_s": None,
                "next_s": event.time,
                "moves": 0,
                "offsets_s": [],
                "scores": [],
                "over": False,
            }
        elif self.plain is None:
            return
        elif isinstance(event, SetStarted):
            self._offsets = []
            self._set(set=event.number, tempo_per_min=event.tempo_per_min, first_s=event.time, ends_s=event.ends)
            self._set(next_s=None, moves=0, offsets_s=[])
        elif isinstance(event, SetDone):
            scores = [*self.plain["scores"], scored(event)]
            following = event.next if math.isfinite(event.next) else None
            self._set(first_s=None, ends_s=None, next_s=following, scores=scores, over=event.last)
        elif isinstance(event, ev.Onset) and self.plain["first_s"] is not None:
            self._moved(event.time)

    def _moved(self, onset: float) -> None:
        first, ends = self.plain["first_s"], self.plain["ends_s"]  # type: ignore[index]
        period = 60.0 / self.plain["tempo_per_min"]  # type: ignore[index]
        if first - period / 2 <= onset <= ends + period / 2:
            turn = (onset - first) / period
            self._offsets.append((turn - round(turn)) * period)
            self._set(moves=len(self._offsets), offsets_s=self._offsets[-SHOWN_OFFSETS:])

    def _set(self, **changes: Any) -> None:
        self.plain = {**(self.plain or {}), **changes}  # a new value: what was handed out stays as it was


def scored(event: SetDone) -> dict[str, Any] | None:
    """A set's score as plain values."""
    if event.score is None:
        return None
    score = event.score
    told = {**asdict(score), "missed": score.missed, "passed": score.passed, "shortfalls": list(score.shortfalls)}
    return {**told, "offsets_s": list(score.offsets_s)}


def score_from(plain: Mapping[str, Any]) -> SetScore:
    """The inverse of `scored`."""
    values = {name: plain[name] for name in SetScore.__dataclass_fields__}
    return SetScore(**{**values, "offsets_s": tuple(values["offsets_s"])})
