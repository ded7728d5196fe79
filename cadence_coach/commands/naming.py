"""What names on the command line stand for: a folder of many recordings, a source, and whose rider and foil count."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

from cadence_coach.errors import CouldNot

ACCEL = ("accel.csv", "accel.csv.gz")
OWN_PROFILE = "me.toml"
"""In the data folder: the profile that is meant where none is named. The app keeps it there too."""


def each(specs: Sequence[str], beside: Sequence[str] = ()) -> list[str]:
    """Every recording that is meant: a folder that is none itself stands for the recordings in it, at any depth, and
    for the files in it whose names end as in `beside`. Anything else is left as it is, to be judged where it is opened.
    """
    found: list[str] = []
    for spec in specs:
        folder = Path(spec)
        if not folder.is_dir() or any((folder / name).is_file() for name in ACCEL):
            found.append(spec)
            continue
        inside = {path.parent for name in ACCEL for path in folder.rglob(name)}
        ends = tuple(beside)
        loose = {p for p in folder.rglob("*") if p.name.lower().endswith(ends) and p.parent not in inside}
        loose = {p for p in loose if p.is_file()}
        found.extend(map(str, sorted(inside | loose)) if inside | loose else [spec])
    return found


def look_at(source: str) -> None:
    """Raises for a source that cannot be opened, before anybody answers questions for it. Nothing is simulated."""
    from cadence_coach.sources import open_source, simulated

    kind, _, rest = source.partition(":")
    if kind == "sim" and rest:
        simulated.meant(rest)
    else:
        open_source(source).close()


def own_profile(named: Path | None) -> Path | None:
    """The profile that was named, else the one in the data folder; None where there is neither."""
    from cadence_coach.store.folders import home

    if named is not None:
        return named
    try:
        kept = home() / OWN_PROFILE
    except CouldNot:
        return None  # no data folder and no rights to make one: nothing is kept there
    return kept if kept.is_file() else None


def say_no_profile(what: str, kept: bool = True) -> None:
    """One line to somebody whose rider and foil are not known. kept: the one in the data folder would have counted."""
    or_keep = f", or keep it as {OWN_PROFILE} in the data folder" if kept else ""
    print(
        f"No profile: {what}. `cadence-coach band --template me.toml` writes one to fill in; give it with --profile"
        f"{or_keep}.",
        file=sys.stderr,
    )


def count(n: int, one: str, more: str | None = None) -> str:
    """ "1 flight", "2 flights", "3 tries"."""
    return f"{n} {one if n == 1 else more or one + 's'}"
