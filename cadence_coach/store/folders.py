"""Where the data lives, and the lock that lets one engine at a time write there."""

from __future__ import annotations

import os
from pathlib import Path
from types import TracebackType
from typing import IO

from cadence_coach.errors import CouldNot

HOME = "CADENCE_COACH_HOME"


def home() -> Path:
    """The folder for everything that is kept: CADENCE_COACH_HOME, or the platform's folder for user data. Made."""
    if given := os.environ.get(HOME):
        folder = Path(given).expanduser()
    else:
        from platformdirs import (
            user_data_path,
        )  # where each system keeps such data; on a phone the app sets the variable

        folder = user_data_path("cadence-coach", appauthor=False)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as e:
        raise CouldNot(f"{folder}: the data folder cannot be made ({e.strerror}); set {HOME} to another one") from None
    return folder


def outings_folder() -> Path:
    """The outing files of this machine. Made when missing."""
    folder = home() / "outings"
    try:
        folder.mkdir(exist_ok=True)
    except OSError as e:
        raise CouldNot(f"{folder}: cannot be made ({e.strerror}); set {HOME} to a folder with write rights") from None
    return folder


class FolderLock:
    """Held by the one engine that writes in a folder; the system drops it when the process ends, however it ends.
    name: of the file, where a folder has more than one thing to hold."""

    def __init__(self, folder: Path, name: str = "in-use") -> None:
        self.path = folder / name
        self._file: IO[str] | None = None

    def take(self) -> FolderLock:
        """Raises CouldNot when another engine holds it or the folder has no write rights."""
        try:
            file = open(self.path, "a+", encoding="ascii")  # noqa: SIM115 (open as long as the lock is held)
        except OSError as e:
            raise CouldNot(
                f"{self.path.parent}: no write rights there ({e.strerror}); set {HOME} to another one"
            ) from None
        try:
            _lock(file)
        except OSError:
            file.seek(0)
            who = file.read(20).strip()
            file.close()
            told = f" (process {who})" if who.isdigit() else ""
            raise CouldNot(
                f"{self.path.parent}: another coach{told} is running in this folder; stop it, or set {HOME}"
            ) from None
        file.seek(0)
        file.truncate()
        file.write(f"{os.getpid()}\n")
        file.flush()
        self._file = file
        return self

    def drop(self) -> None:
        if self._file is not None:
            self._file.close()
            self._file = None

    def __enter__(self) -> FolderLock:
        return self if self._file is not None else self.take()

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.drop()


def _lock(file: IO[str]) -> None:
    if os.name == "nt":
        import msvcrt

        file.seek(100)  # beyond the process number, which others must be able to read
        msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
    else:
        import fcntl

        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
