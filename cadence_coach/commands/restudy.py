"""restudy: many outings again with today's detector, on all cores or on a cluster."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def restudy(
    folder: Annotated[
        Path, typer.Argument(help="Folder with outing files or recordings, at any depth.", metavar="FOLDER")
    ],
    out: Annotated[
        Path, typer.Option(help="Folder for outings, flights and failures as tables.", metavar="OUT")
    ] = Path("restudy"),
    workers: Annotated[
        int | None, typer.Option(min=1, help="Processes; all cores when left out, 1 for none but this.", metavar="N")
    ] = None,
    cluster: Annotated[
        str | None, typer.Option(help="Address of a Dask scheduler (extra club).", metavar="tcp://HOST:PORT")
    ] = None,
    parquet: Annotated[bool, typer.Option("--parquet", help="Parquet instead of CSV (extra club).")] = False,
    profile: Annotated[
        Path | None, typer.Option(help="Rider and foil (TOML) for files that carry none.", metavar="ME.toml")
    ] = None,
) -> None:
    """Go through many outings again with today's detector, and write what came out as tables.

    A file that cannot be read is listed in failures and stops nothing; so is a correction whose flight is not found any
    more. The tables are the same whichever way it ran.

    Example: cadence-coach restudy club/ --out club-tables --workers 2
    """
    import os
    from time import perf_counter

    from rich.progress import BarColumn, MofNCompleteColumn, TextColumn, TimeRemainingColumn

    from cadence_coach.commands.naming import count as counted
    from cadence_coach.commands.writing import bar as progress
    from cadence_coach.commands.writing import folder_at
    from cadence_coach.errors import CouldNot, Refused
    from cadence_coach.foil.profile import load_profile
    from cadence_coach.review.restudy import find, on_cluster, on_cores, serial, write_tables
    from cadence_coach.review.restudy import restudy as go

    if cluster and workers:
        raise Refused("--workers is for this machine; a cluster has its own: leave out --workers or --cluster")
    paths = find(folder)
    if not paths:
        raise Refused(f"{folder}: no outing file (*.outing) and no recording (a folder with accel.csv) in it")
    tables = load_profile(profile).table if profile else None
    count = workers or os.cpu_count() or 1
    run = on_cluster(cluster) if cluster else serial if count == 1 else on_cores(min(count, len(paths)))
    ours = not out.exists()
    folder_at(out, "--out")  # before the work, not after it
    began = perf_counter()
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    try:
        with progress(*columns) as bar:
            task = bar.add_task("restudy", total=len(paths))
            studies = go(paths, run, tables, lambda one: bar.advance(task))
    except (Refused, CouldNot):
        if ours:
            out.rmdir()
        raise
    took = perf_counter() - began
    written = write_tables(out, studies, parquet=parquet)
    done = sum(s.outing is not None for s in studies)
    hours = sum(s.seconds for s in studies) / 3600.0
    print(
        f"{counted(done, 'outing')}, "
        f"{counted(sum(len(s.flights) for s in studies), 'flight')}, {hours:.2f} h of samples"
    )
    where = f"the cluster at {cluster}" if cluster else f"{count} worker{'s' if count > 1 else ''}"
    print(f"in {took:.1f} s on {where}: {hours * 3600.0 / took:.0f} times real time")
    for one in filter(lambda s: s.error, studies):
        print(f"Not done: {one.error}")
    for path in written:
        print(f"Written: {path}")
    if not done:
        raise CouldNot(f"{folder}: nothing could be gone through; see {written[-1]}")
