"""This phone: language, theme, text, loudness, the headset's delay, the test, permissions, the battery saver. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import attrs

from cadence_coach.app.health import noteless, placeless
from cadence_coach.app.state import State
from cadence_coach.app.theme import SCALES
from cadence_coach.app.views import blocks as b
from cadence_coach.app.views.back import PageView
from cadence_coach.app.words import LANGUAGES, Words
from cadence_coach.sound.loudness import HEARING_LINES
from cadence_coach.sound.mixer import DEFAULT_VOLUME_DB

LOUDNESS_DB = (-24.0, -18.0, -12.0, -6.0, 0.0)
LANG, THEME, SCALE, LOUDNESS = "lang", "theme", "scale", "loudness"
HEAR, SPEAKER, HEADSET, CHECK, SAVER = "hear", "speaker", "headset", "check_go", "saver"
ALLOW = "allow"


@attrs.frozen
class Doing:
    """What this page is about at the moment, and what came of the last thing. busy: "", taps, check."""

    busy: str = ""
    taps: int = 0
    share: float = 0.0
    heard: str = ""
    tapped: str = ""
    failed: str = ""
    saver: str = ""


def phone(
    state: State, spared: bool, riding: bool, doing: Doing, words: Words, missing: Sequence[str] = ()
) -> PageView:
    """spared: the battery saver leaves the coach alone; riding: an engine runs, and has the sensors; missing:
    permissions that were not given."""
    chosen = loudness(state.kept)
    return PageView(
        words("home.phone"),
        (
            b.group(b.Text(words("phone.language"), "lead"), b.Pick(LANG, tuple(LANGUAGES.items()), state.lang)),
            b.group(
                b.Text(words("phone.theme"), "lead"),
                b.Pick(THEME, (("sun", words("phone.sun")), ("dark", words("phone.dark"))), state.theme),
                b.Text(words("phone.scale"), "lead"),
                b.Pick(SCALE, tuple((f"{s:g}", _percent(s, words)) for s in SCALES), f"{state.scale:g}"),
            ),
            _loudness(chosen, riding, doing, words),
            _taps(state.kept, riding, doing, words),
            _check(state.kept, riding, doing, words),
            *([_allow(missing, words)] if missing else []),
            b.group(
                b.Text(words("phone.saver"), "lead"),
                b.Text(words("phone.saver_off" if spared else "phone.saver_on")),
                None if spared else b.Push(SAVER, words("phone.saver_open")),
                b.Text(doing.saver) if doing.saver else None,
            ),
        ),
    )


def _allow(missing: Sequence[str], words: Words) -> b.Group:
    return b.group(
        b.Text(words("phone.allow"), "lead"),
        b.Text(words("before.speed_missing")) if placeless(missing) else None,
        b.Text(words("before.notes_missing")) if noteless(missing) else None,
        b.Push(ALLOW, words("phone.allow_ask")),
        b.Text(words("phone.allow_else"), "small", True),
    )


def _percent(scale: float, words: Words) -> str:
    return words("phone.percent", n=f"{100 * scale:.0f}")


def loudness(kept: Mapping[str, Any]) -> float:
    """What was chosen [dB]; the default where nothing sensible was."""
    value = kept.get("volume_db", DEFAULT_VOLUME_DB)
    return value if value in LOUDNESS_DB else DEFAULT_VOLUME_DB


def _loudness(chosen: float, riding: bool, doing: Doing, words: Words) -> b.Group:
    options = tuple((f"{abs(db):.0f}", words(f"phone.loudness_{abs(db):.0f}")) for db in LOUDNESS_DB)
    return b.group(
        b.Text(words("phone.loudness"), "lead"),
        b.Pick(LOUDNESS, options, f"{abs(chosen):.0f}"),
        b.Text(HEARING_LINES[words.lang], "small", True),
        None if riding or doing.busy else b.Push(HEAR, words("phone.hear")),
        b.Text(doing.heard, "small", True) if doing.heard else None,
    )


def _taps(kept: Mapping[str, Any], riding: bool, doing: Doing, words: Words) -> b.Group:
    lines: list[b.Block] = [b.Text(words("phone.taps"), "lead"), b.Text(words("phone.taps_why"), "small", True)]
    if doing.busy == "taps":
        lines.append(b.Text(words("phone.taps_go", n=doing.taps), "lead"))
    elif riding:
        lines.append(b.Text(words("phone.riding"), muted=True))
    elif not doing.busy:
        lines.append(b.Push(SPEAKER, words("phone.taps_speaker")))
        if isinstance(kept.get("speaker"), dict):
            lines.append(b.Push(HEADSET, words("phone.taps_headset")))
    if doing.tapped:
        lines.append(b.Text(doing.tapped))
    return b.group(*lines)


def _check(kept: Mapping[str, Any], riding: bool, doing: Doing, words: Words) -> b.Group:
    lines: list[b.Block] = [b.Text(words("phone.check"), "lead"), b.Text(words("phone.check_why"), "small", True)]
    if doing.busy == "check":
        lines.append(b.Text(words("phone.check_going", percent=f"{100 * doing.share:.0f}"), "lead"))
        return b.group(*lines)
    if doing.failed:
        lines.append(b.Text(words("phone.check_failed", why=doing.failed)))
    last = kept.get("checked")
    if isinstance(last, dict):
        good = bool(last.get("passed"))
        lines.append(b.Text(words("phone.check_good" if good else "phone.check_bad", day=str(last.get("day", "")))))
        found = [one for one in last.get("lines", []) if isinstance(one, list | tuple) and len(one) == 2]
        for line, passed in found:
            text = line.get(words.lang, "") if isinstance(line, dict) else line
            lines.append(b.Text(f"{'' if passed else '• '}{text}", "small", bool(passed)))
    if riding:
        lines.append(b.Text(words("phone.riding"), muted=True))
    elif not doing.busy:
        lines.append(b.Push(CHECK, words("phone.check_go")))
    return b.group(*lines)
