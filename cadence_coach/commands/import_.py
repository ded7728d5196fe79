"""import: recordings become outing files, and notes come back to theirs."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def import_(
    what: Annotated[
        list[str],
        typer.Argument(
            help="Recordings (folder with accel.csv, CSV file), outing files, files of notes, or folders of all these.",
            metavar="WHAT",
        ),
    ],
    profile: Annotated[
        Path | None, typer.Option(help="Rider and foil (TOML) of these recordings.", metavar="ME.toml")
    ] = None,
    out: Annotated[
        Path | None, typer.Option(help="Folder for the outing files; by default the data folder.", metavar="FOLDER")
    ] = None,
    columns: Annotated[
        str | None,
        typer.Option(
            help="For another logger's CSV: time=NAME,ax=NAME,... where the names do not tell.", metavar="ROLE=NAME,..."
        ),
    ] = None,
    units: Annotated[
        str | None,
        typer.Option(
            help="For another logger's CSV: accel=g,gyro=deg/s,time=ms,speed=km/h.", metavar="QUANTITY=UNIT,..."
        ),
    ] = None,
) -> None:
    """Turn recordings into outing files, gone through by the detector; the samples are kept exactly.

    An outing file from elsewhere is checked and copied. A file of notes is merged into the outing it belongs to. What
    is there already is not written again, unless this time it brings more: rider and foil, a sensor, a date; notes and
    corrections stay. The CSV of any other sensor logger is taken too: its columns and units are read from names and
    numbers, and asked for where in doubt. Where it writes a file a sensor, name them together, or their folder, or the
    .zip of them: acceleration, rotation, gravity, place and speed become one outing.

    Example: cadence-coach import lake/ --profile me.toml
    """
    from cadence_coach.commands.foreign import meant, name_of, ours, pairs, together
    from cadence_coach.commands.naming import each, say_no_profile
    from cadence_coach.commands.taking import take
    from cadence_coach.commands.writing import bar as progress
    from cadence_coach.errors import CouldNot, Refused
    from cadence_coach.foil.profile import load_profile
    from cadence_coach.store import logger_files
    from cadence_coach.store.folders import outings_folder

    found = each(what, (".outing", ".json", ".zip", *logger_files.ENDINGS))
    jobs = together(meant(found, what))
    if not jobs:
        raise Refused(f"{what[0]}: nothing in it to take in; name recordings, outing files or files of notes")
    tables = load_profile(profile).table if profile else None
    named = pairs("columns", columns), pairs("units", units)
    folder = out or outings_folder()
    if folder.is_file():
        raise Refused(f"{folder}: is a file; give a folder for --out")
    left_over: list[Exception] = []
    bare = False
    with progress() as bar:
        task = bar.add_task("import", total=len(jobs))
        for n, job in enumerate(jobs):
            told = lambda part, n=n: bar.update(task, completed=n + part)  # noqa: E731
            try:
                if job[0].lower().endswith(".json"):
                    print(f"{job[0]}: {_merge(job[0], folder)}")
                    continue
                with ours(job, *named, bar, len(jobs) == 1) as recordings:
                    for recording, left_out in recordings:
                        taken = take(recording, folder, tables, told, left_out)
                        print("\n".join(f"{name_of(job)}: {line}" for line in taken.lines))
                        bare = bare or not (taken.has_rider or job[0].lower().endswith(".outing"))
            except (Refused, CouldNot) as error:
                if len(jobs) == 1:
                    raise
                left_over.append(error if job[0] in str(error) else type(error)(f"{name_of(job)}: {error}"))
    if bare:
        say_no_profile("no band, size needed or power in these outings", kept=False)
    if left_over:
        asked_wrongly = any(isinstance(error, Refused) for error in left_over)
        said = f"{len(left_over)} of {len(jobs)} were not taken: " + "; ".join(map(str, left_over))
        raise Refused(said) if asked_wrongly else CouldNot(said)


def _merge(spec: str, folder: Path) -> str:
    from cadence_coach.commands.naming import count
    from cadence_coach.commands.taking import known
    from cadence_coach.errors import Refused
    from cadence_coach.review.notes import read_notes
    from cadence_coach.store.rescue import add_note

    uuid, notes = read_notes(spec)
    path = known(uuid, folder)
    if path is None:
        raise Refused(f"{spec}: its outing is not in {folder}; import the outing first")
    for note in notes:
        add_note(path, note)
    return f"{count(len(notes), 'note')} -> {path}"
