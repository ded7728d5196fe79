"""Rows as CSV, or as Parquet where pyarrow is installed; the same values in both."""

from __future__ import annotations

import csv
import math
from collections.abc import Sequence
from io import StringIO
from pathlib import Path
from typing import Any

from cadence_coach.errors import CouldNot

Row = dict[str, Any]

FLIGHT_COLUMNS = (
    "flight",
    "start_s",
    "end_s",
    "started_by",
    "ended_by",
    "landing_to_push_s",
    "pumps",
    "pumping_s",
    "coast_s",
    "rope_s",
    "own_s",
    "helped",
    "gap_s",
    "cadence_hz",
    "cadence_early_hz",
    "cadence_late_hz",
    "push_share",
    "peak_g",
    "lightness_g",
    "rise_s",
    "size_g",
    "size_needed_g",
    "size_ratio",
    "travel_m",
    "steadiness",
    "rmssd_s",
    "speed_m_s",
    "distance_m",
    "m_per_pump",
    "in_band",
    "power_w",
)
"""Figures of a flight that are single values, in the order of every table."""


def csv_text(rows: Sequence[Row], columns: Sequence[str]) -> str:
    """Header and rows; numbers whole (shortest text that reads back the same), unknown empty."""
    text = StringIO()
    out = csv.writer(text, lineterminator="\n")
    out.writerow(columns)
    for row in rows:
        out.writerow([_cell(row.get(name)) for name in columns])
    return text.getvalue()


def write_parquet(path: Path, rows: Sequence[Row], columns: Sequence[str]) -> None:
    """One Parquet file (extra `club`). Raises CouldNot without pyarrow."""
    try:
        import pyarrow
        import pyarrow.parquet
    except ImportError:
        raise CouldNot("Parquet needs pyarrow: pip install 'cadence-coach[club]', or leave --parquet out") from None
    table = pyarrow.table({name: [_plain(row.get(name)) for row in rows] for name in columns})
    with path.open("wb") as file:  # pyarrow takes no path that is not UTF-8
        pyarrow.parquet.write_table(table, file)


def columns_of(rows: Sequence[Row]) -> list[str]:
    """The columns of all rows, in the order in which they come up."""
    return list(dict.fromkeys(name for row in rows for name in row))


def _plain(value: Any) -> Any:
    if isinstance(value, str):
        return value.encode("utf-8", "replace").decode("utf-8")  # a file's name may hold bytes that are no text
    return None if isinstance(value, float) and not math.isfinite(value) else value


def _cell(value: Any) -> str:
    value = _plain(value)
    if value is None:
        return ""
    if isinstance(value, float):
        return repr(float(value))
    text = str(value)
    # a text that a spreadsheet would run as a formula gets a quote mark in front
    return "'" + text if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text
