"""demo: a simulated outing, start to end, faster than real time."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

FILES = ("demo.outing", "heard.wav", "report.html")
MAKING = ".cadence-coach-demo"
"""In the demo's folder: where its files are until all are whole."""


def demo(
    seed: Annotated[int, typer.Option(help="Another number is another outing.", min=0, metavar="N")] = 1,
    out: Annotated[
        Path | None,
        typer.Option(help="Folder for the outing, the sound and the report; else the data folder.", metavar="FOLDER"),
    ] = None,
) -> None:
    """Simulate an outing of an invented rider, send it through the live program, show what was found beside the truth.

    Leaves three files: demo.outing, heard.wav (all that the rider would have heard) and report.html.

    Example: cadence-coach demo --seed 2 --out tryout
    """
    import os
    import shutil
    from dataclasses import replace

    from cadence_coach.commands.beside_truth import truth_lines
    from cadence_coach.commands.demo_run import coached, report_of
    from cadence_coach.commands.flight_table import attempt_lines, unused_line
    from cadence_coach.commands.heard import heard_lines
    from cadence_coach.commands.writing import bar as progress
    from cadence_coach.commands.writing import folder_at
    from cadence_coach.errors import Refused
    from cadence_coach.sources.simulated import DEMO, open
    from cadence_coach.store.folders import FolderLock, home
    from cadence_coach.store.outing_file import load_outing

    if out is not None and (there := [name for name in FILES if (out / name).exists()]):
        raise Refused(f"{out / there[0]}: is there already; choose another folder for --out")
    folder = folder_at(out or home() / DEMO, "--out")
    making = folder_at(folder / MAKING, "--out")
    outing, heard, report = (making / name for name in FILES)
    with FolderLock(making) as lock, progress() as bar:
        try:
            for part in making.iterdir():  # of a demo that was killed
                if part != lock.path:
                    part.unlink()
            task = bar.add_task("simulating", total=None)
            source = open(f"{DEMO}:{seed}")
            bar.update(task, description="coaching", total=1.0)
            found = coached(source, outing, heard, lambda share: bar.update(task, completed=share))
            bar.update(task, description="writing the report", total=None)
            work_on, ends = report_of(outing, report)
            for end in ("-wal", "-shm", "-journal"):  # of the outing before: SQLite takes them for the new one's
                (folder / f"{FILES[0]}{end}").unlink(missing_ok=True)
            for name in FILES:
                os.replace(making / name, folder / name)
        finally:  # interrupted, too: nothing is left that is not whole
            shutil.rmtree(making, ignore_errors=True)
    outing, heard, report = (folder / name for name in FILES)
    found.flights = [replace(f, ended_by=by) for f, by in zip(found.flights, ends, strict=True)]
    seconds = source.outing.accel[-1, 0] - source.outing.accel[0, 0]
    print(
        f"A simulated outing of {seconds / 60:.0f} minutes: invented rider, invented foil. Estimated by the coach from"
    )
    print("acceleration, rotation and speed, as they would come from a phone on the body; endings are looked at again.")
    print()
    print(
        "\n".join([*truth_lines(found, source.outing.truth), *attempt_lines(found), unused_line(found, source.notes)])
    )
    print()
    print(f"What the rider would have heard: {heard}, with")
    print("\n".join(heard_lines(load_outing(outing))))
    print(f"Looked back on shore: {report}, with one thing to work on:")
    print(f"  {work_on}")
