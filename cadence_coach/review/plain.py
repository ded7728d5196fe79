"""Figures as plain values for JSON: names of `definitions.py`, numbers, strings, lists, None; NaN never."""

from __future__ import annotations

import math
from typing import Any

import attrs
import numpy as np

from cadence_coach.review.advice import Advice
from cadence_coach.review.figures import Looked
from cadence_coach.review.ladder import RungResult
from cadence_coach.review.say import Said, tell

FORMAT = "cadence-coach-review/1"


def document(looked: Looked, advice: Advice, rungs: tuple[RungResult, ...] = (), lang: str = "en") -> dict[str, Any]:
    """The JSON of `review --json`: `outing`, `flights`, `work_on`, `ladder`, `notes`; sentences in a language."""
    figures = plain(attrs.asdict(looked.figures, recurse=False))
    flights = figures.pop("flights")
    for one, f in zip(flights, looked.figures.flights, strict=True):
        one["aloft_s"] = f.aloft_s
    notes = [{"who": n.who, "when_utc": n.when_utc, "at_s": n.at_s, "text": n.text} for n in looked.outing.notes]
    return {
        "format": FORMAT,
        "outing": figures,
        "flights": flights,
        "work_on": plain(advice, lang),
        "ladder": plain(rungs, lang),
        "notes": plain(notes),
    }


def plain(value: Any, lang: str = "en") -> Any:
    """The value as JSON has it."""
    if isinstance(value, Said):
        return tell(value, lang)
    if isinstance(value, RungResult):
        value = attrs.evolve(value, said=tell(value.said, lang), missing=tell(value.missing, lang))  # type: ignore[arg-type]
    if attrs.has(type(value)):
        return {a.name: plain(getattr(value, a.name), lang) for a in attrs.fields(type(value))}
    if hasattr(value, "_asdict"):
        return plain(value._asdict(), lang)
    if isinstance(value, dict):
        return {str(k): plain(v, lang) for k, v in value.items()}
    if isinstance(value, list | tuple | np.ndarray):
        return [plain(v, lang) for v in value]
    if isinstance(value, np.generic):
        return plain(value.item())
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value
