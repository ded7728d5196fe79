"""What to look at before each outing: practice advice, shown whole and ticked by hand. Plain data, for every screen.

Common practice of the water and of training, no source; local rules and qualified instruction come before all of it.
The program keeps nobody safe and alerts nobody. Another language is another table with the same keys.
"""

from __future__ import annotations

FIRST = "first"
"""Said above every list."""

ALWAYS = (
    "instruction",
    "leash",
    "vest",
    "depth",
    "way_out",
    "head_first",
    "fall",
    "ashore",
    "alone",
    "weather",
    "cold",
    "ears",
    "pouch",
    "phone",
    "unwell",
)
BY_START: dict[str, tuple[str, ...]] = {
    "dock": ("edge_depth", "edge_clear", "swimmers"),
    "step": ("step_depth", "step_ground"),
    "rope": ("observer", "kill_cord", "rope_free", "signals", "propeller", "leash_rope", "rope_silent"),
    "rope_drill": ("observer", "kill_cord", "rope_free", "signals", "propeller", "leash_rope", "rope_drill"),
}
LAND = ("instruction", "ground", "warm_up", "sets", "unwell", "pain")

TEXTS: dict[str, dict[str, str]] = {
    "en": {
        "first": "Practice advice only. Local rules and qualified instruction come first. This program keeps"
        " nobody safe and calls nobody.",
        "instruction": "Local rules known; taught by someone qualified, or riding with someone who is.",
        "leash": "Leash worn as local practice has it, with a quick release that was tried today.",
        "vest": "Impact vest and helmet on. An impact vest is usually no certified buoyancy aid.",
        "depth": "Deep enough for the mast and for a fall, everywhere on the way.",
        "way_out": "A way out of the water that can be swum to from everywhere on the way.",
        "head_first": "Never dive in head first.",
        "fall": "Fall away from the board and flat, arms over the head, come up hand first.",
        "ashore": "Foil covered while ashore and on the way to the water.",
        "alone": "Not alone: somebody is there who knows the plan and can get help.",
        "weather": "No wind off the shore, no thunder, daylight to the end, no traffic in the way.",
        "cold": "Dressed for the water, not for the air; out before getting cold.",
        "ears": "Ears open to others; a headset only where it is allowed.",
        "pouch": "Pouch tested dry, with the phone's weight in it.",
        "phone": "Phone padded, off spine and breastbone; no cord round the neck; a strap that gives way. It is also"
        " the emergency phone: charged.",
        "unwell": "Stop with chest pain, dizziness or faintness.",
        "edge_depth": "Depth at the edge measured, not guessed.",
        "edge_clear": "No lines, cleats or slippery boards in the run-up; shoes considered.",
        "swimmers": "No swimmers or boats below the edge.",
        "step_depth": "Mast clear of the ground where the step is made and behind it.",
        "step_ground": "Ground under the feet known: no stones, shells or holes; shoes considered.",
        "observer": "An observer beside the driver, who looks at the rider alone.",
        "kill_cord": "Kill cord on the driver.",
        "rope_free": "Quick release at the boat; the rope is never tied or wrapped to hand or body.",
        "signals": "Hand signals agreed: go, slower, stop, let go.",
        "propeller": "Propeller stopped whenever a swimmer is near.",
        "leash_rope": "Leash clear of the rope.",
        "rope_silent": "Agreed: the coach is silent on the rope, the driver is the one to listen to.",
        "rope_drill": "Agreed with the driver: the coach will sound while on the rope.",
        "ground": "Even ground with room to stumble, nothing hard near.",
        "warm_up": "Warmed up.",
        "sets": "Short sets with rests, less than feels possible.",
        "pain": "Stop with pain in back, knee or foot.",
    },
    "de": {
        "first": "Nur Ratschläge aus der Praxis. Örtliche Regeln und Anleitung durch Fachkundige gehen vor. Dieses"
        " Programm schützt niemanden und ruft niemanden.",
        "instruction": "Örtliche Regeln bekannt; von Fachkundigen angeleitet oder mit jemandem unterwegs, der es ist.",
        "leash": "Leash wie am Ort üblich, mit Schnelltrennung, die heute ausprobiert wurde.",
        "vest": "Prallschutzweste und Helm an. Eine Prallschutzweste ist meist kein zugelassener Auftrieb.",
        "depth": "Überall auf dem Weg tief genug für den Mast und für einen Sturz.",
        "way_out": "Ein Weg aus dem Wasser, der von überall auf der Strecke zu schwimmen ist.",
        "head_first": "Nie kopfüber hinein.",
        "fall": "Weg vom Brett und flach fallen, Arme über den Kopf, mit der Hand voran auftauchen.",
        "ashore": "Foil an Land und auf dem Weg zum Wasser abgedeckt.",
        "alone": "Nicht allein: Jemand ist da, kennt den Plan und kann Hilfe holen.",
        "weather": "Kein ablandiger Wind, kein Gewitter, Tageslicht bis zum Ende, kein Verkehr im Weg.",
        "cold": "Angezogen für das Wasser, nicht für die Luft; heraus, bevor es kalt wird.",
        "ears": "Ohren offen für andere; Kopfhörer nur, wo sie erlaubt sind.",
        "pouch": "Beutel auf Dichtheit geprüft, mit dem Gewicht des Telefons darin.",
        "phone": "Telefon gepolstert, nicht auf Wirbelsäule oder Brustbein; keine Schnur um den Hals; ein Gurt, der"
        " nachgibt. Es ist auch das Notruftelefon: geladen.",
        "unwell": "Aufhören bei Brustschmerz, Schwindel oder Schwäche.",
        "edge_depth": "Tiefe an der Kante gemessen, nicht geschätzt.",
        "edge_clear": "Keine Leinen, Klampen oder glatten Bretter im Anlauf; an Schuhe gedacht.",
        "swimmers": "Keine Schwimmer oder Boote unter der Kante.",
        "step_depth": "Mast frei vom Grund, wo der Schritt gemacht wird und dahinter.",
        "step_ground": "Grund unter den Füßen bekannt: keine Steine, Muscheln, Löcher; an Schuhe gedacht.",
        "observer": "Neben dem Fahrer jemand, der nur den Menschen am Seil beobachtet.",
        "kill_cord": "Notstoppleine am Fahrer.",
        "rope_free": "Schnelltrennung am Boot; das Seil nie an Hand oder Körper binden oder wickeln.",
        "signals": "Handzeichen vereinbart: los, langsamer, halt, loslassen.",
        "propeller": "Propeller steht, sobald jemand in der Nähe schwimmt.",
        "leash_rope": "Leash frei vom Seil.",
        "rope_silent": "Vereinbart: Am Seil schweigt der Coach, gehört wird auf den Fahrer.",
        "rope_drill": "Mit dem Fahrer vereinbart: Der Coach tönt auch am Seil.",
        "ground": "Ebener Boden mit Platz zum Stolpern, nichts Hartes in der Nähe.",
        "warm_up": "Aufgewärmt.",
        "sets": "Kurze Sätze mit Pausen, weniger als möglich scheint.",
        "pain": "Aufhören bei Schmerz in Rücken, Knie oder Fuß.",
    },
}


def keys(start: str) -> tuple[str, ...]:
    """The points for a start ("dock", "step", "rope", "rope_drill") or for "land". ValueError for another."""
    if start == "land":
        return LAND
    if start not in BY_START:
        raise ValueError(f"start is {start!r}; choose one of {', '.join((*BY_START, 'land'))}")
    return ALWAYS + BY_START[start]


def points(start: str, lang: str = "en") -> tuple[tuple[str, str], ...]:
    """(key, text) of each point to tick. A point that a language lacks is shown in English rather than left out."""
    texts = TEXTS.get(lang, {})
    return tuple((key, texts.get(key) or TEXTS["en"][key]) for key in keys(start))


def heading(lang: str = "en") -> str:
    """What stands above the list."""
    return TEXTS.get(lang, {}).get(FIRST) or TEXTS["en"][FIRST]
