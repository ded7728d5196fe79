"""A set's score in words and one line of picture, for a terminal and for files."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from cadence_coach.land.plan import Plan
from cadence_coach.land.score import SetScore

USUAL_LEAD_S = (0.02, 0.08)
"""People who move with a beat are ahead of it by so much (Repp 2005, from memory): nothing to correct."""
BINS = 31
BARS = " ▁▂▃▄▅▆▇█"
TEXTS: dict[str, dict[str, str]] = {
    "en": {
        "too_few": "too few movements to say more",
        "every_second": "one movement to every second click: halve the tempo, or move with each click",
        "missed": "clicks without a movement",
        "faster": "faster than the clicks",
        "slower": "slower than the clicks",
        "uneven": "uneven from one to the next",
        "loose": "not at one place of the beat",
        "set": "Set {number} of {of}, {tempo} a minute",
        "counts": "{moves} movements on {clicks} clicks, {missed} missed, {extra} too many",
        "no_clock": "place in the beat not known (no common clock)",
        "ahead": "{ms} ms ahead of the click",
        "after": "{ms} ms behind the click",
        "usual": " (as most people are)",
        "lock": "lock {lock}, {where}; by chance: p {chance:.1g} ({test})",
        "cadence": "cadence {cadence} a minute of {tempo}, steady within {steady} %",
        "share": "push share {share} %",
        "tick": ", the tick is at {share} %",
        "strip_ahead": "ahead",
        "strip_behind": "behind",
        "passed": "passed",
        "again": "again: {why}",
    },
    "de": {
        "too_few": "zu wenige Bewegungen, um mehr zu sagen",
        "every_second": "eine Bewegung auf jeden zweiten Klick: Tempo halbieren oder mit jedem Klick bewegen",
        "missed": "Klicks ohne Bewegung",
        "faster": "schneller als die Klicks",
        "slower": "langsamer als die Klicks",
        "uneven": "ungleichmäßig von einer zur nächsten",
        "loose": "nicht an einer Stelle des Takts",
        "set": "Satz {number} von {of}, {tempo} pro Minute",
        "counts": "{moves} Bewegungen auf {clicks} Klicks, {missed} ausgelassen, {extra} zu viel",
        "no_clock": "Stelle im Takt nicht bekannt (keine gemeinsame Uhr)",
        "ahead": "{ms} ms vor dem Klick",
        "after": "{ms} ms nach dem Klick",
        "usual": " (wie die meisten)",
        "lock": "Gleichklang {lock}, {where}; durch Zufall: p {chance:.1g} ({test})",
        "cadence": "Takt {cadence} pro Minute von {tempo}, gleichmäßig auf {steady} %",
        "share": "Druckanteil {share} %",
        "tick": ", der Tick ist bei {share} %",
        "strip_ahead": "davor",
        "strip_behind": "danach",
        "passed": "geschafft",
        "again": "noch einmal: {why}",
    },
}
"""Keys of the shortfalls of a score, and the parts of its lines."""


def number(value: float, digits: int, lang: str) -> str:
    text = f"{value:.{digits}f}"
    return text.replace(".", ",") if lang == "de" else text


def heading(count: int, of: int, tempo: float, lang: str = "en") -> str:
    return TEXTS[lang]["set"].format(number=count, of=of, tempo=number(tempo, 1, lang))


def place(lead_s: float | None, lang: str = "en") -> str:
    """Where beside the click the movements were."""
    texts = TEXTS[lang]
    if lead_s is None:
        return texts["no_clock"]
    said = texts["ahead" if lead_s >= 0 else "after"].format(ms=f"{abs(lead_s) * 1000:.0f}")
    return said + (texts["usual"] if USUAL_LEAD_S[0] <= lead_s <= USUAL_LEAD_S[1] else "")


def verdict(passed: bool, shortfalls: Sequence[str], lang: str = "en") -> str:
    texts = TEXTS[lang]
    return texts["passed"] if passed else texts["again"].format(why="; ".join(texts[s] for s in shortfalls))


def strip(offsets: Sequence[float], period: float, lang: str = "en") -> str:
    """Where in the beat the movements began: half a beat ahead to half a beat behind the click, which is the middle."""
    counts = [0] * BINS
    for off in offsets:
        counts[min(BINS - 1, max(0, int((off / period + 0.5) * BINS)))] += 1
    most = max(counts) or 1
    bars = [BARS[-(-count * (len(BARS) - 1) // most)] for count in counts]
    drawn = f"|{''.join(bars[: BINS // 2])}[{bars[BINS // 2]}]{''.join(bars[BINS // 2 + 1 :])}|"
    return f"{TEXTS[lang]['strip_ahead']} {drawn} {TEXTS[lang]['strip_behind']}"


def lines(score: SetScore, wanted_share: float | None, lang: str = "en") -> list[str]:
    """The score of one set, at most six lines."""
    texts = TEXTS[lang]
    counts = {"moves": score.moves, "clicks": score.clicks, "missed": score.missed, "extra": score.extra}
    out = [texts["counts"].format(**counts)]
    if score.lock_r is not None and score.cadence_per_min is not None and score.steadiness is not None:
        chance = score.v_p if score.v_p is not None else score.rayleigh_p
        test = "V test" if score.v_p is not None else "Rayleigh"
        where = place(score.lead_s, lang)
        out.append(texts["lock"].format(lock=number(score.lock_r, 2, lang), where=where, chance=chance, test=test))
        cadence, tempo = number(score.cadence_per_min, 1, lang), number(score.tempo_per_min, 1, lang)
        out.append(
            texts["cadence"].format(cadence=cadence, tempo=tempo, steady=number(100 * score.steadiness, 1, lang))
        )
    if score.push_share is not None:
        wanted = "" if wanted_share is None else texts["tick"].format(share=f"{100 * wanted_share:.0f}")
        out.append(texts["share"].format(share=f"{100 * score.push_share:.0f}") + wanted)
    if score.offsets_s:
        out.append(strip(score.offsets_s, 60 / score.tempo_per_min, lang))
    out.append(verdict(score.passed, score.shortfalls, lang))
    return out


def plain(plan: Plan, sets: Sequence[tuple[int, float, SetScore | None]]) -> dict[str, Any]:
    """Everything as it goes into JSON; `sets` are (number, first click [s], score)."""
    found = []
    for number, first, score in sets:
        body = {} if score is None else asdict(score)
        if score is not None:
            body |= {"missed": score.missed, "passed": score.passed, "shortfalls": list(score.shortfalls)}
            body["offsets_s"] = list(score.offsets_s)
        found.append({"number": number, "first_click_s": first, "measured": score is not None} | body)
    return {
        "format": "cadence-coach-land/1",
        "tempos_per_min": list(plan.tempos),
        "set_s": plan.set_s,
        "rest_s": plan.rest_s,
        "push_share": plan.push_share,
        "sets": found,
    }
