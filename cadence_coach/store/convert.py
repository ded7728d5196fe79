"""Outing files and recordings into each other: the samples stay as they are, to the last bit."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path
from typing import Any

import attrs
import numpy as np

from cadence_coach.store.outing import Outing

KEPT_META = ("uuid", "device", "worn_at", "start_utc")
"""Of a recording's meta.json: what names no place."""


def write_as_recording(
    outing: Outing, folder: str | Path, gz: bool = False, start: str | None = None, ridden: bool = False
) -> Path:
    """Writes the raw samples as a recording, in the recording's own time where the outing came from one. start: what
    it was armed for; with a training's plan it goes along, else squats would come back as flights. ridden: with a
    coach, so that its UUID does not follow from the samples; that goes along too, else it would come back as another.

    A recording has one time a fix: that of its arrival. How much earlier it was true is kept by the outing file alone.
    """
    from cadence_coach.store.recordings import write_recording  # the engine's process needs none of its reading

    source = outing.meta.get("source") or {}
    begins = source.get("start_ns")
    if begins is None:  # older files: to the microsecond since 1970, in the digits that the float was read from
        begins = int(Decimal(repr(float(source.get("start_s") or 0.0))).scaleb(9).to_integral_value())
    meta = {k: v for k, v in (source.get("meta") or {}).items() if k != "format"}
    if outing.start_utc:
        meta["start_utc"] = outing.start_utc
    if worn_at := outing.settings.get("worn_at"):
        meta.setdefault("worn_at", worn_at)
    if start is not None:
        meta["start"] = start
    if ridden:
        meta["uuid"] = outing.uuid
    if "land" in outing.meta:
        meta["land"] = outing.meta["land"]
    fixes = None
    if len(outing.fixes):
        fixes = np.column_stack([outing.fixes[:, 0], outing.fixes[:, 2:7]])
    return write_recording(folder, outing.accel, outing.gyro, fixes, meta, gz=gz, start_ns=int(begins))


def source_meta(source: Any) -> dict[str, Any]:
    """What an outing keeps of the source it was made from."""
    exact = {"start_ns": source.start_ns} if hasattr(source, "start_ns") else {}
    return {"name": source.name, "start_s": source.start_s, **exact, "meta": source.meta}


def without_place(outing: Outing) -> Outing:
    """The same outing without anything that says where it was: no latitude, longitude or heading (a heading and a
    speed draw the way). Speeds, times and figures stay; what the coach said about the distance from the start cannot
    be
    replayed."""
    fixes = outing.fixes.copy()
    if len(fixes):
        fixes[:, 3:5] = np.nan
        fixes[:, 6] = np.nan
    commands = [attrs.evolve(c, given={k: v for k, v in c.given.items() if k != "home"}) for c in outing.commands]
    source = dict(outing.meta.get("source") or {})
    if "meta" in source:
        source["meta"] = {k: v for k, v in source["meta"].items() if k in KEPT_META}
    return attrs.evolve(
        outing, fixes=fixes, commands=commands, meta={**outing.meta, "source": source, "place": "removed"}
    )
