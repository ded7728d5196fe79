"""land: train the rhythm on dry land."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from cadence_coach.land.plan import Plan


def land(
    tempo: Annotated[float | None, typer.Option(help="One tempo, movements per minute.", metavar="PER_MIN")] = None,
    ladder: Annotated[
        str | None, typer.Option(help="Rungs per minute: FROM:TO:STEP or 80,86,92.", metavar="FROM:TO:STEP")
    ] = None,
    profile: Annotated[
        Path | None,
        typer.Option(help="Rider and foil (TOML): rungs up to the band's target and one beyond.", metavar="ME.toml"),
    ] = None,
    sets: Annotated[
        int | None, typer.Option(help="How many sets; one for each rung by default, three of one.", metavar="N")
    ] = None,
    set_seconds: Annotated[float, typer.Option(help="Length of a set, s.", metavar="S")] = 40.0,
    rest: Annotated[float, typer.Option(help="Rest between sets, s.", metavar="S")] = 60.0,
    push_share: Annotated[
        float | None,
        typer.Option(help="Where the tick for the push's end falls, share of a beat. 0 for no tick.", metavar="SHARE"),
    ] = None,
    recording: Annotated[
        str | None, typer.Option(help="Score a recording that was made beside the clicks.", metavar="REC")
    ] = None,
    source: Annotated[
        str | None,
        typer.Option(help="Listen while you train: phone, or squats:SEED for somebody invented.", metavar="SOURCE"),
    ] = None,
    keep: Annotated[bool, typer.Option(help="Keep what was scored as an outing, for the ladder.")] = True,
    first_click: Annotated[
        float | None,
        typer.Option(help="When in the recording the first count-in clicked, s. Fitted if left out.", metavar="S"),
    ] = None,
    sound: Annotated[str, typer.Option(help="device, device:NAME, wav:FILE or silent.", metavar="OUTPUT")] = "device",
    wav: Annotated[
        Path | None, typer.Option(help="Only write the training into FILE.wav, to take along.", metavar="FILE.wav")
    ] = None,
    volume: Annotated[float, typer.Option(help="Volume in dB, -40 to 0.", metavar="DB")] = -12.0,
    pictures: Annotated[
        Path | None, typer.Option(help="Folder for a picture of each set that was scored.", metavar="FOLDER")
    ] = None,
    json: Annotated[
        Path | None, typer.Option(help="Write all figures as JSON; - for the screen.", metavar="OUT")
    ] = None,
    notes: Annotated[bool, typer.Option(help="Show what feet, knees, arms and gaze do before each set.")] = True,
    lang: Annotated[str, typer.Option(help="Language of notes and safety list: en or de.", metavar="LANG")] = "en",
    yes: Annotated[bool, typer.Option("--yes", help="The safety list has been read.")] = False,
) -> None:
    """Squats or hops to exact clicks: a click for each push, a softer tick for its end, a ladder of tempos.

    Without a sensor it is a plain metronome that climbs the ladder. With --source each set is scored as it is done.
    With a phone in the pocket that records, score the recording afterwards with the same plan. What was scored is kept
    as an outing. Without a sound device it says so and writes a WAV.

    JSON keys: tempos_per_min, set_s, rest_s, push_share, sets [{number, first_click_s, measured, and when measured
    tempo_per_min, clicks, moves, matched, missed, extra, lock_r (R, 0 to 1), lead_s (ahead of the click is positive),
    v_p, rayleigh_p, cadence_per_min, steadiness (intervals over 1.6 times the median left out: they are missed clicks),
    push_share, offsets_s, passed, shortfalls}]; recording and clock, or
    wav and seconds, or sink and trouble; outing, null where none could be kept.

    Example: cadence-coach land --ladder 80:104:6 --set-seconds 30
    """
    import sys
    from contextlib import nullcontext, redirect_stdout

    from cadence_coach.commands.writing import as_wav, folder_at, keep_apart, writable
    from cadence_coach.errors import Refused
    from cadence_coach.land.notes import note_lines
    from cadence_coach.sound.mixer import Mixer

    note_lines(1, lang)  # an unknown language is said before anything else
    plan = _plan(tempo, ladder, profile, sets, set_seconds, rest, push_share)
    if first_click is not None and recording is None:
        raise Refused("--first-click belongs to a recording; give --recording too")
    if source is not None and (recording is not None or wav is not None):
        raise Refused("--source listens now; leave out --recording and --wav")
    Mixer(volume_db=volume)  # refuses a volume that is none
    if wav is not None:
        as_wav(wav, "--wav")
    into = Path(sound.removeprefix("wav:")) if sound.startswith("wav:") else None
    keep_apart([("--wav", wav), ("--sound", into), ("--json", json)], [recording, source, profile])
    writable(json)  # not only after a training
    if pictures is not None:
        folder_at(pictures, "--pictures")
    quiet = json is not None and str(json) == "-"
    with redirect_stdout(sys.stderr) if quiet else nullcontext():  # a list to tick must be seen
        if recording is not None:
            from cadence_coach.commands.land_scoring import score_recording

            found = score_recording(plan, recording, first_click, pictures, quiet, keep, lang)
            if wav is not None:
                from cadence_coach.commands.land_playing import write

                write(plan, wav)
        elif wav is not None:
            from cadence_coach.commands.land_playing import write

            found = write(plan, wav)
            if not quiet:
                print(f"Written: {wav}, {found['seconds']:.0f} s, clicks on their exact frames")
        elif source is not None:
            from cadence_coach.commands.land_listening import listen

            found = listen(
                plan, "phone:" if source == "phone" else source, sound, volume, notes, lang, yes, quiet, keep
            )
        else:
            from cadence_coach.commands.land_playing import play

            found = play(plan, sound, volume, notes, lang, yes)
    if json is not None:
        from cadence_coach.commands.writing import write_json

        write_json(json, found)


def _plan(
    tempo: float | None,
    ladder: str | None,
    profile: Path | None,
    sets: int | None,
    set_seconds: float,
    rest: float,
    push_share: float | None,
) -> Plan:
    from cadence_coach.errors import Refused
    from cadence_coach.land.plan import Plan
    from cadence_coach.land.plan import ladder as rungs_of

    given = [name for name, value in (("--tempo", tempo), ("--ladder", ladder), ("--profile", profile)) if value]
    if len(given) > 1:
        raise Refused(f"{' and '.join(given)}: give one of them")
    share = push_share
    try:
        if profile is not None:
            tempos, band_share = _from_band(profile)
            share = band_share if push_share is None else push_share
        else:
            tempos = rungs_of(ladder) if ladder is not None else (90.0 if tempo is None else tempo,)
        how_many = sets if sets is not None else (len(tempos) if len(tempos) > 1 else 3)
        return Plan(tempos, how_many, set_seconds, rest, None if share == 0 else 0.5 if share is None else share)
    except ValueError as error:
        raise Refused(str(error)) from None


def _from_band(profile: Path) -> tuple[tuple[float, ...], float | None]:
    """Rungs and push share from the band at cruise speed."""
    from cadence_coach.errors import Refused
    from cadence_coach.foil.band import band_table
    from cadence_coach.foil.profile import load_profile
    from cadence_coach.land.plan import towards

    band = band_table(load_profile(profile).setup).at(None)
    if band.target is None:
        raise Refused(f"{profile}: no cadence at cruise speed ({band.reason}); give --tempo instead")
    return towards(60 * band.target), band.share


def show_set(number: int, of: int, tempo: float, score: Any, share: float | None, lang: str = "en") -> None:
    """One set's result on the screen."""
    from cadence_coach.land.tell import heading, lines

    print(heading(number, of, tempo, lang))
    for line in lines(score, share, lang):
        print(f"  {line}")
