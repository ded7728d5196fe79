"""What was chosen before or during an outing, as one frozen plain value that goes through JSON."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any, Self

STARTS = ("dock", "rope", "rope_drill", "step", "land")
"""How the outing starts. On the "rope" the coach is silent; "rope_drill" is the same start with the coach armed.
"land" is training on dry ground: every bounce is a pump, no word, no guard."""

LEADS = ("rider", "own_best", "target", "silent")
"""What the click goes with: the rider's own beat, the rider's best cadence, the model's target, or no click."""

LEVELS = ("full", "basic", "quiet")
"""full: every correction. basic: speed, cadence and size alone, at half the ceiling. quiet: nothing while aloft but
the guard (turn back, time limit, faults); the word after the flight stays."""

FOCI = ("start", "cadence", "size", "fade", "timing", "steadiness", "speed")
"""What an outing can be about. "start" has no cue in flight: it shows in the word after it."""

COLD_WATER_C = 15.0
"""Water below this is called cold (RNLI, public safety texts): sudden entry takes breath and grip."""


@dataclass(frozen=True, slots=True)
class Settings:
    """SI inside: s, m, Hz, deg C. None means: not chosen, the rule's own default holds."""

    start: str = "dock"
    lead: str = "rider"
    level: str = "full"
    focus: str | None = None
    muted: bool = False
    goal_seconds: float | None = None
    goal_pumps: int | None = None
    turn_back_m: float | None = None
    time_limit_s: float | None = None
    water_temperature_c: float | None = None
    own_best_cadence: float | None = None
    """Median cadence [Hz] of the rider's best flights so far."""
    click_ahead_s: float = 0.3
    """A click is decided on at least this long before it sounds: more than the output's latency."""
    worn_at: str | None = None
    foot_forward: str | None = None

    def __post_init__(self) -> None:
        for name, allowed in (("start", STARTS), ("lead", LEADS), ("level", LEVELS), ("focus", (None, *FOCI))):
            if getattr(self, name) not in allowed:
                raise ValueError(f"{name} is {getattr(self, name)!r}; choose one of {', '.join(map(str, allowed))}")
        for name, (lo, hi, unit) in RANGES.items():
            value = getattr(self, name)
            if value is not None and not lo <= value <= hi:
                raise ValueError(f"{name} is {value}; it must lie in {lo:g} to {hi:g} {unit}")

    @property
    def cold(self) -> bool:
        return self.water_temperature_c is not None and self.water_temperature_c < COLD_WATER_C

    def with_(self, **changes: Any) -> Self:
        """The same with some values changed, checked again."""
        return replace(self, **changes)

    def plain(self) -> dict[str, Any]:
        """Numbers, strings, booleans and None by name: goes through JSON."""
        return {f.name: getattr(self, f.name) for f in fields(self)}

    @classmethod
    def from_plain(cls, values: Mapping[str, Any]) -> Self:
        """The inverse of `plain`; a name that does not exist is an error, a missing one has its default."""
        unknown = sorted(set(values) - {f.name for f in fields(cls)})
        if unknown:
            raise ValueError(f"no such setting: {', '.join(unknown)}")
        return cls(**values)


RANGES: dict[str, tuple[float, float, str]] = {
    "goal_seconds": (1.0, 36000.0, "s"),
    "goal_pumps": (3, 100000, "pumps"),
    "turn_back_m": (20.0, 20000.0, "m"),
    "time_limit_s": (60.0, 36000.0, "s"),
    "water_temperature_c": (-2.0, 40.0, "deg C"),
    "own_best_cadence": (0.5, 3.5, "Hz"),
    "click_ahead_s": (0.05, 1.0, "s"),
}
