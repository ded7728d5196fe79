"""Dates and times as any program writes them, and as ours do: UTC, with a Z."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Any

DAY_FIRST = re.compile(r"(\d{1,2})\.(\d{1,2})\.(\d{4})[ T](\d{1,2})(:\d{2}:\d{2}(?:[.,]\d+)?)")
"""With points the day always comes first; with slashes nobody can tell, so these are refused."""


def when(text: str | None) -> datetime | None:
    """A date and time in UTC, which it is where no zone is said; None where it is none."""
    text = (text or "").strip()
    if found := DAY_FIRST.fullmatch(text):
        day, month, year, hour, rest = found.groups()
        text = f"{year}-{month:0>2}-{day:0>2}T{hour:0>2}{rest.replace(',', '.')}"
    try:
        at = datetime.fromisoformat(text)
        return at.astimezone(UTC) if at.tzinfo else at.replace(tzinfo=UTC)
    except (ValueError, OverflowError):
        return None


def moment(text: str) -> float:
    """The same in seconds since 1970; NaN where it is none."""
    at = when(text)
    return float("nan") if at is None else at.timestamp()


def stamp(at: datetime) -> str:
    """A time with its zone as 2026-06-13T09:00:00Z, to the millisecond where it is between seconds."""
    between = "milliseconds" if at.microsecond else "seconds"
    return at.astimezone(UTC).isoformat(timespec=between).replace("+00:00", "Z")


def known_start(meta: dict[str, Any]) -> dict[str, Any]:
    """What a file says of itself, its `start_utc` as `stamp` writes it; null where it is no time."""
    at = meta.get("start_utc")
    if not isinstance(at, str):
        return meta
    known = when(at)
    return {**meta, "start_utc": None if known is None else stamp(known)}
