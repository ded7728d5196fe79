"""ladder: which rungs were reached, and what comes next."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def ladder(
    outing: Annotated[
        str | None,
        typer.Argument(
            help="Outing file or recording, or a folder of outings; all your outings when left out.", metavar="OUTING"
        ),
    ] = None,
    rider: Annotated[
        str | None, typer.Option(help="Whose ladder, where your outings are of several riders.", metavar="NAME")
    ] = None,
    all: Annotated[bool, typer.Option("--all", help="Every rung with why and how, not only the next.")] = False,
    json: Annotated[Path | None, typer.Option(help="Write the rungs as JSON; - for the screen.", metavar="OUT")] = None,
    lang: Annotated[str, typer.Option(help="Language of the ladder: en or de.", metavar="LANG")] = "en",
) -> None:
    """See the practice ladder: what was reached, the best so far, and how to practise the next rung.

    JSON: "rungs", a list of key, passed, best, said, missing; "next", the key of the next rung.

    Example: cadence-coach ladder --all
    """
    import sys

    from cadence_coach.commands.looking import looked, open_outing, season_rows
    from cadence_coach.commands.riders import names, of_one, only
    from cadence_coach.commands.writing import keep_apart, write_json
    from cadence_coach.review.counted import armchair_said, counted_rows
    from cadence_coach.review.ladder import merge, next_rung, score
    from cadence_coach.review.plain import plain
    from cadence_coach.review.rungs import RUNGS
    from cadence_coach.review.words import Words

    words = Words(lang)  # an unknown language is said before anything else
    keep_apart([("--json", json)], [outing])

    note = ""
    folder = Path(outing) if outing and Path(outing).is_dir() and any(Path(outing).rglob("*.outing")) else None
    if outing is None or folder:
        rows, failed = season_rows(folder)
        for _, text in failed:
            print(f"{words('season_not_read')}: {text}", file=sys.stderr)
        rows = of_one(rows, rider, own=folder is None)
        if rider is None and len(names(rows)) > 1:
            rows = only(rows, "rider", rows[-1].rider)  # in the order of time: who flew last
            who = rows[-1].rider or words("rider_not_said")
            print(words("of_the_latest", who=who), file=sys.stderr)
        results = {r.key: r for r in merge(row.rungs for row in counted_rows(rows))}
        note = words.tell(armchair_said(rows))
    else:
        results = {r.key: r for r in score(looked(open_outing(outing, None)))}
    coming = next_rung([results[r.key] for r in RUNGS]) if results else None
    key = coming.key if coming else (RUNGS[0].key if not results else None)
    if json:
        write_json(
            json, {"format": "cadence-coach-ladder/1", "rungs": plain(list(results.values()), lang), "next": key}
        )
        if str(json) == "-":
            return
    for number, rung in enumerate(RUNGS, start=1):
        result = results.get(rung.key)
        mark = words("rung_reached") if result and result.passed else words("rung_next") if rung.key == key else ""
        said = words.tell(result.shown) if result else ""
        print(f"{number:2}  {words.tell(rung.name):24} {mark:12} {said}".rstrip())
        if all or rung.key == key:
            for title, text in (("rung_why", rung.why), ("rung_how", rung.practise), ("rung_passes", rung.passes)):
                print(f"      {words(title)}: {words.tell(text)}")
    print("\n".join(filter(None, (note, words("ladder_care")))))
    if json:
        print(f"Written: {json}")
