"""Sentences by key, told in a language when they are shown: one table of texts for report, terminal and app.

What a review finds is a `Said`: a key and the values that go into its text. So figures, caches and files hold no
language, and whoever shows them asks for one. The texts are the TOML files in `texts/`, `[key]` with a line a language.
"""

from __future__ import annotations

import re
import string
import tomllib
from collections.abc import Iterable
from functools import cache
from importlib.resources import files
from typing import Any

import attrs

from cadence_coach.errors import Refused

LANGUAGES = ("en", "de")
"""The first one is the language of files and of whatever asks for none."""

FILES = ("advice", "figures", "ladder", "page", "season")


@attrs.frozen
class Said:
    """A text by its key; values are numbers, words, other texts, or lists of texts."""

    key: str
    values: dict[str, Any] = attrs.field(factory=dict)


def say(key: str, **values: Any) -> Said:
    return Said(key, values)


def tell(said: Any, lang: str = "en") -> str:
    """A text, or several one after the other, in a language. Plain words are told as they are. KeyError for a key that
    no file has: a mistake of ours, which a test looks for."""
    if isinstance(said, str):
        return said
    if not isinstance(said, Said):
        return " ".join(filter(None, (tell(one, lang) for one in said)))
    values = {name: _value(value, lang) for name, value in said.values.items()}
    return _Numbers(lang).vformat(table()[said.key][lang], (), values)


def _value(value: Any, lang: str) -> Any:
    return tell(value, lang) if isinstance(value, Said | list | tuple) else value


def signed(text: str) -> str:
    """A number as it is set in print: a minus sign for the hyphen, and no sign before nothing."""
    return re.sub(r"^[+-](0(?:[.,]0+)?)$", r"\1", text).replace("-", "\u2212")


def span(seconds: float) -> str:
    """A length of time, in all places alike: 12 s, 4:05 min, 1:02 h; rounded to the last digit shown."""
    whole = round(seconds)
    if whole < 100:
        return f"{whole} s"
    minutes, over = divmod(whole, 60)
    if minutes < 60:
        return f"{minutes}:{over:02d} min"
    hours, minutes = divmod(round(seconds / 60.0), 60)
    return f"{hours}:{minutes:02d} h"


def minutes(seconds: float) -> str:
    """Clock time since the start: 4:05, or 1:02:03 past an hour."""
    whole = round(seconds)
    hours, rest = divmod(abs(whole), 3600)
    text = f"{hours}:{rest // 60:02d}:{rest % 60:02d}" if hours else f"{rest // 60}:{rest % 60:02d}"
    return f"-{text}" if whole < 0 else text


class _Numbers(string.Formatter):
    """Numbers as the language writes them: a comma for the decimals in German. `{n:flight|flights}`: one or many;
    `{n:span}`: a length of time."""

    def __init__(self, lang: str) -> None:
        self._comma = lang == "de"

    def format_field(self, value: Any, format_spec: str) -> str:
        if format_spec == "span":
            return span(value)
        one, several, many = format_spec.partition("|")
        if several:
            return one if value == 1 else many
        text = str(super().format_field(value, format_spec))
        text = signed(text) if isinstance(value, float) else text
        return text.replace(".", ",") if self._comma and isinstance(value, float) else text


def known(lang: str) -> str:
    """The language, if there is one of that name; Refused otherwise."""
    if lang not in LANGUAGES:
        raise Refused(f"--lang {lang}: choose one of {', '.join(LANGUAGES)}")
    return lang


@cache
def table() -> dict[str, dict[str, str]]:
    """Key to language to text, of all files."""
    folder = files("cadence_coach.review") / "texts"
    found: dict[str, dict[str, str]] = {}
    for name in FILES:
        found |= tomllib.loads((folder / f"{name}.toml").read_text(encoding="utf-8"))
    return found


def from_plain(plain: dict[str, Any]) -> Said:
    """The text of which `attrs.asdict` made plain values. Raises KeyError or TypeError for what is none."""
    if plain["key"] not in table():
        raise KeyError(plain["key"])
    values = {n: from_plain(v) if isinstance(v, dict) else v for n, v in plain["values"].items()}
    return Said(plain["key"], values)


def texts(found: Iterable[dict[str, Any]]) -> tuple[Said, ...]:
    return tuple(from_plain(one) for one in found)
