"""Why something could not be done, in the language of the screen. Errors are one English line, as a terminal has them;
the forms that a rider meets most have a text of their own (`reason.` in texts.toml). Pure."""

from __future__ import annotations

import re

from cadence_coach.app.words import Words

FORMS = (
    (r"(?P<what>.+?): is no outing file; .*", "reason.no_outing"),
    (r"(?P<what>.+?): cannot be read \((?P<why>.*)\); .*", "reason.unreadable"),
    (r"(?P<what>.+?): is being written all the time; .*", "reason.busy"),
    (r"(?P<what>.+?): cannot be changed \((?P<why>.*)\); .*", "reason.unchanged"),
    (r"(?P<what>.+?): no write rights there \((?P<why>.*)\); .*", "reason.no_rights"),
    (r"(?P<what>.+?): the outing could not be written \((?P<why>.*)\); .*", "reason.unwritten"),
    (r"(?P<what>.+?): another coach.* is running in this folder; .*", "reason.another"),
    (r"(?P<what>.+?): .*\bdamaged\b.*", "reason.damaged"),
)
"""The line as an error has it, and the text that says the same; the widest last."""


def reason(why: str, words: Words) -> str:
    """The line in the language of the screen; English, and a form that is not known, stay as they were."""
    if words.lang == "en":
        return why
    for form, key in FORMS:
        if found := re.fullmatch(form, why):
            return words(key, **found.groupdict())
    return why
