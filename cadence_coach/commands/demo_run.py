"""The demo's outing through the running coach: engine, sound and file at once, then the report."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from cadence_coach import VERSIONS
from cadence_coach.core.events import Event, Row
from cadence_coach.sources.simulated import SimulatedSource
from cadence_coach.store.replay_json import Replayed

TURN_BACK_M = 300.0
"""What this invented rider chose: the way back between the flights is cut, and the usual 150 m would soon be behind."""


class Overheard:
    """An engine whose events are gathered on their way to the shell."""

    def __init__(self, engine: Any, found: Replayed, told: Callable[[], None]) -> None:
        self._engine = engine
        self._found = found
        self._told = told

    def __getattr__(self, name: str) -> Any:
        return getattr(self._engine, name)

    def receive(self, rows: Iterable[Row]) -> None:
        self._engine.receive(rows)
        self._told()

    def events(self) -> list[Event]:
        events: list[Event] = self._engine.events()
        self._found.take(events)
        return events


def coached(source: SimulatedSource, outing: Path, heard: Path, told: Callable[[float], None]) -> Replayed:
    """Runs the coach over `source` as fast as it goes; writes the outing file and the sound; what was found."""
    from cadence_coach.core.engine import Engine
    from cadence_coach.core.settings import Settings
    from cadence_coach.foil.band import band_table
    from cadence_coach.foil.profile import demo_profile
    from cadence_coach.live import Live
    from cadence_coach.live.begin import plain_band
    from cadence_coach.live.shell import VirtualClock
    from cadence_coach.sound.sinks import WavSink
    from cadence_coach.store.convert import source_meta
    from cadence_coach.store.writer import OutingWriter

    profile, settings, clock = demo_profile(), Settings(turn_back_m=TURN_BACK_M), VirtualClock()
    band = band_table(profile.setup)
    meta = {
        "uuid": str(uuid.uuid4()),
        "start_utc": source.meta.get("start_utc"),
        "versions": VERSIONS,
        "band": plain_band(band),
        "source": source_meta(source),
    }
    found = Replayed(source.start_s, VERSIONS)
    engine = Overheard(Engine(settings, band), found, lambda: told(source.progress()))
    writer = OutingWriter(outing, meta, profile.table, settings.plain(), {"simulated": "invented rider and foil"})
    sink = WavSink(str(heard), clock=clock)
    live = Live(source, engine, band, settings, sink, writer=writer, fast=clock, count_in=0)
    live.start()
    live.join()
    found.count(engine.skipped)
    return found


def report_of(outing: Path, report: Path) -> tuple[str, list[str]]:
    """Writes the report; the one thing to work on that it names, and how each flight ended, looked at again."""
    from cadence_coach.commands.looking import looked
    from cadence_coach.commands.writing import write_text
    from cadence_coach.review.advice import one_thing
    from cadence_coach.review.report import report_html
    from cadence_coach.review.say import tell
    from cadence_coach.store.outing_file import load_outing

    seen = looked(load_outing(outing))
    advice = one_thing(seen)
    write_text(report, report_html(seen, advice=advice))
    return tell(advice.says), [f.ended_by for f in seen.figures.flights]
