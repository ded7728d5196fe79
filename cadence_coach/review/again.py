"""An outing gone through again with today's detector, and a recording turned into an outing: the live engine, fed from
what was kept."""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Iterable
from typing import Any

import attrs
import numpy as np

from cadence_coach import VERSIONS
from cadence_coach.core import events as ev
from cadence_coach.review.figures import BY_FLIGHT
from cadence_coach.store.once_more import tags_moved, with_what_was_said
from cadence_coach.store.outing import Outing
from cadence_coach.store.own_time import with_believed
from cadence_coach.store.rescue import rerun

LISTS: dict[type[ev.Event], str] = {
    ev.CycleDone: "cycles",
    ev.AttemptEnded: "attempts",
    ev.FlightEnded: "flights",
    ev.FlightStarted: "flight_starts",
    ev.Cue: "cues",
    ev.Held: "held",
    ev.Click: "clicks",
    ev.Summary: "summaries",
    ev.Gap: "gaps",
    ev.Fault: "faults",
}
"""Event to the list of an Outing that holds it."""

NAMESPACE = uuid.UUID("6f1c1a52-6d1b-4c2c-9a38-0d6c1f0b7f0e")
"""Of the names of recordings: the same samples are the same outing, whoever reads them."""


def again(outing: Outing, engine: Any, gone: list[int] | None = None) -> Outing:
    """The same samples and commands through a fresh engine; notes, tags and profile stay, corrections with the flight
    that they were made of. gone: takes the flights (from 0) that are none any more, their corrections are left out;
    None: raises Refused then."""
    found = attrs.evolve(_with(outing, rerun(outing, engine)), tags={})
    if gone is None:
        return with_what_was_said(found, outing, BY_FLIGHT)
    tags, gone[:] = tags_moved(outing, found, BY_FLIGHT)
    return attrs.evolve(found, tags=tags)


def from_rows(
    parts: Iterable[list[ev.Row]],
    engine: Any,
    profile: dict[str, Any] | None = None,
    meta: dict[str, Any] | None = None,
) -> Outing:
    """Lists of rows in time order (a source, a recording) gone through with the engine, as an outing in memory. `meta`
    is what is known about them: `start_utc`, `device`."""
    rows: list[ev.Row] = []
    found: list[ev.Event] = []
    for part in parts:
        engine.receive(part)
        found += engine.events()
        rows += part
    engine.end()
    found += engine.events()
    meta = meta or {}
    start = meta.get("start_utc")
    outing = empty_outing(rows, profile, start if isinstance(start, str) else None)
    if meta.get("device"):
        outing = attrs.evolve(outing, meta={**outing.meta, "device": str(meta["device"])})
    return _with(outing, found)


def empty_outing(rows: list[ev.Row], profile: dict[str, Any] | None = None, start_utc: str | None = None) -> Outing:
    """The rows as an outing without events; its UUID follows from the samples."""
    kinds = np.fromiter((r[0] for r in rows), dtype=np.uint8, count=len(rows))
    accel = np.array([r[1:] for r in rows if r[0] == ev.ACCEL], float).reshape(-1, 4)
    gyro = np.array([r[1:] for r in rows if r[0] == ev.GYRO], float).reshape(-1, 4)
    fixes = np.array([r[1:] for r in rows if r[0] == ev.FIX], float).reshape(-1, 7)
    return Outing(
        uuid=str(uuid.uuid5(NAMESPACE, hashlib.sha256(accel.tobytes()).hexdigest())),
        start_utc=start_utc,
        meta={"versions": dict(VERSIONS)},
        profile=profile,
        settings={},
        accel=accel,
        gyro=gyro if len(gyro) else None,
        fixes=np.column_stack([fixes, np.zeros(len(fixes))]),
        **{name: [] for name in LISTS.values()},
        notes=[],
        tags={},
        kinds=kinds,
    )


def _with(outing: Outing, found: Iterable[ev.Event]) -> Outing:
    lists: dict[str, list[Any]] = {name: [] for name in LISTS.values()}
    believed = set()
    for event in found:
        if (name := LISTS.get(type(event))) is not None:
            lists[name].append(event)
        elif isinstance(event, ev.SpeedFix):
            believed.add(event.time)
    meta = {**outing.meta, "versions": {**(outing.meta.get("versions") or {}), **VERSIONS}}
    return with_believed(attrs.evolve(outing, meta=meta, **lists), believed)
