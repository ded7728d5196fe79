"""Short notes on what feet, knees, arms and gaze do in each part of the pump, one part before each set.

Common practice of the trade, no source; written for level ground with nothing underfoot. The parts are those of the
glossary: catch, shove, ease, gather.
"""

from __future__ import annotations

from cadence_coach.errors import Refused

PARTS = ("catch", "shove", "ease", "gather")

NOTES: dict[str, dict[str, dict[str, str]]] = {
    "en": {
        "catch": {
            "": "Catch: from the click on, the legs stop the drop.",
            "feet": "both take the weight at once, whole soles, toes loose",
            "knees": "soft at the first touch, over the toes, never falling inwards",
            "arms": "come down with the body and stop when it stops",
            "gaze": "at eye height, far ahead; the chin does not drop",
        },
        "shove": {
            "": "Shove: the legs drive the weight up, until the tick.",
            "feet": "press through both, a little more through the front one",
            "knees": "straighten fast, but not to the lock",
            "arms": "swing up and forward: they are weight that helps",
            "gaze": "stays where it was; the head rises, it does not nod",
        },
        "ease": {
            "": "Ease: after the tick, be light.",
            "feet": "let the soles get light; on the board they stay in touch, in a hop they leave the ground together",
            "knees": "draw them up under you instead of standing tall",
            "arms": "float at the top, shoulders down",
            "gaze": "far ahead; looking down rounds the back",
        },
        "gather": {
            "": "Gather: come down ready, before the next click.",
            "feet": "look for the place they left, flat and as wide as the hips",
            "knees": "bend before the weight comes; quiet, no bounce of their own",
            "arms": "start down first: they set the time",
            "gaze": "on the next thing to ride to",
        },
    },
    "de": {
        "catch": {
            "": "Auffangen: ab dem Klick bremsen die Beine den Fall.",
            "feet": "beide nehmen das Gewicht zugleich, ganze Sohle, Zehen locker",
            "knees": "weich beim ersten Kontakt, über den Zehen, nie nach innen",
            "arms": "kommen mit dem Körper herunter und halten, wenn er hält",
            "gaze": "auf Augenhöhe, weit nach vorn; das Kinn sinkt nicht",
        },
        "shove": {
            "": "Drücken: die Beine treiben das Gewicht hoch, bis zum Tick.",
            "feet": "durch beide drücken, durch den vorderen etwas mehr",
            "knees": "schnell strecken, aber nicht bis zum Anschlag",
            "arms": "nach vorn oben schwingen: Gewicht, das mithilft",
            "gaze": "bleibt, wo er war; der Kopf steigt und nickt nicht",
        },
        "ease": {
            "": "Leicht werden: nach dem Tick nachlassen.",
            "feet": "die Sohlen leicht werden lassen; auf dem Brett in Kontakt, beim Hüpfen zusammen vom Boden",
            "knees": "unter den Körper ziehen, statt sich aufzurichten",
            "arms": "oben schweben lassen, Schultern tief",
            "gaze": "weit voraus; wer nach unten schaut, macht den Rücken rund",
        },
        "gather": {
            "": "Sammeln: bereit herunterkommen, vor dem nächsten Klick.",
            "feet": "suchen die Stelle, die sie verließen, flach und hüftbreit",
            "knees": "beugen, bevor das Gewicht kommt; ruhig, kein eigenes Federn",
            "arms": "zuerst nach unten: sie geben die Zeit vor",
            "gaze": "auf das Nächste, wohin es gehen soll",
        },
    },
}
NAMES = {
    "en": {"feet": "feet", "knees": "knees", "arms": "arms", "gaze": "gaze"},
    "de": {"feet": "Füße", "knees": "Knie", "arms": "Arme", "gaze": "Blick"},
}


def note_lines(number: int, lang: str = "en") -> list[str]:
    """The note before set `number` (from 1): heading and four lines; the parts take turns."""
    if lang not in NOTES:
        raise Refused(f"--lang {lang}: choose one of {', '.join(NOTES)}")
    part = NOTES[lang][PARTS[(number - 1) % len(PARTS)]]
    return [part[""], *(f"  {NAMES[lang][body]}: {part[body]}" for body in ("feet", "knees", "arms", "gaze"))]
