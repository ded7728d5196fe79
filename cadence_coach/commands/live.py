"""live: be the coach, in the terminal."""

from __future__ import annotations

import signal
from pathlib import Path
from typing import Annotated, Any, Self

import typer

COUNT_IN_S = 3


def live(
    source: Annotated[
        str | None, typer.Option(help="phone, a recording, or sim:KIND:SEED; else a simulated rider.", metavar="SOURCE")
    ] = None,
    profile: Annotated[
        Path | None,
        typer.Option(help="Rider and foil (TOML), for the band; else me.toml in the data folder.", metavar="ME.toml"),
    ] = None,
    start: Annotated[str, typer.Option(help="dock, step, rope, rope_drill or land.", metavar="START")] = "dock",
    level: Annotated[str, typer.Option(help="How much is said: full, basic or quiet.", metavar="LEVEL")] = "full",
    lead: Annotated[
        str, typer.Option(help="What the click goes with: rider, own_best, target or silent.", metavar="LEAD")
    ] = "rider",
    focus: Annotated[
        str | None,
        typer.Option(
            help="What this outing is about, such as size, or none; else what look-back took.", metavar="FOCUS"
        ),
    ] = None,
    water_temperature: Annotated[
        float | None, typer.Option(help="In deg C; below 15 you are called back sooner.", metavar="DEG_C")
    ] = None,
    turn_back: Annotated[
        float | None, typer.Option(help="Distance from the start to turn back at, m.", metavar="M")
    ] = None,
    time_limit: Annotated[float | None, typer.Option(help="Time on the water, min.", metavar="MIN")] = None,
    sound: Annotated[
        str | None, typer.Option(help="device, device:NAME, wav:FILE or silent.", metavar="OUTPUT")
    ] = None,
    lang: Annotated[str, typer.Option(help="Language of what is said: en or de.", metavar="LANG")] = "en",
    fast: Annotated[bool, typer.Option("--fast", help="Simulator or recording: as fast as it can be read.")] = False,
    keep: Annotated[bool, typer.Option(help="Keep the outing in the data folder.")] = True,
    serve: Annotated[bool, typer.Option("--serve", help="Let `app --attach` show this outing.")] = False,
    yes: Annotated[
        bool, typer.Option("--yes", help="Skip the safety list: only with a simulator or a recording.")
    ] = False,
) -> None:
    """Be the coach: hear every pump, answer with sound, keep the outing. Ctrl-C ends it cleanly.

    The safety list for the start comes first; it is practice advice, and local rules and qualified instruction come
    before it. Exit code 0 also when ended by ctrl-C.

    Example: cadence-coach live --source sim:calm:7 --yes --fast --sound wav:heard.wav
    """
    import sys
    from contextlib import ExitStack

    from cadence_coach.commands.flight_told import end_lines
    from cadence_coach.commands.naming import look_at, own_profile, say_no_profile
    from cadence_coach.commands.ticking import tick
    from cadence_coach.core.settings import Settings
    from cadence_coach.errors import Refused
    from cadence_coach.foil.profile import load_profile
    from cadence_coach.live import Plan, Server, begin
    from cadence_coach.review.focus import next_focus, rider_of
    from cadence_coach.store.folders import home

    profile = own_profile(profile)
    rider = rider_of(load_profile(profile).table if profile else None)
    if focus is None and (focus := next_focus(rider)):
        print(f"Focus: {focus}, taken in look-back (--focus none leaves it out)")
    on_water = (source or "").partition(":")[0] == "phone"
    spec = {None: "sim:calm:1", "sim": "sim:calm:1", "phone": "phone:"}.get(source, source)
    if on_water and (yes or fast):
        raise Refused("--yes and --fast are for a simulator or a recording; on the water every point is ticked by hand")
    given = {
        "start": start,
        "level": level,
        "lead": lead,
        "focus": None if focus == "none" else focus,
        "water_temperature_c": water_temperature,
        "turn_back_m": turn_back,
        "time_limit_s": None if time_limit is None else time_limit * 60,
    }
    try:
        settings = Settings(**given)  # type: ignore[arg-type]
    except ValueError as error:
        raise Refused(_by_option(str(error))) from None
    look_at(str(spec))
    if not yes:
        tick(start, lang, "skips it for a simulator or a recording")
    plan = Plan(
        source=str(spec),
        settings=settings,
        profile=profile,
        sound=sound or ("silent" if fast else "device"),
        fast=fast,
        lang=lang,
        keep=keep,
        count_in=0 if fast else COUNT_IN_S,
    )
    with ExitStack() as stack, _PoliteKill() as kill, ExitStack() as served:
        running = begin(plan, stack)
        if source is None:
            print("A simulated rider, sim:calm:1. On the water: --source phone.", file=sys.stderr)
        if profile is None:
            say_no_profile("the band is that of an invented rider and foil")
        if serve:
            served.callback(Server(running, home()).close)
        _ride(running, kill)
    print("\n".join(end_lines(running.snapshot)))


def _by_option(text: str) -> str:
    """A setting's error in the words of the command line: its option, and minutes where minutes are given."""
    from cadence_coach.core.settings import RANGES

    names = {"time_limit_s": "--time-limit", "turn_back_m": "--turn-back", "water_temperature_c": "--water-temperature"}
    name, _, rest = text.partition(" ")
    if name == "time_limit_s":
        lo, hi, _ = RANGES[name]
        rest = f"is out of range; it must lie in {lo / 60:g} to {hi / 60:g} min"
    return f"{names.get(name, f'--{name}')} {rest.replace('None, ', 'none, ')}"


class _PoliteKill:
    """SIGTERM from before the outing's file is made until it is closed: a ctrl-C while riding. Before and after that it
    is only noted, so that nothing is left half open. What comes later, making older outings whole, may be cut off."""

    def __init__(self) -> None:
        self.asked = self.riding = False

    def __enter__(self) -> Self:
        self._before = signal.signal(signal.SIGTERM, self._heard)
        return self

    def __exit__(self, *_: object) -> None:
        signal.signal(signal.SIGTERM, self._before)

    def _heard(self, *_: object) -> None:
        self.asked = True
        if self.riding:
            raise KeyboardInterrupt


def _ride(running: Any, kill: _PoliteKill) -> None:
    """Until the source ends, ctrl-C or a polite kill; one line says how it is."""
    from rich.live import Live as Line
    from rich.text import Text

    from cadence_coach.commands.writing import console as text_console

    console = text_console(stderr=True)
    running.start()
    try:
        kill.riding = True
        if kill.asked:
            raise KeyboardInterrupt
        if running.fast is not None and not console.is_terminal:
            running.join()
        else:
            with Line(console=console, refresh_per_second=10, transient=True) as line:
                while not running.join(0.1):
                    line.update(Text(status(running.snapshot), no_wrap=True, overflow="ellipsis"))
        kill.riding = False
    except KeyboardInterrupt:
        kill.riding = False
        _stop(running)


def _stop(running: Any) -> None:
    import contextlib

    from cadence_coach.errors import CouldNot

    with contextlib.suppress(CouldNot):  # it was ending by itself just now
        running.command("stop")
    running.join(70.0)


def status(shown: Any) -> str:
    """One line: where the outing is, what the rider does, what was said last, and what is wrong."""
    from cadence_coach.review.say import minutes, span

    parts = [minutes(int(shown.time_s)), shown.phase]
    if shown.flight_s is not None:
        parts.append(f"flight {shown.flights + 1}: {span(shown.flight_s)}, {shown.flight_pumps} pumps")
    elif shown.last_flight_s is not None:
        parts.append(f"last flight {span(shown.last_flight_s)}, {shown.flight_pumps} pumps")
    else:
        parts.append(shown.motion)
    band = shown.band or {}
    if shown.cadence_hz and shown.flight_s is not None:
        cadence = f"{60 * shown.cadence_hz:.0f} a minute"
        if band.get("lo"):
            cadence += f" (band {60 * band['lo']:.0f}-{60 * band['hi']:.0f})"
        parts.append(cadence)
    if shown.speed_m_s is not None:
        parts.append(f"{shown.speed_m_s:.1f} m/s")
    if shown.last_cue and shown.time_s - shown.last_cue["t_s"] < 10:
        parts.append(f"said: {shown.last_cue['kind'].replace('_', ' ')}")
    if shown.sensor != "ok":
        parts.append(f"sensor {shown.sensor.replace('_', ' ')}")
    parts += [text for text in (shown.store, shown.sink_reason) if text]
    return "  |  ".join(parts)
