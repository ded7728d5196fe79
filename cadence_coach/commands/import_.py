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
    is there already is not written again. The CSV of any other sensor logger is taken too: its columns and units are
    read from names and numbers, and asked for where in doubt. Where it writes a file a sensor, name them together, or
    their folder, or the .zip of them: acceleration, rotation, gravity, place and speed become one outing.

    Example: cadence-coach import lake/ --profile me.toml
    """
    from cadence_coach.commands.foreign import name_of, ours, pairs, together
    from cadence_coach.commands.naming import each, say_no_profile
    from cadence_coach.commands.writing import bar as progress
    from cadence_coach.errors import Refused
    from cadence_coach.foil.profile import load_profile
    from cadence_coach.review.notes import is_notes_file
    from cadence_coach.store.folders import outings_folder

    found = each(what, (".outing", ".csv", ".json", ".zip"))  # of the JSON in a folder, notes alone are meant
    jobs = together([spec for spec in found if spec in what or spec[-5:] != ".json" or is_notes_file(spec)])
    if not jobs:
        raise Refused(f"{what[0]}: nothing in it to take in; name recordings, outing files or files of notes")
    tables = load_profile(profile).table if profile else None
    named = pairs("columns", columns), pairs("units", units)
    folder = out or outings_folder()
    if folder.is_file():
        raise Refused(f"{folder}: is a file; give a folder for --out")
    refused: list[str] = []
    bare = False
    with progress() as bar:
        task = bar.add_task("import", total=len(jobs))
        for n, job in enumerate(jobs):
            told = lambda part, n=n: bar.update(task, completed=n + part)  # noqa: E731
            try:
                if job[0].endswith(".json"):
                    print(f"{job[0]}: {_merge(job[0], folder)}")
                    continue
                bare = bare or (tables is None and not job[0].endswith(".outing"))
                with ours(job, *named, bar) as recordings:
                    for recording in recordings:
                        print(f"{name_of(job)}: {_take(recording, folder, tables, told)}")
            except Refused as error:
                if len(jobs) == 1:
                    raise
                refused.append(str(error))
    if bare:
        say_no_profile("no band, size needed or power in these outings", kept=False)
    if refused:
        raise Refused(f"{len(refused)} of {len(jobs)} were not taken: " + "; ".join(refused))


def _take(spec, folder, tables, told):  # type: ignore[no-untyped-def]
    import attrs

    from cadence_coach.commands.looking import ENDING, engine_for
    from cadence_coach.commands.naming import count
    from cadence_coach.commands.writing import folder_at
    from cadence_coach.review.again import from_rows
    from cadence_coach.sources import open_source
    from cadence_coach.store.convert import source_meta
    from cadence_coach.store.outing_file import load_outing, save_outing

    if spec.endswith(ENDING):
        outing = load_outing(spec)
        if tables is not None:
            outing = attrs.evolve(outing, profile=tables)
    else:
        source = open_source(spec)
        try:
            outing = from_rows(_said(source, told), engine_for(tables), tables, source.meta)
            outing = attrs.evolve(outing, meta={**outing.meta, "source": source_meta(source), "ended": "end_of_data"})
        finally:
            source.close()
    if (there := _known(outing.uuid, folder)) is not None:
        return f"is there already ({there.name})"
    day = "".join(c if c.isdigit() or c in "TZ" else "-" for c in (outing.start_utc or "undated")[:20]).strip("-")
    path = save_outing(outing, folder_at(folder, "--out") / f"{day or 'undated'}-{outing.uuid[:8]}{ENDING}")
    flights, pumps = count(len(outing.flights), "flight"), count(sum(f.pumps for f in outing.flights), "pump")
    return f"{flights}, {pumps} -> {path}"


def _said(source, told):  # type: ignore[no-untyped-def]
    for rows in source:
        yield rows
        told(source.progress() or 0.0)


def _known(uuid: str, folder: Path) -> Path | None:
    """The outing of that UUID in a folder."""
    from cadence_coach.errors import CouldNot, Refused
    from cadence_coach.store.outing_file import read_uuid

    for path in sorted(folder.glob("*.outing")):
        try:
            if read_uuid(path) == uuid:
                return path
        except (Refused, CouldNot):
            continue  # a damaged neighbour is no reason not to import
    return None


def _merge(spec: str, folder: Path) -> str:
    from cadence_coach.commands.naming import count
    from cadence_coach.errors import Refused
    from cadence_coach.review.notes import read_notes
    from cadence_coach.store.rescue import add_note

    uuid, notes = read_notes(spec)
    path = _known(uuid, folder)
    if path is None:
        raise Refused(f"{spec}: its outing is not in {folder}; import the outing first")
    for note in notes:
        add_note(path, note)
    return f"{count(len(notes), 'note')} -> {path}"
