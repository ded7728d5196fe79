"""Where to listen: what an outing let the rider hear, as times in the WAV, for somebody who will not sit through it."""

from __future__ import annotations

from collections.abc import Sequence

from cadence_coach.review.say import minutes
from cadence_coach.store.outing import Outing

APART_S = 5.0
"""Clicks further apart than this belong to two flights."""
SHOWN = 4


def heard_lines(outing: Outing) -> list[str]:
    """Stretches of clicks, cues and words after flights, each with the first few times; nothing of a kind: no line."""
    clicks = sorted(c.time for c in outing.clicks)
    starts = [i for i, t in enumerate(clicks) if i == 0 or t - clicks[i - 1] > APART_S]
    runs = [
        f"{minutes(clicks[a])} to {minutes(clicks[b - 1])}"
        for a, b in zip(starts, [*starts[1:], len(clicks)], strict=True)
    ]
    cues = [f"{minutes(c.time)} {c.kind.replace('_', ' ')}" for c in outing.cues if c.time > 0.0]
    words = [minutes(s.known) for s in outing.summaries]
    return [
        f"  {what} {_few(times)}"
        for what, times in (("clicks", runs), ("cues", cues), ("words after a flight", words))
        if times
    ]


def _few(times: Sequence[str]) -> str:
    more = f" and {len(times) - SHOWN} more" if len(times) > SHOWN else ""
    return ", ".join(times[:SHOWN]) + more
