"""Notes and corrections that a person gives to an outing; kept as tags and notes in its file."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from cadence_coach.core.events import ENDED_BY, STARTED_BY
from cadence_coach.core.settings import FOCI
from cadence_coach.errors import Refused
from cadence_coach.review.advice import one_thing
from cadence_coach.review.advising import Advice
from cadence_coach.review.figures import ENDED_TAG, HELPED_TAG, STARTED_TAG
from cadence_coach.review.focus import rider_of, set_focus
from cadence_coach.review.looking import looked
from cadence_coach.review.notes import new_note
from cadence_coach.store.outing_file import load_outing
from cadence_coach.store.rescue import add_note, set_tag

HELPED_BY = ("swell", "wake", "no")
"""What a person may say carried a flight; "no" overrules the figures."""

OPTIONS = {STARTED_TAG: "--started", ENDED_TAG: "--ended", HELPED_TAG: "--helped"}
ALLOWED = {STARTED_TAG: STARTED_BY, ENDED_TAG: ENDED_BY, HELPED_TAG: HELPED_BY}


def corrections(path: Path, asked: dict[str, list[str]]) -> dict[str, str]:
    """Tags from texts N=VALUE (flights from 1, as people count) by the tag they are for; checked against the file."""
    flights = len(load_outing(path).flights)
    tags = {}
    for tag, texts in asked.items():
        for text in texts:
            number, _, value = text.partition("=")
            if number not in map(str, range(1, flights + 1)):
                raise Refused(
                    f"{OPTIONS[tag]} {text}: no flight {number!r} in {path.name}, which has {flights}; give N=VALUE"
                )
            if value not in ALLOWED[tag]:
                raise Refused(f"{OPTIONS[tag]} {text}: {value!r} is none of {', '.join(ALLOWED[tag])}")
            tags[f"{tag}{int(number) - 1}"] = value
    return tags


def say_of(path: Path, tag: str, flight: int, by: str) -> None:
    """What a person says of a flight (from 0): a tag of `figures.BY_FLIGHT` and its value."""
    _keep(path, corrections(path, {tag: [f"{flight + 1}={by}"]}))


def _keep(path: Path, tags: dict[str, str]) -> None:
    for name, value in tags.items():
        set_tag(path, name, value)


def correct(path: Path, asked: dict[str, list[str]], confirm: str | None) -> None:
    """Checks all first, then keeps all. asked: as `corrections` has it."""
    from cadence_coach.review.ladder import CONFIRMED_TAG

    tags = corrections(path, asked)
    if confirm:
        tags[CONFIRMED_TAG] = confirm.strip()[:80]
    _keep(path, tags)


def keep_note(path: Path, text: str, who: str, at: float | None = None, flight: int | None = None) -> None:
    """flight: from 1; the note is then at its start."""
    if flight is not None:
        flights = load_outing(path).flights
        if not 1 <= flight <= len(flights):
            raise Refused(f"--flight {flight}: {path.name} has {len(flights)} flights")
        at = flights[flight - 1].start
    if at is not None and not 0.0 <= at <= (end := _end(path)):
        raise Refused(f"--at {at:g}: {path.name} goes from 0 to {end:.0f} s")
    add_note(path, new_note(who, text, at))


def _end(path: Path) -> float:
    """Its last sample [s]."""
    accel = load_outing(path).accel
    return float(accel[-1, 0]) if len(accel) else 0.0


def keep_focus(path: Path, focus: str, own: Mapping[str, Any] | None = None, advice: Advice | None = None) -> None:
    """The focus of this rider's next outing: kept in the data folder, and with this outing as what was taken from it.
    "take" takes the advice's own. own: the table of the machine's own profile, whose rider an outing is where its file
    names none. advice: the one that is shown, where that is another than the file alone gives."""
    outing = load_outing(path)
    if focus == "take":
        taken = (advice or one_thing(looked(outing))).focus
        if taken is None:
            raise Refused(
                "this advice is nothing the coach can listen for on the water; choose a focus: " + ", ".join(FOCI)
            )
        focus = taken
    if focus not in FOCI:
        raise Refused(f"--focus {focus}: is none of take, {', '.join(FOCI)}")
    set_focus(focus, rider_of(outing.profile or own))
    set_tag(path, "next_focus", focus)
