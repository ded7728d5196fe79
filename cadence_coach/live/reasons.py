"""Why something could not be done, in the language of the rider. Errors are one English line, as a terminal has them;
the forms that a rider meets most are told here in the other languages: on a page and in the notification. Pure."""

from __future__ import annotations

import re

FORMS: dict[str, tuple[tuple[str, str], ...]] = {
    "de": (
        (r"(?P<what>.+?): is no outing file; .*", "{what}: keine Ausfahrt dieses Programms"),
        (r"(?P<what>.+?): cannot be read \((?P<why>.*)\); .*", "{what}: nicht zu lesen ({why})"),
        (
            r"(?P<what>.+?): is being written all the time; .*",
            "{what}: wird gerade dauernd geschrieben; nach der Ausfahrt noch einmal versuchen",
        ),
        (
            r"(?P<what>.+?): cannot be changed \((?P<why>.*)\); .*",
            "{what}: nicht zu ändern ({why}); Schreibrechte und freien Platz prüfen",
        ),
        (r"(?P<what>.+?): no write rights there \((?P<why>.*)\); .*", "{what}: dort fehlen Schreibrechte ({why})"),
        (
            r"(?P<what>.+?): the outing could not be written \((?P<why>.*)\); .*",
            "{what}: Die Ausfahrt ließ sich nicht schreiben ({why}); Ordner und freien Platz prüfen",
        ),
        (
            r"(?P<what>.+?): another coach.* is running in this folder; .*",
            "{what}: In diesem Ordner läuft schon ein Coach; halte ihn an",
        ),
        (
            r"the plan from the app cannot be read \((?P<why>.*)\); .*",
            "Der Plan aus der App ist nicht zu lesen ({why}); starte die Ausfahrt aus der App",
        ),
        (
            r"phone: it has no accelerometer; .*",
            "Dieses Telefon hat keinen Beschleunigungssensor; nimm ein anderes, oder einen Logger",
        ),
        (
            r"phone: the accelerometer did not start; .*",
            "Der Beschleunigungssensor startet nicht; schließe andere Apps, die ihn haben, oder starte das Telefon neu",
        ),
        (
            r"phone: no sound output opened; .*",
            "Kein Tonausgang ließ sich öffnen; beende das Gespräch oder die andere App, die ihn hält",
        ),
        (
            r"(?P<taps>\d+) taps after the first (?P<first>\d+): .* there are (?P<least>\d+)",
            "{taps}-mal getippt nach den ersten {first}; tippe mit den Klicks weiter, bis es {least} sind",
        ),
        (
            r"taps scatter by (?P<ms>\d+) ms \(at most (?P<most>\d+)\): .*",
            "Du tippst um {ms} ms ungleich (höchstens {most}); sitz still und tippe noch einmal",
        ),
        (
            r"latency (?P<ms>-?\d+) ms for (?P<what>.+): no output .*",
            "{ms} ms bei {what}: So früh oder spät ist kein Ausgang; miss noch einmal",
        ),
        (r"(?P<what>.+?): .*\bdamaged\b.*", "{what}: ist beschädigt; nimm eine andere Kopie der Datei"),
    ),
}
"""A language, and for each line as an error has it the text that says the same; the widest last."""


def reason(why: str, lang: str) -> str:
    """The line in a language; English, and a form that is not known, stay as they were."""
    for form, text in FORMS.get(lang, ()):
        if found := re.fullmatch(form, why):
            return text.format(**found.groupdict())
    return why
