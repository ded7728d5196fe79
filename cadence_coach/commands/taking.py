"""What `import` does with one recording or outing file: a new outing file, or more for the one that is there."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from uuid import UUID

import attrs
import numpy as np

from cadence_coach.commands.flight_table import unused_line
from cadence_coach.commands.looking import ENDING, IMPORTED, gone_through
from cadence_coach.commands.naming import count
from cadence_coach.commands.writing import folder_at
from cadence_coach.errors import CouldNot, Refused
from cadence_coach.review.again import again, from_rows
from cadence_coach.review.figures import BY_FLIGHT
from cadence_coach.review.restudy import engine_for, started
from cadence_coach.sources import open_whole
from cadence_coach.store import once_more
from cadence_coach.store.columns import Unfit
from cadence_coach.store.convert import source_meta
from cadence_coach.store.outing import Outing
from cadence_coach.store.outing_file import load_outing, peek, save_outing

FROM_ROWS = "end_of_data"
"""How an outing ended whose samples came from a recording."""


@attrs.frozen
class Taken:
    """What came of it, in words, a line each, and whether a rider and foil are known of it."""

    lines: tuple[str, ...]
    has_rider: bool


def take(
    spec: str,
    folder: Path,
    tables: dict[str, Any] | None,
    told: Callable[[float], None],
    left_out: Sequence[str] | None = None,
) -> Taken:
    """Takes one recording or outing file in. left_out: what was left out of another logger's files on the way into
    this recording, in place of what its own reading says: that would be told by files that nobody knows."""
    unused: tuple[str, ...] = ()
    if spec.lower().endswith(ENDING):
        new = load_outing(spec)
    else:
        new, unused = _gone_through(spec, tables, told, left_out)
    if tables is not None and new.profile != tables:
        try:
            new = _of_rider(new, tables)
        except Refused as error:
            raise Refused(f"{spec}: {error}, gone through with another profile; import it without --profile") from None
    there = known(new.uuid, folder)
    if there is None:
        beside = _read_otherwise(new, folder)
        new = attrs.evolve(new, meta={**new.meta, IMPORTED: datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")})
        path = save_outing(new, _free(folder_at(folder, "--out") / name_for(new)))
        also = f"; {beside.name} is the same recording read otherwise: remove the one that is wrong" if beside else ""
        return Taken((f"{_figures(new)} -> {path}{also}", *unused), new.profile is not None)
    news: list[str] = []
    try:
        whole = once_more.changed(there, lambda kept: _with_more(new, kept, tables, news))
    except Refused as error:
        raise Refused(
            f"{spec}: {there.name} is there already, and {error}; nothing was changed, to have both give another "
            "folder with --out"
        ) from None
    if whole is None:
        return Taken((f"is there already ({there.name})", *unused), peek(there).get("profile") is not None)
    text = f"{_figures(whole)} -> {there}, which was there already and now has {_listed(news)} as well"
    return Taken((text, *unused), whole.profile is not None)


def known(uuid: str, folder: Path) -> Path | None:
    """The outing of that UUID in a folder."""
    return next((path for path, meta in _all(folder) if meta.get("uuid") == uuid), None)


def name_for(outing: Outing) -> str:
    day = "".join(c if c.isdigit() or c in "TZ" else "-" for c in (outing.start_utc or "undated")[:20]).strip("-")
    return f"{day or 'undated'}-{outing.uuid[:8]}{ENDING}"


def _free(path: Path) -> Path:
    """A file of that name which is not known as this outing cannot be read: by a newer version, or from another copy,
    all that was said of it may still be had. Raises Refused."""
    if path.exists():
        raise Refused(
            f"{path}: is there already and cannot be read, it is damaged or of a newer version; nothing was written, "
            "move it away first or give another folder with --out"
        )
    return path


def _all(folder: Path) -> Iterator[tuple[Path, dict[str, Any]]]:
    for path in sorted(folder.glob(f"*{ENDING}")):
        try:
            yield path, peek(path)
        except (Refused, CouldNot):
            continue  # a damaged neighbour is no reason not to import


def _gone_through(
    spec: str, tables: dict[str, Any] | None, told: Callable[[float], None], left_out: Sequence[str] | None
) -> tuple[Outing, tuple[str, ...]]:
    """The outing, and a line that says what was skipped, where something was."""
    try:
        source = open_whole(spec)
    except Unfit as error:
        raise Refused(error.for_import) from None
    try:
        outing = gone_through(source, tables, told)
        meta = {**outing.meta, "source": source_meta(source), "ended": FROM_ROWS}
        outing = attrs.evolve(outing, uuid=named_in(source.meta) or outing.uuid, meta=meta)
    finally:
        source.close()
    notes = source.notes if left_out is None else left_out
    return outing, (unused_line(outing, notes),) if notes or outing.gaps or outing.faults else ()


def named_in(meta: dict[str, Any]) -> str | None:
    """The UUID of the outing that a recording was exported of, where its meta.json names one."""
    try:
        return str(UUID(meta["uuid"]))
    except (KeyError, ValueError, TypeError, AttributeError):
        return None


def _of_rider(outing: Outing, tables: dict[str, Any] | None) -> Outing:
    """The outing with that rider and foil. What the coach said is worked out anew where it was worked out from a
    recording, and stays where somebody heard it."""
    meta = {key: value for key, value in outing.meta.items() if key != "band"}  # the band was another rider's
    outing = attrs.evolve(outing, profile=tables, meta=meta)
    return outing if heard(outing) else again(outing, engine_for(tables, _how(outing)))


def heard(outing: Outing) -> bool:
    """Whether it was lived through, not worked out from a recording, which knows of all settings at most the start."""
    return bool(
        outing.settings.keys() - {"start"} or outing.commands or outing.meta.get("ended", FROM_ROWS) != FROM_ROWS
    )


def _how(outing: Outing) -> dict[str, Any]:
    return started({**outing.settings, **outing.meta})


def _with_more(new: Outing, kept: Outing, tables: dict[str, Any] | None, news: list[str]) -> Outing | None:
    """What is kept with what `new` brings; None where that is nothing. `news`: what it brings, in words. Raises
    Refused."""
    more = once_more.more_samples(new, kept)
    if (
        heard(new)
        and not heard(kept)
        and len(new.accel) >= len(kept.accel)
        and ("land" in new.meta) == ("land" in kept.meta)
    ):
        more.append("what the coach said")  # kept is a recording of it
    news[:] = more
    rider = tables or kept.profile or new.profile
    if rider != kept.profile:
        news.append("rider and foil")
    if new.start_utc is not None and new.start_utc != kept.start_utc:
        news.append("its date")
    whole = _made_anew(new, kept, more, rider, news) if news else kept
    said = once_more.with_what_was_said(whole, new, BY_FLIGHT)
    if len(said.notes) > len(whole.notes):
        news.append("notes")
    added = said.tags.keys() - whole.tags.keys()
    if any(name.startswith(BY_FLIGHT) for name in added):
        news.append("corrections")
    if not all(name.startswith(BY_FLIGHT) for name in added):
        news.append("tags")
    return said if news else None


def _made_anew(new: Outing, kept: Outing, more: list[str], rider: dict[str, Any] | None, news: list[str]) -> Outing:
    """What is kept with the samples, rider and date that `new` brings, and with all that was said of it."""
    if "land" in kept.meta and ("land" not in new.meta or (kept.clicks and not new.clicks)):
        raise Refused(f"holds a training on land, to which {_listed(news)} cannot be added")
    base = kept if not more else new
    if more and (once_more.lacks(new, kept) or (heard(kept) and not heard(new))):
        if heard(kept) or heard(new):
            raise Refused(f"brings {_listed(more)}, but not all that this one has")
        base = from_rows(once_more.rows_of_both(new, kept), engine_for(rider, _how(new)), rider)
        meta = {**kept.meta, **new.meta, **base.meta}
        base = attrs.evolve(base, uuid=kept.uuid, settings=new.settings, meta=meta)
    if base.profile != rider:
        base = _of_rider(base, rider)
    meta = {key: value for key, value in base.meta.items() if key != IMPORTED}
    if IMPORTED in kept.meta:
        meta[IMPORTED] = kept.meta[IMPORTED]
    base = attrs.evolve(base, start_utc=new.start_utc or kept.start_utc, meta=meta, notes=[], tags={})
    return once_more.with_what_was_said(base, kept, BY_FLIGHT)


def _read_otherwise(new: Outing, folder: Path) -> Path | None:
    """An outing made of a recording of the same name and the same moments, up to a unit, whose samples are others: the
    same columns in another unit, or other columns."""
    name = (new.meta.get("source") or {}).get("name")
    for path, meta in _all(folder):
        same = name is not None and (meta.get("source") or {}).get("name") == name
        if same and meta.get("start_utc") == new.start_utc and meta.get("device") == new.meta.get("device"):
            try:
                kept = load_outing(path)
            except (Refused, CouldNot):
                continue
            if len(kept.accel) == len(new.accel) and np.allclose(
                _shares(kept), _shares(new), rtol=0.0, atol=TIME_DIGITS, equal_nan=True
            ):
                return path
    return None


TIME_DIGITS = 1e-6
"""A unit's rounding, as a share of the whole time: 4 ms in an hour. Two outings of as many samples are further apart by
the jitter of their clock alone."""


def _shares(outing: Outing) -> np.ndarray:
    """Its moments as shares of the whole time."""
    t = outing.accel[:, 0]
    return t / (np.nanmax(np.abs(t), initial=0.0) or 1.0)


def _figures(outing: Outing) -> str:
    return f"{count(len(outing.flights), 'flight')}, {count(sum(f.pumps for f in outing.flights), 'pump')}"


def _listed(words: list[str]) -> str:
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)
