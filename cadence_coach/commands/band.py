"""band: what cadence, push and size suit a rider and a foil at each speed, foil against foil, how long it can last."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from cadence_coach.foil.endurance import Endurance, Fit
    from cadence_coach.foil.own import FlightFigure, Own
    from cadence_coach.foil.profile import Profile


def band(
    profile: Annotated[
        Path | None,
        typer.Argument(
            help="Rider and foil (TOML); else me.toml in the data folder, or an invented rider.", metavar="ME.toml"
        ),
    ] = None,
    against: Annotated[
        Path | None, typer.Option(help="A second profile, laid beside the first.", metavar="OTHER.toml")
    ] = None,
    speeds: Annotated[
        str | None,
        typer.Option(
            help="Speeds in m/s: 4,4.5,5 or FROM:TO:STEP. All that can be pumped by default.", metavar="SPEEDS"
        ),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print everything as JSON, units in the key names.")] = False,
    picture: Annotated[Path | None, typer.Option(help="Draw it into FILE.png or FILE.svg.", metavar="FILE.png")] = None,
    flights: Annotated[
        Path | None,
        typer.Option(
            help="Own flights: a CSV (speed_m_s, cadence_hz, duration_s, fade_per_min) or a folder with outing files; "
            "of those, the ones by this rider on this foil. Leans the band.",
            metavar="FLIGHTS",
        ),
    ] = None,
    own: Annotated[bool, typer.Option("--own", help="The same from your own outings as they are kept.")] = False,
    cp: Annotated[
        float | None, typer.Option(help="Own critical power in W, together with --work.", metavar="W")
    ] = None,
    work: Annotated[float | None, typer.Option(help="Own work above critical power in kJ.", metavar="KJ")] = None,
    sensitivity: Annotated[
        bool, typer.Option("--sensitivity", help="Also move each uncertain input, at cruise speed.")
    ] = False,
    template: Annotated[
        Path | None,
        typer.Option(help="Only write a profile with every key explained, to fill in.", metavar="FILE.toml"),
    ] = None,
) -> None:
    """The target band of cadence over speed, with push share, size, drag, power and how long it can last. Estimates.

    Example: cadence-coach band me.toml --picture band.png
    """
    from cadence_coach.commands.naming import own_profile
    from cadence_coach.errors import Refused
    from cadence_coach.foil.own import own_cruise_speed
    from cadence_coach.foil.profile import demo_profile, load_profile

    if template:
        _write_template(template)
        return
    profile = own_profile(profile)
    mine = load_profile(profile) if profile else demo_profile()
    other = load_profile(against) if against else None
    if picture and picture.suffix.lower() not in (".png", ".svg"):
        raise Refused(f"--picture {picture}: give a name that ends in .png or .svg")
    rows = _speeds(speeds, [p for p in (mine, other) if p])
    if own and flights:
        raise Refused("--own and --flights mean the same flights: give one of them")
    given = _given(mine, flights) if own or flights else None
    rider, fitted, why, owns = _rider(mine, given, cp, work)
    cruise = own_cruise_speed(given or [])
    source = "own flights" if fitted else "given"
    found = _answer(mine, rows, rider, source, owns, fitted, why, sensitivity, cruise)
    if other:
        theirs = rider if other.same_rider(mine) else None
        found["against"] = _answer(other, rows, theirs, source, (), None, None, False, None)
    if json:
        import json as js

        print(js.dumps({"format": "cadence-coach-band/1", **_versions(), **found}, indent=1, allow_nan=False))
    else:
        from cadence_coach.commands.band_table import show

        show(found, mine, other, demo=profile is None)
    if picture:
        from cadence_coach.commands.band_picture import draw

        draw(found, mine, other, picture)
        if not json:
            typer.echo(f"Written: {picture}")


def _write_template(path: Path) -> None:
    from importlib.resources import files

    from cadence_coach.commands.writing import write_text
    from cadence_coach.errors import Refused

    if path.exists():
        raise Refused(f"{path}: is there already; choose another name")
    write_text(path, (files("cadence_coach.foil") / "demo_rider.toml").read_text("utf-8"))
    typer.echo(f"Written: {path}; put your own numbers in, then: cadence-coach band {path}")


def _versions() -> dict[str, Any]:
    from cadence_coach import VERSIONS

    return {"versions": dict(VERSIONS)}


def _answer(
    profile: Profile,
    speeds: list[float],
    rider: Endurance | None,
    source: str,
    owns: tuple[Own, ...],
    fitted: Fit | None,
    why: str | None,
    moved: bool,
    cruise: float | None,
) -> dict[str, Any]:
    from cadence_coach.foil.answer import answer, plain
    from cadence_coach.foil.band import band_table
    from cadence_coach.foil.own import cruising

    found = answer(profile, speeds, rider, owns, cruising(band_table(profile.setup), cruise), source)
    if fitted:
        found["effort"]["fit"] = plain(fitted)
    if why:
        found["effort"]["not_fitted"] = why
    if moved:
        found["sensitivity"] = _sensitivity(profile, found["cruise_speed_m_s"])
    return found


def _sensitivity(profile: Profile, speed: float) -> list[dict[str, Any]]:
    from cadence_coach.commands.writing import bar
    from cadence_coach.foil.sensitivity import CHANGES, moved

    with bar() as progress:
        changes = progress.track(CHANGES, description="moving each input")
        return [moved(profile.setup, speed, name, change) for name, change in changes]


def _given(profile: Profile, where: Path | None) -> list[FlightFigure]:
    """Flights from a CSV, or from outings (the kept ones when None) of the same rider on the same foil, by name."""
    from cadence_coach.errors import Refused
    from cadence_coach.foil.flights import read_flights
    from cadence_coach.foil.own import FlightFigure

    if where is not None and not where.is_dir():
        return read_flights(where)
    from cadence_coach.commands.looking import season_rows
    from cadence_coach.review.counted import counted_rows

    rows, failed = season_rows(where)
    for _, text in failed:
        typer.echo(f"Not read: {text}", err=True)
    mine = [r for r in counted_rows(rows) if (r.rider, r.foil) == (profile.rider, profile.foil)]
    if not mine:
        there = sorted({f"{r.rider} on {r.foil}" if r.rider else "outings without a profile" for r in rows})
        raise Refused(
            f"{where or '--own'}: no outing of {profile.rider} on {profile.foil}; "
            f"there is {', '.join(there[:3]) if there else 'none at all'}; name the profile they were kept with"
        )
    return [
        FlightFigure(f.speed, f.cadence, f.seconds, f.fade) for r in mine for f in r.flights if f.cadence and f.whole
    ]


def _rider(
    profile: Profile, given: list[FlightFigure] | None, cp: float | None, work: float | None
) -> tuple[Endurance | None, Fit | None, str | None, tuple[Own, ...]]:
    """The rider's endurance and own cadences from what was given; why not, in words, where flights do not carry it."""
    from cadence_coach.errors import Refused
    from cadence_coach.foil.endurance import Endurance
    from cadence_coach.foil.flights import own_effort
    from cadence_coach.foil.own import own_cadences

    if (cp is None) != (work is None):
        raise Refused("--cp and --work go together: critical power in W and the work above it in kJ")
    owns = own_cadences(given or [])
    if cp is not None and work is not None:
        if not 50 <= cp <= 600:
            raise Refused(f"--cp {cp:g} is outside 50 to 600 W; give the critical power of your legs")
        if not 2 <= work <= 60:
            raise Refused(f"--work {work:g} is outside 2 to 60 kJ; give the work above critical power")
        return Endurance(cp, work * 1000), None, None, owns
    if given is None:
        return None, None, None, owns
    try:
        fitted = own_effort(profile.setup, given)
    except ValueError as error:
        return None, None, str(error), owns
    return fitted.endurance, fitted, None, owns


def _speeds(text: str | None, profiles: list[Profile]) -> list[float]:
    """The speeds asked for, or every half m/s from below the slowest to above the fastest that can be pumped."""
    import math

    from cadence_coach.errors import Refused
    from cadence_coach.foil.solve import SPEEDS, feasible_speeds

    if text is None:
        ends = [e for e in (feasible_speeds(p.setup) for p in profiles) if e]
        lo, hi = (min(e[0] for e in ends), max(e[1] for e in ends)) if ends else SPEEDS
        return [0.5 * i for i in range(max(1, math.ceil(2 * lo) - 1), math.floor(2 * hi) + 2)]
    wrong = Refused(f"--speeds {text}: give speeds in m/s as 4,4.5,5 or 3.5:6:0.5, each 0.5 to 15, at most 500")
    try:
        numbers = [float(x) for x in text.replace(":", ",").split(",")]
    except ValueError:
        raise wrong from None
    if ":" in text:
        if len(numbers) != 3 or "," in text or not all(map(math.isfinite, numbers)) or numbers[2] <= 0:
            raise wrong
        count = (numbers[1] - numbers[0]) / numbers[2]
        if not 0 <= count < 500:
            raise wrong
        numbers = [round(numbers[0] + i * numbers[2], 9) for i in range(math.floor(count + 1e-9) + 1)]
    if not all(0.5 <= v <= 15 for v in numbers) or len(numbers) > 500:
        raise wrong
    return sorted(set(numbers))
