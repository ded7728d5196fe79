"""demo: a simulated outing, start to end, faster than real time."""

from __future__ import annotations

from typing import Annotated

import typer


def demo(
    seed: Annotated[int, typer.Option(help="Another number is another outing.", min=0)] = 1,
) -> None:
    """Simulate an outing of an invented rider, send it through the live program, show what was found beside the truth.

    Example: cadence-coach demo --seed 2
    """
    from rich.console import Console
    from rich.progress import Progress

    from cadence_coach.commands.beside_truth import truth_lines
    from cadence_coach.commands.flight_table import attempt_lines, unused_line
    from cadence_coach.commands.replaying import engine_for, replay_source
    from cadence_coach.sources.simulated import DEMO, open

    console = Console(stderr=True)
    with Progress(console=console, transient=True, disable=not console.is_terminal) as bar:
        task = bar.add_task("simulating", total=None)
        source = open(f"{DEMO}:{seed}")
        bar.update(task, description="listening", total=1.0)
        found = replay_source(source, engine_for(None)(), lambda share: bar.update(task, completed=share))
    seconds = source.outing.accel[-1, 0] - source.outing.accel[0, 0]
    print(
        f"A simulated outing of {seconds / 60:.0f} minutes: invented rider, invented foil; estimated by the coach from"
    )
    print("acceleration, rotation and speed, as they would come from a phone on the body.")
    print()
    print(
        "\n".join([*truth_lines(found, source.outing.truth), *attempt_lines(found), unused_line(found, source.notes)])
    )
