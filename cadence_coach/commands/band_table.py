"""The answer of `band` as tables for a terminal; no arithmetic but units."""

from __future__ import annotations

from typing import Any

from rich import box
from rich.console import Console
from rich.table import Table

from cadence_coach.commands.writing import console as text_console
from cadence_coach.foil.answer import REASONS, WHOSE
from cadence_coach.foil.profile import Profile

LEAST = 80
"""Columns. In fewer the terminal breaks the lines; a table made for it would lose figures."""


def per_minute(hz: float | None) -> str:
    return "-" if hz is None else f"{60 * hz:.0f}"


def span(lo: float | None, hi: float | None) -> str:
    """Two cadences as a range per minute."""
    return "-" if lo is None or hi is None else f"{60 * lo:.0f}-{60 * hi:.0f}"


def clock(seconds: float | None) -> str:
    """A duration to two figures, as it deserves; None has no end."""
    if seconds is None:
        return "no end"
    if seconds < 90:
        return f"{seconds:.0f} s"
    return f"{seconds / 60:.1f} min" if seconds < 600 else f"{seconds / 60:.0f} min"


def lasting(row: dict[str, Any]) -> str:
    if row["power_w"] is None:
        return "-"
    return "no end" if row["lasts_lo_s"] is None else f"{clock(row['lasts_lo_s'])} to {clock(row['lasts_hi_s'])}"


def speed_text(value: float) -> str:
    return f"{value:.1f} m/s ({3.6 * value:.0f} km/h)"


def show(found: dict[str, Any], mine: Profile, other: Profile | None, demo: bool) -> None:
    """Prints everything in `found` (foil.answer), the second profile's in found["against"]."""
    console = text_console()
    console.width = max(console.width, LEAST)
    wide = console.width >= 96
    if demo:
        console.print("No profile: an invented rider. For your own numbers: cadence-coach band --template me.toml")
    _one(console, found, mine, wide)
    if other:
        console.print()
        _one(console, found["against"], other, wide)
        console.print()
        _beside(console, found, mine, other)
    console.print()
    if other and not other.same_rider(mine):
        _lasting(console, found, f", {mine.rider}")
        console.print()
        _lasting(console, found["against"], f", {other.rider}")
    else:
        _lasting(console, found)
    if found["own"]:
        console.print()
        _own(console, found)
    if "sensitivity" in found:
        console.print()
        _moved(console, found)
    console.print()
    console.print(found["safety"], style="italic")


def _table(title: str, *columns: str) -> Table:
    table = Table(
        title=title, title_justify="left", title_style="bold", box=box.SIMPLE_HEAD, pad_edge=False, padding=(0, 1)
    )
    for i, column in enumerate(columns):
        table.add_column(column, justify="left" if i == len(columns) - 1 else "right", no_wrap=i < len(columns) - 1)
    return table


def _one(console: Console, found: dict[str, Any], profile: Profile, wide: bool) -> None:
    columns = (
        ["m/s", "band", "target", "push share", "size", "travel"]
        + (["drag", "leg power"] if wide else [])
        + ["can last"]
    )
    table = _table(f"{profile.rider} on {profile.foil}: pumps a minute over speed", *columns)
    for row in found["rows"]:
        if not row["feasible"]:
            why = "; ".join(REASONS[r] for r in row["reasons"][: 1 if row["reason"] == "stall" else 2])
            table.add_row(f"{row['speed_m_s']:g}", *[""] * (len(columns) - 2), why, style="dim")
            continue
        shares = "-" if row["share_lo"] is None else f"{100 * row['share_lo']:.0f}-{100 * row['share_hi']:.0f} %"
        more = [f"{row['drag_n']:.0f} N", f"{row['power_w']:.0f} W"] if wide else []
        table.add_row(
            f"{row['speed_m_s']:g}",
            span(row["coach_lo_hz"], row["coach_hi_hz"]),
            per_minute(row["coach_target_hz"]),
            shares,
            f"{100 * row['size_needed_g']:.0f} %",
            f"{100 * row['travel_m']:.0f} cm",
            *more,
            lasting(row),
        )
    console.print(table)
    console.print(
        "push share: of a pump, above 1 g. size: least swing of body weight to stay up; travel: the body's with it."
    )
    drag = speed_text(found["least_drag_speed_m_s"])
    if found["lowest_speed_m_s"] is None:
        console.print(f"By this estimate nothing can be pumped: are mass, area and span right? Least drag {drag}.")
    else:
        console.print(
            f"Can be pumped {speed_text(found['lowest_speed_m_s'])} to {speed_text(found['highest_speed_m_s'])}; "
            f"least drag {drag}; least effort a metre {speed_text(found['least_effort_speed_m_s'])}."
        )
    if profile.said():
        console.print(profile.said()[0].upper() + profile.said()[1:] + ".")


def _beside(console: Console, found: dict[str, Any], mine: Profile, other: Profile) -> None:
    table = _table(
        f"A: {mine.foil}   B: {other.foil}   {'the same' if other.same_rider(mine) else 'each'} rider's own endurance",
        "m/s",
        "target A",
        "B",
        "legs A",
        "B",
        "A lasts",
        "B lasts",
    )
    for a, b in zip(found["rows"], found["against"]["rows"], strict=True):
        table.add_row(
            f"{a['speed_m_s']:g}",
            per_minute(a["coach_target_hz"]),
            per_minute(b["coach_target_hz"]),
            *("-" if r["power_w"] is None else f"{r['power_w']:.0f} W" for r in (a, b)),
            lasting(a),
            lasting(b),
        )
    console.print(table)


def _lasting(console: Console, found: dict[str, Any], whose: str = "") -> None:
    effort = found["effort"]
    figures = f"{WHOSE[effort['source']]}: {effort['cp_w']:.0f} W for long, {effort['w_j'] / 1000:.1f} kJ above"
    table = _table(f"What lasts how long{whose} ({figures})", "for", "leg power", "so at", "")
    for row in found["holds"]:
        lo, hi = row["speed_lo_m_s"], row["speed_hi_m_s"]
        reach = "no speed that can be pumped" if lo is None else f"{lo:.1f} to {hi:.1f} m/s"
        table.add_row(clock(row["duration_s"]), f"{row['power_lo_w']:.0f}-{row['power_hi_w']:.0f} W", reach, "")
    console.print(table)
    if effort.get("not_fitted"):
        console.print(f"Your flights do not carry a model of your own yet: {effort['not_fitted']}.")
    if effort.get("fit"):
        lo, hi = effort["fit"]["cp_interval"]
        if lo is not None:
            console.print(f"Fitted to {effort['fit']['trials']} flights: power for long {lo:.0f} to {hi:.0f} W (95 %).")
        for doubt in effort["fit"]["doubts"]:
            console.print(f"Mind: {doubt}.")
    if found["less_drag"]:
        whole, *less = found["less_drag"]
        texts = [f"{100 * row['less_drag']:.0f} % {lasting(row)}" for row in less]
        cruise = f"{found['cruise_speed_m_s']:.1f} m/s"
        console.print(f"At cruise speed ({cruise}) {lasting(whole)}; with less drag: {', '.join(texts)}.")


def _own(console: Console, found: dict[str, Any]) -> None:
    table = _table("Your best flights so far", "m/s", "cadence", "lasted", "fade a minute", "of flights")
    for row in found["own"]:
        speed = "unknown" if row["speed_m_s"] is None else f"{row['speed_m_s']:.1f}"
        fade = f"{round(100 * row['fade_per_min']) + 0:+d} %"
        table.add_row(
            speed, per_minute(row["cadence_hz"]), clock(row["duration_s"]), fade, f"{row['best']} of {row['flights']}"
        )
    console.print(table)
    if found["q"] is not None:
        console.print(f"Own cadence {found['q']:.2f} x the model's; band and target lean half-way to it.")


def _moved(console: Console, found: dict[str, Any]) -> None:
    title = f"What it hangs on, at {found['cruise_speed_m_s']:.1f} m/s"
    table = _table(title, "change", "legs", "target", "model's band", "limits")
    for row in found["sensitivity"]:
        if row["reason"]:
            table.add_row(row["change"], "-", "-", "-", REASONS[row["reason"]])
        else:
            table.add_row(
                row["change"],
                f"{row['power_w']:.0f} W",
                per_minute(row["target_hz"]),
                span(row["lo_hz"], row["hi_hz"]),
                span(row["hard_lo_hz"], row["hard_hi_hz"]),
            )
    console.print(table)
