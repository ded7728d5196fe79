"""From a plan (what was chosen on shore) to a Live that can be started: lock, rescue, band, source, sink, file."""

from __future__ import annotations

import sys
import uuid
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import attrs

from cadence_coach import VERSIONS
from cadence_coach.core.settings import RANGES, Settings
from cadence_coach.core.targets import Band, BandTable
from cadence_coach.errors import Refused
from cadence_coach.foil.band import band_table
from cadence_coach.foil.profile import Profile, demo_profile, load_profile
from cadence_coach.land.engine import LandEngine, plain_plan, plan_from
from cadence_coach.land.plan import Plan as LandPlan
from cadence_coach.live import machine
from cadence_coach.live.feed import VirtualClock
from cadence_coach.live.shell import Live
from cadence_coach.live.snapshot import Snapshot
from cadence_coach.sound.latency import Latencies
from cadence_coach.sound.mixer import DEFAULT_VOLUME_DB
from cadence_coach.sound.sinks import Sink, open_sink
from cadence_coach.sources import open_source
from cadence_coach.store.convert import source_meta
from cadence_coach.store.folders import FolderLock, home, outings_folder
from cadence_coach.store.outing import Outing
from cadence_coach.store.rescue import Engine, rescue_folder
from cadence_coach.store.writer import OutingWriter

LATENCIES = "latency.json"
QUICK_BYTES = 4 << 20
"""File and log of some ten minutes: replayed in seconds, also on a phone."""


@attrs.frozen
class Plan:
    """What is chosen before an outing. source: see `sources`; sound: see `sound.sinks`; profile None: an invented
    rider's."""

    source: str
    settings: Settings = attrs.field(factory=Settings)
    profile: Path | None = None
    sound: str = "silent"
    fast: bool = False
    lang: str = "en"
    keep: bool = True
    count_in: int | None = 0
    """Seconds; None: armed and started by command."""
    tags: dict[str, str] = attrs.field(factory=dict)
    volume_db: float = DEFAULT_VOLUME_DB
    land: LandPlan | None = None
    """A training on land instead of an outing on the water."""


def begin(
    plan: Plan, stack: ExitStack, told: Callable[[str], None] = lambda line: print(line, file=sys.stderr)
) -> Live:
    """Everything opened and checked, nothing started. What was opened is closed with `stack` should the start fail.

    Takes the folder's lock and holds it until `stack` is closed; outings whose program died are repaired first, and
    what the kept ones show of this rider on this foil leans the band. `told` takes a line about what was left out.
    """
    virtual = VirtualClock()
    sink, latency = _sink(plan, virtual)  # what can be refused comes first, what takes time last
    source = open_source(plan.source)
    start = datetime.now(UTC)  # a device's rows begin now, however long the rest takes
    stack.callback(source.close)
    profile = load_profile(plan.profile) if plan.profile is not None else demo_profile()
    band = band_table(profile.setup)
    folder = outings_folder() if plan.keep else None
    if folder is not None:
        stack.enter_context(FolderLock(folder).take())
        rescue_folder(folder, engine_for, QUICK_BYTES)
        stack.callback(rescue_folder, folder, engine_for)  # the long ones once this outing is over
        plan, band = _own(plan, profile, band, folder, told)
    engine = engine_of(plan.settings, band, plan.land)
    if plan.land is not None and hasattr(source, "hear"):
        engine.heard = source.hear  # a simulated mover hears the clicks, as a person would
    ident = str(uuid.uuid4())
    live_only = source.progress() is None
    start_utc = start.strftime("%Y-%m-%dT%H:%M:%SZ") if live_only else source.meta.get("start_utc")
    path = None if folder is None else folder / f"{start:%Y-%m-%dT%H-%M-%SZ}-{ident[:8]}.outing"
    writer = None
    if path is not None:
        stack.callback(_remember, path, told)
        meta = {
            "uuid": ident,
            "start_utc": start_utc,
            "versions": VERSIONS,
            "band": plain_band(band),
            "source": source_meta(source),
            "written_utc": start.strftime("%Y-%m-%dT%H:%M:%SZ"),
        }
        if plan.land is not None:
            meta["land"] = plain_plan(plan.land)
        writer = OutingWriter(path, meta, profile.table, plan.settings.plain(), plan.tags)
        stack.callback(_take_back, writer)
    live = Live(
        source,
        engine,
        band,
        plan.settings,
        sink,
        writer=writer,
        fast=virtual if plan.fast else None,
        lang=plan.lang,
        count_in=0 if plan.fast and plan.count_in else plan.count_in,
        volume_db=plan.volume_db,
        latency_s=latency,
        battery=machine.phone_battery if live_only else None,
        first=Snapshot(uuid=ident, file=None if path is None else str(path)),
    )
    return live


def _own(
    plan: Plan, profile: Profile, band: BandTable, folder: Path, told: Callable[[str], None]
) -> tuple[Plan, BandTable]:
    """Plan and band with the rider's own best cadence and usual speed, from the outings in `folder`.

    Cheap: rows of the season's cache, where each outing goes when it is over, and QUICK_BYTES of others, latest
    first. An outing must be able to start whatever lies in that folder: what cannot be read is told in one line and
    left out.
    """
    earlier = sorted(folder.glob("*.outing"), reverse=True)
    if not earlier:
        return plan, band
    try:  # looking back is loaded where there is something to look back on: the engine's process must start quickly
        from cadence_coach.review.season_row import Cache
        from cadence_coach.review.so_far import leaned, so_far

        rows, failed = Cache().rows(earlier, most_bytes=QUICK_BYTES)
        found = so_far(rows, profile.rider, profile.foil, band)
        band = leaned(band, found)
    except Exception as error:  # no mistake of ours in looking back may keep a rider ashore
        told(f"{folder}: earlier outings left out, the band is the model's ({type(error).__name__}: {error})")
        return plan, band
    if failed:
        more = f", and {len(failed) - 1} more" if len(failed) > 1 else ""
        told(f"left out of the band: {failed[0][1]}{more}")
    lowest, highest, _ = RANGES["own_best_cadence"]
    best = found.best_cadence
    if plan.settings.own_best_cadence is None and best is not None and lowest <= best <= highest:
        plan = attrs.evolve(plan, settings=plan.settings.with_(own_best_cadence=best))
    return plan, band


def _take_back(writer: OutingWriter) -> None:
    """An outing that never began, as when its screens cannot be served, leaves no file."""
    if writer.untouched and writer.close("error") is None:
        writer.path.unlink(missing_ok=True)


def _remember(path: Path, told: Callable[[str], None]) -> None:
    """An outing that is over goes into the season's cache, so that no later start has to wait for it."""
    if not path.exists():
        return  # it never began
    try:
        from cadence_coach.review.season_row import Cache

        Cache().rows([path])
    except Exception as error:  # the outing itself is kept; only the next look at it takes longer
        told(f"{path.name}: not looked at yet ({type(error).__name__}: {error})")


def _sink(plan: Plan, virtual: VirtualClock) -> tuple[Sink, float]:
    if not plan.fast:
        sink = open_sink(plan.sound)
        return sink, Latencies(home() / LATENCIES).of(sink.name)
    if plan.sound.partition(":")[0] not in ("wav", "silent"):
        raise Refused(
            f"--sound {plan.sound}: nobody can listen so fast; choose wav:FILE or silent, or leave out --fast"
        )
    return open_sink(plan.sound, clock=virtual), 0.0


def engine_of(settings: Settings, band: BandTable, land: LandPlan | None = None) -> Any:
    """A fresh engine; a training's where there is a plan of one."""
    from cadence_coach.core.engine import Engine as CoachEngine

    engine = CoachEngine(settings, band)
    return engine if land is None else LandEngine(engine, land)


def plain_band(band: BandTable) -> dict[str, Any]:
    """The band as it is kept in the outing file."""
    return asdict(band)


def band_of(plain: Any) -> BandTable:
    """The inverse of `plain_band`. Raises Refused for what is none."""
    try:
        bands = tuple(Band(**b) for b in plain["bands"])
        if not bands:
            raise ValueError("no rows")
        return BandTable(bands, float(plain["cruise_speed"]), plain.get("q"))
    except (TypeError, ValueError, KeyError, AttributeError) as e:
        raise Refused(
            f"the band in this outing file cannot be read ({e}); give --profile, or another copy of it"
        ) from None


def engine_for(outing: Outing) -> Engine:
    """A fresh engine as the outing's own was: for repairing it and for replaying it."""
    try:
        settings = Settings.from_plain(outing.settings)
    except (TypeError, ValueError) as e:
        raise Refused(f"the settings in this outing file cannot be read ({e}); use another copy of it") from None
    land = outing.meta.get("land")
    return engine_of(settings, band_of(outing.meta.get("band")), None if land is None else plan_from(land))


def rescue_all(told: Callable[[str], None] = lambda line: None, most_bytes: int | None = QUICK_BYTES) -> list[Path]:
    """Repairs every outing whose program died, unless a coach is running (then CouldNot). Their files.

    Long ones only with `most_bytes` None, or after the next outing; they can be read as they are.
    """
    folder = outings_folder()
    done = []
    with FolderLock(folder).take():
        for path, why in rescue_folder(folder, engine_for, most_bytes):
            told(f"{path.name}: {'rescued' if why is None else why}")
            if why is None:
                done.append(path)
    return done
