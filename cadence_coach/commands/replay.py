"""replay: pumps, tries and flights of recordings, found by the live program."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

ON_LAND = "A training on land: its movements are found, and no flights."


def replay(
    recordings: Annotated[
        list[str],
        typer.Argument(
            help="Recordings: folders with accel.csv, folders of those, CSV files, sim:KIND:SEED.", metavar="REC"
        ),
    ],
    json: Annotated[
        Path | None,
        typer.Option(help="Write all that was found as JSON; for several recordings a folder.", metavar="OUT"),
    ] = None,
    sound: Annotated[
        Path | None,
        typer.Option(
            help="Write what the rider would have heard as WAV; for several recordings a folder.", metavar="OUT"
        ),
    ] = None,
    tick_pumps: Annotated[
        bool, typer.Option(help="With --sound: a soft tick on every onset found, to listen to the detector.")
    ] = False,
    profile: Annotated[
        Path | None, typer.Option(help="Rider and foil (TOML), for the band, cues and clicks.", metavar="ME.toml")
    ] = None,
) -> None:
    """Find every pump, try and flight in recordings, as it would have been found live, and show the flights.

    Times in the table count from the start of a recording, in the JSON they are the recording's own. The JSON's keys
    are in cadence_coach/store/FILES.md. Exit code 0: done, what was skipped is said; 2: a recording is not one: nothing
    is written, or, where only its later rows show it, of those before it everything is.

    Example: cadence-coach replay lake/ --json lake.json --sound lake.wav --tick-pumps
    """
    from cadence_coach.commands.flight_table import attempt_lines, flight_lines, unused_line
    from cadence_coach.commands.naming import each, own_profile
    from cadence_coach.commands.replaying import engine_for, outputs, replay_source
    from cadence_coach.commands.writing import as_wav, keep_apart
    from cadence_coach.commands.writing import bar as progress
    from cadence_coach.core.events import Event
    from cadence_coach.errors import Refused
    from cadence_coach.review.restudy import started
    from cadence_coach.sound.track import write_wav
    from cadence_coach.sources import open_whole

    recordings = each(recordings)
    names = []
    for spec in recordings:  # all are looked at before any is worked on
        source = open_whole(spec)
        names.append(source.name)
        source.close()
    if tick_pumps and not sound:
        raise Refused("--tick-pumps is heard in the file of --sound: give --sound OUT.wav as well")
    places = outputs(names, json)
    sounds = outputs(names, sound, "wav")
    if sound and sounds == [sound]:
        as_wav(sound, "--sound")
    written = [("--json", path) for path in places] + [("--sound", path) for path in sounds]
    keep_apart(written, [*recordings, profile])
    make_engine = engine_for(own_profile(profile))
    with progress() as bar:
        whole = bar.add_task("replay", total=len(recordings))
        for i, (spec, place, wav) in enumerate(zip(recordings, places, sounds, strict=True)):
            source = open_whole(spec)
            heard: list[Event] | None = [] if wav else None
            start = started(source.meta).get("start")
            engine = make_engine(start)
            told = lambda share, i=i: bar.update(whole, completed=i + share)  # noqa: E731
            try:
                found = replay_source(source, engine, told, heard)
            except Refused as error:  # it began as a recording
                if not i or not (json or sound):
                    raise
                raise Refused(f"{error}; of the {i} before it everything is written") from None
            if place:
                found.write(place)
            if wav and heard is not None:
                wav.parent.mkdir(parents=True, exist_ok=True)
                last = max((e.known for e in heard), default=0.0)
                write_wav(wav, heard, max(last, engine.time or 0.0) + 5.0, click_every_onset=tick_pumps)
            shown = [ON_LAND] if start == "land" else flight_lines(found)
            lines = [*shown, *attempt_lines(found), unused_line(found, source.notes)]
            if len(recordings) > 1:
                lines = [f"{source.name}:", *lines, ""]
            print("\n".join(lines), flush=True)
    for asked, all_of_it in ((json, places), (sound, sounds)):
        if asked:
            print(f"Written: {all_of_it[0] if len(all_of_it) == 1 else asked}")
