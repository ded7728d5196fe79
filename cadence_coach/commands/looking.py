"""What the commands that look back share: which outing is meant, and how it becomes figures."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cadence_coach.errors import CouldNot, Refused

if TYPE_CHECKING:
    from cadence_coach.review.figures import Looked
    from cadence_coach.store.outing import Outing

ENDING = ".outing"
IMPORTED = "imported_utc"
"""In an outing's meta: when `import` took it in."""


def newest() -> Path:
    """The outing of the data folder that began last; a note on an older one, or another name, changes nothing."""
    from cadence_coach.sources.simulated import DEMO
    from cadence_coach.store.folders import home, outings_folder

    folder = outings_folder()
    found = sorted(folder.glob(f"*{ENDING}"))
    if not found:
        shown = home() / DEMO / f"{DEMO}{ENDING}"  # a simulated rider's, so it is not taken for an own one
        name = f", such as {shown}, which `demo` left" if shown.is_file() else ""
        raise CouldNot(f"{folder}: no outing yet; ride one, or name an outing file or a recording{name}")
    return max(found, key=_began)


def _began(path: Path) -> tuple[float, float]:
    """When an outing began, in seconds since 1970, and when its file was written, which decides between equals. One
    without a date counts from when it was taken in. A file that cannot be read goes by its name, as it was given to it:
    where it is the last, it is opened, and so it is said that it is damaged."""
    from cadence_coach.store.dates import moment
    from cadence_coach.store.outing_file import peek

    try:
        meta = peek(path)
    except (Refused, CouldNot):
        meta = {"start_utc": re.sub(r"T(\d\d)-(\d\d)-(\d\d)Z.*", r"T\1:\2:\3Z", path.stem)}
    written = path.stat().st_mtime
    known = (moment(str(meta.get(key))) for key in ("start_utc", IMPORTED))
    return next((t for t in known if t == t), written), written


def open_outing(spec: str | None, profile: Path | None, told: Callable[[float], None] = lambda share: None) -> Outing:
    """An outing file, or a recording gone through on the spot; the newest outing where nothing is named."""
    from cadence_coach.store.outing_file import load_outing

    if spec is None or spec.endswith(ENDING):
        return load_outing(newest() if spec is None else spec)
    from cadence_coach.foil.profile import load_profile
    from cadence_coach.sources import KINDS, open_whole

    path = Path(spec)
    if spec.partition(":")[0] not in KINDS and not path.exists():
        raise Refused(
            f"{spec}: no such file or folder; give an outing file, a recording (a folder with accel.csv, or a CSV"
            " file) or sim:KIND:SEED"
        )
    if inside := sorted(path.glob(f"*{ENDING}")):
        raise Refused(f"{spec}: is a folder; name one outing in it, such as {inside[-1]}, or look at all with `season`")
    tables = load_profile(profile).table if profile else None
    source = open_whole(spec)
    try:
        return gone_through(source, tables, told)
    finally:
        source.close()


def gone_through(
    source: Any, profile: dict[str, Any] | None, told: Callable[[float], None] = lambda share: None
) -> Outing:
    """A source as an outing that began as its meta.json says; without a word there, as one of the water."""
    from cadence_coach.review.restudy import gone_through

    return gone_through(_told(source, told), source.meta, profile)


def looked(outing: Outing, profile: Path | None = None) -> Looked:
    """The outing's figures, against its own rider and foil or, when given, those of a profile."""
    import attrs

    from cadence_coach.foil.profile import load_profile
    from cadence_coach.review.looking import looked as looked_at

    if profile is not None:
        meta = {k: v for k, v in outing.meta.items() if k != "band"}
        outing = attrs.evolve(outing, profile=load_profile(profile).table, meta=meta)
    return looked_at(outing)


def file_named(spec: str | None) -> Path:
    """The outing file that is to be changed; a recording has no place for notes."""
    if spec is None:
        return newest()
    if not spec.endswith(ENDING):
        raise Refused(f"{spec}: is no outing file; `import` it first, then notes and corrections can be kept with it")
    return Path(spec)


def _told(source: Any, told: Callable[[float], None]) -> Iterator[list[Any]]:
    for rows in source:
        yield rows
        told(source.progress() or 0.0)


def season_rows(folder: Path | None) -> tuple[list[Any], list[tuple[Path, str]]]:
    """Rows of all outings of a folder (the own ones when None), with a bar while new ones are read, on all cores where
    there are many."""
    import os

    from cadence_coach.commands.writing import bar as progress
    from cadence_coach.review.restudy import on_cores
    from cadence_coach.review.season_row import Cache, lost
    from cadence_coach.store.folders import outings_folder

    if folder is not None and not folder.is_dir():
        raise Refused(f"{folder}: no such folder; name one with {ENDING} files")
    paths = sorted((folder or outings_folder()).rglob(f"*{ENDING}"))
    with progress() as bar:
        task = bar.add_task("outings", total=len(paths))
        many = on_cores(os.cpu_count() or 1, lost)
        return Cache().rows(paths, lambda done: bar.update(task, completed=done), many=many)
