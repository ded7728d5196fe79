"""On the water: what the screen says at one moment, from the line to the engine. Pure."""

from __future__ import annotations

from typing import Any

import attrs

from cadence_coach.app.link import Line
from cadence_coach.app.words import Words
from cadence_coach.live.reasons import reason
from cadence_coach.live.snapshot import Snapshot
from cadence_coach.review.say import minutes, span
from cadence_coach.sound.speech import texts

CUE_SHOWN_S = 5.0
FAR = 1.0
"""The mark stays in sight: at most this many half-widths of the band outside of it."""
BATTERY_LOW = 15.0


@attrs.frozen
class WaterView:
    """mood: coming, armed, shore, trying, flight, rest, paused, deaf (no samples), ended, gone, failed.

    place: where the rider is against the band, -1 its lower edge, 1 its upper one; None without cadence or band.
    """

    mood: str
    word: str
    sentence: str = ""
    timer: str = ""
    pumps: str = ""
    pumps_caption: str = ""
    cadence: str = ""
    place: float | None = None
    standing: str = ""
    """Where `place` is, in words."""
    band: str = ""
    cue: str = ""
    figures: tuple[tuple[str, str], ...] = ()
    notes: str = ""
    file: str = ""
    can_look: bool = False
    can_rescue: bool = False


def make(line: Line, words: Words) -> WaterView:
    shown = line.snapshot
    if line.kind in ("none", "coming", "failed", "gone") or shown is None:
        return _without(line, words)
    if line.kind == "ended" or shown.phase == "ended":
        word = words("water.ended_unsure" if shown.store else "water.ended")
        notes = " ".join(why_ended(shown, words))
        view = WaterView("ended", word, notes=notes, file=shown.file or "", can_look=shown.file is not None)
        return _told(view, shown, words)
    notes = " · ".join(_notes(shown, words))
    if shown.phase == "armed":
        return WaterView("armed", words("water.armed"), words("water.armed_more"), notes=notes)
    if shown.phase == "paused":
        return WaterView("paused", words("water.paused"), words("water.paused_more"), notes=notes)
    if shown.sensor not in ("ok", "waiting", "rate_halved", "clock_jump"):
        return WaterView("deaf", words("water.deaf"), words("water.deaf_more"), notes=notes)
    if shown.flight_s is not None:
        return _flight(shown, words, notes)
    cue = _cue(shown, words)
    if shown.motion == "attempt":
        return WaterView("trying", words("water.trying"), cue=cue, notes=notes)
    if shown.last_flight_s is not None:
        view = WaterView("rest", words("water.rest"), cue=cue, notes=notes)
        return _told(view, shown, words)
    return WaterView("shore", words("water.shore"), words("water.shore_more"), cue=cue, notes=notes)


def _without(line: Line, words: Words) -> WaterView:
    file = (line.snapshot and line.snapshot.file) or ""
    if line.kind == "gone":
        return WaterView("gone", words("water.gone"), words("water.gone_more"), file=file, can_rescue=True)
    if line.kind == "failed":
        return WaterView("failed", words("water.failed"), reason(line.why, words.lang) or words("water.failed_more"))
    return WaterView("coming", words("water.coming"), words("water.coming_more"))


def _flight(shown: Snapshot, words: Words, notes: str) -> WaterView:
    band = shown.band or {}
    lo, hi, hz = band.get("lo"), band.get("hi"), shown.cadence_hz
    place = None
    if lo and hi:
        text = words("water.band", lo=f"{60 * lo:.0f}", hi=f"{60 * hi:.0f}")
        if hz:
            place = max(-1 - FAR, min(1 + FAR, (hz - (lo + hi) / 2) / ((hi - lo) / 2)))
    else:
        text = words("water.no_band")
    standing = ""
    if place is not None:
        standing = words("water.in_band" if -1 <= place <= 1 else "water.under" if place < 0 else "water.over")
    return WaterView(
        "flight",
        words("water.flight", number=shown.flights + 1),
        timer=minutes(int(shown.flight_s or 0.0)),
        pumps=str(shown.flight_pumps),
        pumps_caption=words("water.pumps"),
        cadence=words.number(60 * hz) if hz else "–",
        place=place,
        standing=standing,
        band=text,
        cue=_cue(shown, words),
        notes=notes,
    )


def _told(view: WaterView, shown: Snapshot, words: Words) -> WaterView:
    """With the five figures of the last flight and the sentence, once they are known."""
    told = shown.summary or {}
    sentence = texts(words.lang).get(told.get("sentence") or "", "")
    pairs = five(dict(told.get("figures") or []), words, shown.start)
    if not pairs and shown.last_flight_s is not None:
        pairs = (
            (_aloft(shown.start, words), _seconds(shown.last_flight_s)),
            (words("water.pumps"), str(shown.flight_pumps)),
        )
    return attrs.evolve(view, figures=pairs, sentence=sentence)


def _aloft(start: str | None, words: Words) -> str:
    """Nothing of a rope drill is one's own."""
    return words("water.seconds_drill" if start == "rope_drill" else "water.seconds")


def five(figures: dict[str, Any], words: Words, start: str | None) -> tuple[tuple[str, str], ...]:
    """The five figures of core.word, each as (what, how much); start: what the outing was armed for."""
    if not figures:
        return ()
    n = words.number
    seconds = _seconds(figures.get("seconds"))
    best = words("water.best_today") if figures.get("best_today") else ""
    held = figures.get("starts_held")
    out = [
        (_aloft(start, words), f"{seconds} {best}".strip()),
        (words("water.pumps"), n(figures.get("pumps"))),
    ]
    if held is not None:
        out.append((words("water.starts_held"), words("water.of", a=n(held), b=n(figures.get("starts_of")))))
    if "cadence_early_per_min" in figures:
        course = f"{n(figures['cadence_early_per_min'])} › {n(figures.get('cadence_late_per_min'))}"
        out.append((words("water.cadence"), course))
    else:
        out.append((words("water.cadence"), n(figures.get("cadence_per_min"))))
    size, needed = n(figures.get("size_percent")), n(figures.get("size_needed_percent"))
    out.append((words("water.size"), f"{size} % ({needed} %)"))
    if "speed_early_m_s" in figures:
        speeds = f"{n(figures['speed_early_m_s'], 1)} › {n(figures.get('speed_late_m_s'), 1)}"
        out.append((words("water.speed"), speeds))
    elif "steadiness_percent" in figures:
        out.append((words("water.steady"), f"± {n(figures['steadiness_percent'])} %"))
    else:
        out.append((words("water.landing"), f"{n(figures.get('landing_to_push_s'), 1)} s"))
    return tuple(out)


def _seconds(seconds: float | None) -> str:
    return "–" if seconds is None else span(seconds)


def _cue(shown: Snapshot, words: Words) -> str:
    cue = shown.last_cue
    if not cue or not 0 <= shown.time_s - cue["t_s"] < CUE_SHOWN_S:
        return ""
    return texts(words.lang).get(f"say_{cue['kind']}", "").rstrip(".")


def why_ended(shown: Snapshot, words: Words) -> list[str]:
    """Why it ended where nobody asked for it, and what may be lost."""
    out = []
    if shown.ended_by == "battery":
        out.append(words("water.ended_battery", percent=words.number(shown.battery_percent)))
    elif shown.ended_by == "error":
        out.append(words("water.ended_error"))
    if shown.store:
        out.append(words("water.ended_store"))
    return out


def _notes(shown: Snapshot, words: Words) -> list[str]:
    """What is not as it should be, in a few words each: the worst two, what is lost for good first."""
    out = []
    if shown.store:
        out.append(words("water.note_store"))
    if shown.battery_percent is not None and shown.battery_percent <= BATTERY_LOW:
        out.append(words("water.note_battery", percent=f"{shown.battery_percent:.0f}"))
    if shown.sensor == "waiting":
        out.append(words("water.note_waiting"))
    if shown.sensor in ("rate_halved", "clock_jump"):
        out.append(words("water.note_sensor"))
    if shown.muted:
        out.append(words("water.note_muted"))
    elif shown.sink == "silent":
        out.append(words("water.note_silent"))
    if shown.speed_m_s is None and shown.phase == "going":
        out.append(words("water.note_speed"))
    return out[:2]
