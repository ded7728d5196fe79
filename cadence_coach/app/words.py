"""Every word that is shown: one file (texts.toml), looked up by key and language. No Kivy.

    words = Words("de"); words("home.ride"); words("water.flight", number=3)

A key that does not exist, or that a language lacks, is a KeyError: a test goes through all of them.
"""

from __future__ import annotations

import tomllib
from functools import lru_cache
from importlib.resources import files
from typing import Any

LANGUAGES = {"en": "English", "de": "Deutsch"}
"""Each language by its own name: whoever needs another one can read only that."""


@lru_cache(maxsize=1)
def every() -> dict[str, dict[str, str]]:
    """Key -> language -> text, as in the file."""
    tables = tomllib.loads(files("cadence_coach.app").joinpath("texts.toml").read_text("utf-8"))
    out: dict[str, dict[str, str]] = {}
    _flatten("", tables, out)
    return out


def _flatten(above: str, table: dict[str, Any], out: dict[str, dict[str, str]]) -> None:
    for name, value in table.items():
        key = f"{above}.{name}" if above else name
        if all(isinstance(v, str) for v in value.values()):
            out[key] = value
        else:
            _flatten(key, value, out)


class Words:
    """The texts of one language."""

    def __init__(self, lang: str) -> None:
        if lang not in LANGUAGES:
            raise KeyError(f"language {lang!r}: choose one of {', '.join(LANGUAGES)}")
        self.lang = lang

    def __call__(self, key: str, **values: Any) -> str:
        text = every()[key][self.lang]
        return text.format(**values) if values else text

    def number(self, value: float | None, digits: int = 0) -> str:
        """A number as the language writes it; a dash for what is not known."""
        if value is None:
            return "–"
        text = f"{value:.{digits}f}"
        return text.replace(".", ",") if self.lang == "de" else text
