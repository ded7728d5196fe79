"""What a page of text, figures and charts is made of: frozen values that `parts.blocks` turns into widgets. Pure.

`act` names what a touch asks for; the page hears it with its value. Every touchable is called by its act in tests.
"""

from __future__ import annotations

import attrs

from cadence_coach.app.views.chart import Chart


@attrs.frozen
class Text:
    """A paragraph. kind: small, body, lead, title; muted: said in passing."""

    text: str
    kind: str = "body"
    muted: bool = False


@attrs.frozen
class Numbers:
    """Big figures with what they are: (value, caption)."""

    items: tuple[tuple[str, str], ...]


@attrs.frozen
class Rows:
    """Lines of (what, how much)."""

    items: tuple[tuple[str, str], ...]


@attrs.frozen
class Picture:
    chart: Chart
    caption: str = ""
    height: float = 190.0
    """In dp."""


@attrs.frozen
class Go:
    """A row that leads somewhere."""

    act: str
    text: str
    sub: str = ""


@attrs.frozen
class Push:
    """A button. look: strong, plain, quiet."""

    act: str
    text: str
    look: str = "plain"


@attrs.frozen
class HoldOn:
    """A button that must be held for a moment."""

    act: str
    text: str


@attrs.frozen
class Pick:
    """One of several: (key, text). again: touching the chosen one is told, too."""

    act: str
    options: tuple[tuple[str, str], ...]
    chosen: str | None
    again: bool = False


@attrs.frozen
class Tick:
    act: str
    text: str
    ticked: bool


@attrs.frozen
class Write:
    """Something to be typed."""

    act: str
    label: str
    text: str = ""
    hint: str = ""
    number: bool = False
    unit: str = ""
    trouble: str = ""


@attrs.frozen
class Group:
    """Blocks on a card of their own."""

    blocks: tuple[Block, ...]


Block = Text | Numbers | Rows | Picture | Go | Push | HoldOn | Pick | Tick | Write | Group


def group(*blocks: Block | None) -> Group:
    return Group(tuple(b for b in blocks if b is not None))


def head(text: str) -> Text:
    """The heading of a part of a page."""
    return Text(text, "lead")
