"""A recording as a source: as fast as it can be read."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from cadence_coach.core.events import Row
from cadence_coach.store.recordings import Recording


class RecordingSource:
    """See `sources`; `recording` is what it reads."""

    def __init__(self, path: str | Path) -> None:
        self.recording = Recording(path)
        self.name = self.recording.name
        self.start_s = self.recording.start_s
        self.start_ns = self.recording.start_ns
        self.meta = self.recording.meta
        self.notes = self.recording.notes
        self._rows = self.recording.rows()

    def __iter__(self) -> Iterator[list[Row]]:
        return self

    def __next__(self) -> list[Row]:
        return next(self._rows)

    def progress(self) -> float:
        return min(1.0, self.recording.bytes_read() / self.recording.size) if self.recording.size else 1.0

    def close(self) -> None:
        self._rows.close()
        self.recording.close()


def open(path: str) -> RecordingSource:
    return RecordingSource(path)
