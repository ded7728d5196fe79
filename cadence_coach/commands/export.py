"""export: an outing for other programs and people."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

FORMS = ("csv", "json", "gpx", "text", "recording", "outing")


def export(
    outing: Annotated[
        str | None, typer.Argument(help="Outing file or recording; the newest outing when left out.", metavar="OUTING")
    ] = None,
    to: Annotated[
        Path | None,
        typer.Option(
            help="Folder, or the file of one form, or - for the screen; text goes there without it.", metavar="OUT"
        ),
    ] = None,
    form: Annotated[
        str, typer.Option("--as", help="csv, json, gpx, text, recording or outing.", metavar="FORM")
    ] = "csv",
    place: Annotated[bool, typer.Option(help="Keep where it was; --no-place leaves every position out.")] = True,
    profile: Annotated[
        Path | None, typer.Option(help="Compare with this rider and foil (TOML).", metavar="ME.toml")
    ] = None,
    lang: Annotated[
        str, typer.Option(help="Language of text and of sentences in JSON: en or de.", metavar="LANG")
    ] = "en",
) -> None:
    """Write an outing as tables, JSON, a GPX track, text to paste into a message, the raw recording or a copy.

    csv: NAME-flights.csv and NAME-cycles.csv. json: the keys of `review --json`. gpx: the track, GPX 1.1. recording: a
    folder with accel.csv, gyro.csv, speed.csv, exactly as they were received. outing: the file itself, to be
    looked at elsewhere. Flights count from 0 in csv and json, from 1 in gpx and text. With --no-place no latitude,
    longitude or heading is written; speeds stay.

    Example: cadence-coach export --as text
    """
    from cadence_coach.commands.looking import looked, newest, open_outing
    from cadence_coach.commands.writing import keep_apart
    from cadence_coach.errors import Refused
    from cadence_coach.sources import KINDS
    from cadence_coach.store.recordings import name_of

    if form not in FORMS:
        raise Refused(f"--as {form}: choose one of {', '.join(FORMS)}")
    if form == "gpx" and not place:
        raise Refused("--as gpx is nothing but places; choose another form, or leave --no-place out")
    screen = str(to) == "-"
    if screen and form in ("csv", "recording", "outing"):
        raise Refused(f"--as {form} --to -: is no single text; give a folder or a file, or choose json, gpx or text")
    spec = outing or str(newest())
    kind, _, rest = spec.partition(":")
    name = name_of(Path(rest if kind in KINDS else spec)).removesuffix(".outing").replace(":", "-")
    if form not in ("recording", "outing"):  # these two are never written over anything
        keep_apart([("--to", to)], [spec, profile])
    found = open_outing(spec, profile)
    if not place:
        from cadence_coach.store.convert import without_place

        found = without_place(found)
    if form in ("recording", "outing"):
        print(f"Written: {_whole(form, name, found, to)}")
        return
    texts = _texts(form, name, looked(found, profile), lang)
    if screen or (form == "text" and to is None):
        print(next(iter(texts.values())), end="")
        return
    _write(texts, to)


def _texts(form: str, name: str, seen: object, lang: str) -> dict[str, str]:
    """File name to content."""
    import json

    from cadence_coach.review.advice import one_thing
    from cadence_coach.review.export import cycles_csv, flights_csv, gpx
    from cadence_coach.review.ladder import score
    from cadence_coach.review.plain import document
    from cadence_coach.review.words import Words, plain_text

    words = Words(lang)
    advice = one_thing(seen)  # type: ignore[arg-type]
    match form:
        case "csv":
            return {f"{name}-flights.csv": flights_csv(seen), f"{name}-cycles.csv": cycles_csv(seen)}  # type: ignore[arg-type]
        case "json":
            body = document(seen, advice, score(seen), lang)  # type: ignore[arg-type]
            return {f"{name}.json": json.dumps(body, ensure_ascii=False, indent=1, allow_nan=False) + "\n"}
        case "gpx":
            return {f"{name}.gpx": gpx(seen)}  # type: ignore[arg-type]
    return {f"{name}.txt": plain_text(seen.figures, advice, words)}  # type: ignore[attr-defined]


def _whole(form: str, name: str, found: Any, to: Path | None) -> Path:
    """The samples themselves: a recording, or an outing file. Nothing is written over."""
    from cadence_coach.commands.taking import heard
    from cadence_coach.errors import CouldNot, Refused
    from cadence_coach.review.figures import armed
    from cadence_coach.store.convert import write_as_recording
    from cadence_coach.store.outing_file import save_outing

    if form == "recording":
        where = to or Path(f"{name}-recording")
        try:
            return write_as_recording(found, where, start=armed(found), ridden=heard(found))
        except OSError as error:
            raise CouldNot(f"{where}: cannot be written ({error.strerror}); choose another --to") from None
    where = to or Path(f"{name}-copy.outing")
    if where.is_dir():
        where = where / f"{name}.outing"
    if where.exists():
        raise Refused(f"{where}: is there already; choose another name, or remove it first")
    return save_outing(found, where)


def _write(texts: dict[str, str], to: Path | None) -> None:
    from cadence_coach.commands.writing import folder_at, write_text

    one = to is not None and len(texts) == 1 and bool(to.suffix) and not to.is_dir()
    folder = Path() if to is None else to.parent if one else to
    folder_at(folder, "--to")
    for name, text in texts.items():
        path = to if one and to is not None else folder / name
        write_text(path, text)
        print(f"Written: {path}")
