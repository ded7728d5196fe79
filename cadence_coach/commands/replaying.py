"""A source driven through the engine as fast as it goes: what replay and demo share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from cadence_coach import VERSIONS
from cadence_coach.core.events import Click, Cue, Event, Onset, Summary
from cadence_coach.errors import Refused
from cadence_coach.sources import Source
from cadence_coach.store.replay_json import Replayed


def engine_for(profile: Path | None) -> Callable[[str | None], Any]:
    """What makes a fresh engine for a profile and a start (None: not known); the band is worked out once. Without a
    profile an invented rider's. Squats on land are no flights."""
    from cadence_coach.core.engine import Engine
    from cadence_coach.core.settings import Settings
    from cadence_coach.foil.band import band_table
    from cadence_coach.foil.profile import demo_profile, load_profile
    from cadence_coach.land.engine import LandEngine

    band = band_table((load_profile(profile) if profile else demo_profile()).setup)

    def make(start: str | None) -> Any:
        engine = Engine(Settings(start=start) if start else Settings(), band)
        return LandEngine(engine, None) if start == "land" else engine

    return make


def replay_source(
    source: Source,
    engine: Any,
    told: Callable[[float], None] = lambda share: None,
    heard: list[Event] | None = None,
) -> Replayed:
    """Everything the engine finds in a source; `told` hears the share that is done after every list of rows. `heard`,
    where given, takes the events that make a sound, and onsets."""
    found = Replayed(source.start_s, VERSIONS)

    def take(events: list[Event]) -> None:
        found.take(events)
        if heard is not None:
            heard.extend(e for e in events if isinstance(e, Click | Cue | Summary | Onset))

    try:
        for rows in source:
            engine.receive(rows)
            take(engine.events())
            told(source.progress() or 0.0)
        engine.end()
        take(engine.events())
        found.count(engine.skipped)
    finally:
        source.close()
    return found


def outputs(names: list[str], out: Path | None, ending: str = "json") -> list[Path | None]:
    """Where the file of each recording goes: `out` itself for one, out/NAME.json for several or when it is a folder."""
    if out is None:
        return [None] * len(names)
    if len(names) == 1 and not out.is_dir():
        return [out]
    if out.exists() and not out.is_dir():
        raise Refused(f"{out}: is a file; for several recordings give a folder")
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice:
        raise Refused(
            f"{twice}: two recordings of this name would both be written to {out}/{twice}.{ending}; rename one"
        )
    return [out / f"{name}.{ending}" for name in names]
