"""Dates as they come from anywhere: one reading of them, in UTC, where an outing or a recording is loaded."""

from __future__ import annotations

import json
import math
from pathlib import Path

import attrs
import numpy as np
import pytest

from cadence_coach.store.dates import moment, stamp, when
from cadence_coach.store.outing_file import load_outing, peek, save_outing
from cadence_coach.store.recordings import Recording, write_recording
from tests.store import made

READ = [
    ("2026-06-13T09:00:00Z", "2026-06-13T09:00:00Z"),
    ("2026-06-13T23:30:00-10:00", "2026-06-14T09:30:00Z"),
    ("2026-06-14T01:00:00+02:00", "2026-06-13T23:00:00Z"),
    ("2026-06-13T09:00:00", "2026-06-13T09:00:00Z"),
    ("2026-06-13 09:00:00.25", "2026-06-13T09:00:00.250Z"),
    ("13.6.2026 9:00:00", "2026-06-13T09:00:00Z"),
    ("yesterday", None),
    ("0001-01-01T00:00:00+10:00", None),
    ("", None),
]


@pytest.mark.parametrize(("text", "utc"), READ)
def test_a_date_is_read_as_utc(text: str, utc: str | None) -> None:
    at = when(text)
    assert (None if at is None else stamp(at)) == utc
    assert math.isnan(moment(text)) if at is None else moment(text) == at.timestamp()


@pytest.mark.parametrize(("text", "utc"), READ)
def test_an_outing_and_a_recording_begin_in_utc_whoever_wrote_them(tmp_path: Path, text: str, utc: str | None) -> None:
    path = save_outing(attrs.evolve(made.outing(20), start_utc=text), tmp_path / "a.outing")
    assert load_outing(path).start_utc == peek(path)["start_utc"] == utc
    accel = np.column_stack([0.01 * np.arange(50), np.full((50, 3), 5.66)])
    recording = Recording(write_recording(tmp_path / "lake", accel, None, None, {"start_utc": text}))
    assert recording.meta["start_utc"] == utc
    recording.close()
    assert json.loads((tmp_path / "lake" / "meta.json").read_text())["start_utc"] == text, "the file stays as it is"
