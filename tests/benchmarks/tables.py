"""How a figure is printed: a table that README can take over, and the goals that were missed, by name."""

from __future__ import annotations

from collections.abc import Sequence


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    lines = [list(head), ["---"] * len(head), *map(list, rows)]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


def missed(value: float, most: float, text: str) -> list[str]:
    """The goal as a list of one where `value` is over it, else nothing; NaN is over everything."""
    return [] if value <= most else [text]
