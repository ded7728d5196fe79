"""season: outings over weeks, and what the next duration would take."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

PICTURES = (".png", ".svg", ".pdf")


def season(
    folder: Annotated[
        Path | None, typer.Argument(help="Folder with outing files; your own outings when left out.", metavar="FOLDER")
    ] = None,
    report: Annotated[Path | None, typer.Option(help="Write the season as one HTML file.", metavar="FILE.html")] = None,
    picture: Annotated[
        Path | None, typer.Option(help="Write the season as one picture: PNG, SVG or PDF.", metavar="FILE.png")
    ] = None,
    json: Annotated[
        Path | None, typer.Option(help="Write all rows and trends as JSON; - for the screen.", metavar="OUT")
    ] = None,
    rider: Annotated[
        str | None, typer.Option(help="Only this rider's outings; else a line for each rider.", metavar="NAME")
    ] = None,
    foil: Annotated[str | None, typer.Option(help="Only outings on this foil.", metavar="NAME")] = None,
    water: Annotated[str | None, typer.Option(help="Only outings on this water.", metavar="NAME")] = None,
    lang: Annotated[str, typer.Option(help="Language of trends and report: en or de.", metavar="LANG")] = "en",
) -> None:
    """Look at many outings side by side: longest flight, pumps, steadiness, fade, band, ladder, endurance.

    Figures are kept in the data folder, so that a season opens at once the next time. Keys of the JSON are in
    DEVELOPERS.md, "Figures".

    Example: cadence-coach season --report season.html
    """
    from cadence_coach.commands.looking import ENDING, season_rows
    from cadence_coach.commands.riders import names, of_one, only, rider_lines
    from cadence_coach.commands.writing import keep_apart, write_json, write_text
    from cadence_coach.errors import Refused
    from cadence_coach.review.counted import counted_rows
    from cadence_coach.review.season import season as summed
    from cadence_coach.review.season import step_said
    from cadence_coach.review.season_page import season_html, trend_lines
    from cadence_coach.review.words import Words

    words = Words(lang)  # an unknown language is said before anything else
    if picture and picture.suffix.lower() not in PICTURES:
        raise Refused(f"--picture {picture}: give a name that ends in {', '.join(PICTURES[:-1])} or {PICTURES[-1]}")
    keep_apart([("--json", json), ("--report", report), ("--picture", picture)])

    rows, failed = season_rows(folder)
    rows = of_one(only(only(rows, "foil", foil), "water", water), rider, own=folder is None)
    many = len(names(rows)) > 1
    if many and (report or picture):
        there = ", ".join(n or "one not said" for n in names(rows)[:5])
        there += f" and {more} more" if (more := len(names(rows)) - 5) > 0 else ""
        raise Refused(f"a season's report is one rider's, and here are {len(names(rows))} ({there}): give --rider NAME")
    found = summed(rows)
    if json:
        from cadence_coach.review.plain import plain

        body = {"format": "cadence-coach-season/1", **plain(found, lang), "failed": [str(p) for p, _ in failed]}
        write_json(json, body)
    if report:
        write_text(report, season_html(found, failed, lang))
    if picture:
        from cadence_coach.review.season_picture import season_picture

        season_picture(found, picture)
    if str(json) == "-":
        return
    if not rows:
        where = words("none_in", folder=folder) if folder else words("none_yet")
        print(where, words("none_how", ending=ENDING))
    elif many:
        print("\n".join([*rider_lines(rows, words), words("season_many", n=len(names(rows)))]))
    else:
        rows = counted_rows(rows)
        best = max(r.best_s for r in rows)
        print(words("season_line", n=len(rows), pumps=sum(r.pumps for r in rows), best=best))
        print(
            "\n".join(
                [*map(words.tell, found.left_out), *trend_lines(found, words), *map(words.tell, step_said(found))]
            )
        )
        if found.next:
            from cadence_coach.review.rungs import RUNG

            rung = RUNG[found.next.key]
            print(words("season_next_line", name=rung.name, passes=rung.passes))
    for _, text in failed:
        print(f"{words('season_not_read')}: {text}")
    for path in filter(None, (json, report, picture)):
        print(f"Written: {path}")
