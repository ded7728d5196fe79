"""Where samples and speed come from, opened by name. A source is an iterator of lists of rows in time order.

It has `name`, `start_s` (its own time [s] at the rows' time 0), `meta` (what is known about it), `notes` (what it does
not use, and why), `progress()` (share that has been read, None when there is no end) and `close()`. One without an end
may have `poll()`, which gives the rows that have come since the last call, None when it is over, and never waits: the
shell asks for them 20 times a second and needs no thread for it. To add a kind: a module in here with open(rest) ->
source, and its name in KINDS.
"""

from __future__ import annotations

from collections.abc import Iterator
from importlib import import_module
from typing import Any, Protocol

from cadence_coach.core.events import Row
from cadence_coach.errors import Refused

KINDS = {"sim": "simulated", "squats": "squats", "recording": "recording", "phone": "phone"}
"""What stands before the first colon, and the module it opens. Without one of these the name is a recording's path."""

ENDLESS = ("squats", "phone")
"""Of these, those that go on until they are stopped."""


class Source(Protocol):
    name: str
    start_s: float
    meta: dict[str, Any]
    notes: list[str]

    def __iter__(self) -> Iterator[list[Row]]: ...
    def __next__(self) -> list[Row]: ...
    def progress(self) -> float | None: ...
    def close(self) -> None: ...


def open_source(spec: str) -> Source:
    """Opens sim:KIND:SEED, squats:SEED, phone:, recording:PATH or PATH."""
    kind, colon, rest = str(spec).partition(":")
    if not colon or kind not in KINDS:
        kind, rest = "recording", str(spec)
    if not rest and kind != "phone":
        raise Refused(f"{spec!r}: nothing behind the colon; give sim:KIND:SEED or the path of a recording")
    source: Source = import_module(f"{__name__}.{KINDS[kind]}").open(rest)
    return source


def open_whole(spec: str) -> Source:
    """One that is read to its end. Raises Refused for one that has none."""
    kind, colon, _ = str(spec).partition(":")
    if colon and kind in ENDLESS:
        raise Refused(f"{spec}: goes on until it is stopped, so it has no end to read up to; give a recording")
    return open_source(spec)
