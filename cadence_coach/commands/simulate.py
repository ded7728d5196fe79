"""simulate: recordings of simulated riders, with exact truth."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

PROFILE = "profile.toml"


def simulate(
    out: Annotated[Path, typer.Argument(help="Folder to write the recordings into, as NN-KIND.", metavar="FOLDER")],
    count: Annotated[int, typer.Option(help="How many recordings.", min=1, max=9999, metavar="N")] = 10,
    seed: Annotated[int, typer.Option(help="The same seed gives the same recordings.", min=0, metavar="N")] = 1,
    kind: Annotated[
        list[str] | None,
        typer.Option(help="Only this kind; may be repeated. All kinds in turn by default.", metavar="KIND"),
    ] = None,
    rate: Annotated[
        float | None,
        typer.Option(help="Samples a second, 20 to 500; drawn for each recording by default.", metavar="HZ"),
    ] = None,
    gz: Annotated[bool, typer.Option("--gz", help="Write .csv.gz.")] = False,
) -> None:
    """Simulate outings on a pumped foil: accel, gyro and speed as a phone would give them, and beside them truth.json,
    and profile.toml of the invented rider and foil, for `import --profile`.

    Example: cadence-coach simulate /tmp/outings --count 20 --seed 7 --kind rough --kind tow
    """
    from cadence_coach.commands.naming import count as counted
    from cadence_coach.commands.writing import bar as progress
    from cadence_coach.commands.writing import folder_at, write_text
    from cadence_coach.errors import CouldNot, Refused
    from cadence_coach.sim.outing import KINDS, simulate_outing
    from cadence_coach.store.recordings import write_recording

    kinds = kind or list(KINDS)
    for name in kinds:
        if name not in KINDS:
            raise Refused(f"--kind {name}: there is no such kind; choose from {', '.join(KINDS)}")
    if rate is not None and not 20 <= rate <= 500:
        raise Refused(f"--rate {rate:g}: must lie between 20 and 500 samples a second")
    digits = max(2, len(str(count - 1)))
    folders = [out / f"{i:0{digits}d}-{kinds[i % len(kinds)]}" for i in range(count)]
    for folder in folders:
        if folder.exists():
            raise Refused(f"{folder}: exists already; choose another folder or remove it first")
    folder_at(out, "the recordings")
    with progress() as bar:
        for i, folder in enumerate(bar.track(folders, description="simulating")):
            outing = simulate_outing(seed * 10_000 + i, kinds[i % len(kinds)], rate)
            try:
                write_recording(folder, outing.accel, outing.gyro, outing.fixes, outing.meta, outing.truth, gz=gz)
                if outing.profile is not None:
                    write_text(folder / PROFILE, outing.profile)
            except OSError as problem:
                raise CouldNot(f"{folder}: cannot be written ({problem.strerror}); choose another folder") from problem
    print(f"Written: {counted(count, 'recording')} in {out}, each with its rider and foil in {PROFILE}")
