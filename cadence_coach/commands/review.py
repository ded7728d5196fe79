"""review: one outing looked back on: figures, the one thing to work on, the report, notes and corrections."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def review(
    outing: Annotated[
        str | None, typer.Argument(help="Outing file, or recording; the newest outing when left out.", metavar="OUTING")
    ] = None,
    report: Annotated[Path | None, typer.Option(help="Write the report as one HTML file.", metavar="FILE.html")] = None,
    json: Annotated[
        Path | None, typer.Option(help="Write all figures as JSON; - for the screen.", metavar="OUT")
    ] = None,
    place: Annotated[bool, typer.Option(help="Show the way over ground in the report.")] = True,
    profile: Annotated[
        Path | None, typer.Option(help="Compare with this rider and foil (TOML).", metavar="ME.toml")
    ] = None,
    note: Annotated[str | None, typer.Option(help="Keep a note with the outing.", metavar="TEXT")] = None,
    who: Annotated[str | None, typer.Option(help="Who writes the note; rider when left out.", metavar="NAME")] = None,
    at: Annotated[
        float | None, typer.Option(help="Moment of the note, seconds from the start of the outing.", metavar="S")
    ] = None,
    flight: Annotated[
        int | None, typer.Option(help="Flight of the note, as numbered in the report.", metavar="N")
    ] = None,
    notes_out: Annotated[
        Path | None,
        typer.Option(help="Write the notes as a small file that `import` merges elsewhere.", metavar="FILE.json"),
    ] = None,
    started: Annotated[
        list[str] | None, typer.Option(help="Correct how a flight began: 3=step.", metavar="N=START")
    ] = None,
    ended: Annotated[
        list[str] | None, typer.Option(help="Correct how a flight ended: 3=fall.", metavar="N=END")
    ] = None,
    helped: Annotated[
        list[str] | None, typer.Option(help="Say what carried a flight: 3=swell, 3=wake, 3=no.", metavar="N=BY")
    ] = None,
    confirm: Annotated[
        str | None, typer.Option(help="Helper or coach who confirms the rope drill.", metavar="NAME")
    ] = None,
    focus: Annotated[
        str | None,
        typer.Option(help="Make this the focus of the next outing; `take` takes the advice.", metavar="FOCUS"),
    ] = None,
    lang: Annotated[str, typer.Option(help="Language of figures, advice and report: en or de.", metavar="LANG")] = "en",
) -> None:
    """Look back on one outing: what happened, flight by flight, and the one thing to work on next.

    Corrections and notes are kept with the outing. Keys of the JSON are in DEVELOPERS.md, "Figures".

    Example: cadence-coach review --report today.html
    """
    from cadence_coach.commands.looking import file_named, looked, open_outing
    from cadence_coach.commands.naming import own_profile
    from cadence_coach.commands.writing import keep_apart, writable
    from cadence_coach.errors import Refused
    from cadence_coach.foil.profile import load_profile
    from cadence_coach.review.advice import one_thing
    from cadence_coach.review.terminal import lines
    from cadence_coach.review.words import Words

    words = Words(lang)  # an unknown language is said before anything else
    keep_apart([("--json", json), ("--report", report), ("--notes-out", notes_out)], [outing, profile])
    writable(json, report, notes_out)
    if note is None and (at is not None or flight is not None):
        raise Refused(f"{'--at' if flight is None else '--flight'} goes with --note: it says where a note belongs")
    if note is None and who is not None:
        raise Refused("--who goes with --note: it says who writes the note")
    if confirm is not None and not confirm.strip():
        raise Refused("--confirm: names nobody; give the name of the helper or coach who saw the drill")

    said = note is not None or started or ended or helped or confirm
    path = file_named(outing) if said or focus is not None else None
    spec = outing if path is None else str(path)
    if spec and not spec.endswith(".outing"):
        profile = own_profile(profile)  # an outing file carries its own
    kept = found = _open(spec, profile, open_outing)
    if path is not None:
        from cadence_coach.review import correcting
        from cadence_coach.review.figures import ENDED_TAG, HELPED_TAG, STARTED_TAG

        asked = {STARTED_TAG: started or [], ENDED_TAG: ended or [], HELPED_TAG: helped or []}
        found = correcting.corrected(found, path.name, asked, confirm)
        if note is not None:
            found = correcting.noted(found, path.name, note, "rider" if who is None else who, at, flight)
    seen = looked(found, profile)
    advice = one_thing(seen)
    if path is not None:  # kept once nothing can be refused any more: typed again, a note would be there twice
        own = load_profile(mine).table if focus is not None and (mine := own_profile(profile)) else None
        taken = None if focus is None else correcting.focus_named(focus, advice)
        if taken is not None:  # first, as taken again it is still one
            correcting.keep_focus(path, taken, own)
        correcting.keep(path, kept, found)
    if json:
        from cadence_coach.commands.writing import write_json
        from cadence_coach.review.ladder import score
        from cadence_coach.review.plain import document

        write_json(json, document(seen, advice, score(seen), lang))
    if report:
        from cadence_coach.commands.writing import write_text
        from cadence_coach.review.report import report_html

        write_text(report, report_html(seen, place=place, advice=advice, lang=lang))
    if notes_out:
        from cadence_coach.review.notes import write_notes

        write_notes(notes_out, found, found.notes)
    if str(json) != "-":
        print("\n".join(lines(seen, advice, words)))
        for path in filter(None, (json, report, notes_out)):
            print(f"Written: {path}")


def _open(spec, profile, opener):  # type: ignore[no-untyped-def]
    """The outing, with a progress bar where a recording has to be gone through first."""
    from cadence_coach.commands.writing import bar as progress

    with progress() as bar:
        task = bar.add_task("reading", total=1.0)
        return opener(spec, profile, lambda share: bar.update(task, completed=share))
