"""Notes and corrections that a person gives to an outing; kept as tags and notes in its file."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import attrs

from cadence_coach.core.events import ENDED_BY, STARTED_BY
from cadence_coach.core.settings import FOCI
from cadence_coach.errors import Refused
from cadence_coach.review.advice import one_thing
from cadence_coach.review.advising import Advice
from cadence_coach.review.figures import ENDED_TAG, HELPED_TAG, STARTED_TAG
from cadence_coach.review.focus import rider_of, set_focus
from cadence_coach.review.looking import looked
from cadence_coach.review.notes import new_note
from cadence_coach.store.outing import Outing
from cadence_coach.store.outing_file import load_outing
from cadence_coach.store.own_time import in_own_time
from cadence_coach.store.rescue import keep_said, set_tag

HELPED_BY = ("swell", "wake", "no")
"""What a person may say carried a flight; "no" overrules the figures."""

OPTIONS = {STARTED_TAG: "--started", ENDED_TAG: "--ended", HELPED_TAG: "--helped"}
ALLOWED = {STARTED_TAG: STARTED_BY, ENDED_TAG: ENDED_BY, HELPED_TAG: HELPED_BY}


def corrected(outing: Outing, name: str, asked: Mapping[str, list[str]], confirm: str | None = None) -> Outing:
    """The outing with corrections in texts N=VALUE (flights from 1, as people count) by the tag they are for, and who
    confirmed the rope drill. Nothing is kept yet. name: what a refusal calls the outing."""
    from cadence_coach.review.ladder import CONFIRMED_TAG

    flights = len(outing.flights)
    tags = dict(outing.tags)
    for tag, texts in asked.items():
        for text in texts:
            number, _, value = text.partition("=")
            if number not in map(str, range(1, flights + 1)):
                raise Refused(
                    f"{OPTIONS[tag]} {text}: no flight {number!r} in {name}, which has {flights}; give N=VALUE"
                )
            if value not in ALLOWED[tag]:
                raise Refused(f"{OPTIONS[tag]} {text}: {value!r} is none of {', '.join(ALLOWED[tag])}")
            tags[f"{tag}{int(number) - 1}"] = value
    if confirm:
        tags[CONFIRMED_TAG] = confirm.strip()[:80]
    return attrs.evolve(outing, tags=tags)


def noted(outing: Outing, name: str, text: str, who: str, at: float | None = None, flight: int | None = None) -> Outing:
    """The outing with one note more, not kept yet. flight: from 1; the note is then at its start."""
    if flight is not None:
        flights = outing.flights
        if not 1 <= flight <= len(flights):
            raise Refused(f"--flight {flight}: {name} has {len(flights)} flights")
        at = flights[flight - 1].start
    elif at is not None:
        accel = in_own_time(outing).accel
        end = float(accel[-1, 0]) if len(accel) else 0.0
        if not 0.0 <= at <= end:
            raise Refused(f"--at {at:g}: {name} goes from 0 to {end:.0f} s")
    return attrs.evolve(outing, notes=[*outing.notes, new_note(who, text, at)])


def keep(path: Path, before: Outing, said: Outing) -> None:
    """What was said of an outing since it was read from its file: all of it, or nothing."""
    notes = [note for note in said.notes if note not in before.notes]
    keep_said(path, notes, {name: value for name, value in said.tags.items() if before.tags.get(name) != value})


def say_of(path: Path, tag: str, flight: int, by: str) -> None:
    """What a person says of a flight (from 0): a tag of `figures.BY_FLIGHT` and its value."""
    outing = load_outing(path)
    keep(path, outing, corrected(outing, path.name, {tag: [f"{flight + 1}={by}"]}))


def keep_note(path: Path, text: str, who: str, flight: int | None = None) -> None:
    """flight: from 1; the note is then at its start."""
    outing = load_outing(path)
    keep(path, outing, noted(outing, path.name, text, who, flight=flight))


def focus_named(focus: str, advice: Advice) -> str:
    """The focus; "take" takes the advice's own. Raises Refused."""
    if focus == "take":
        if advice.focus is None:
            raise Refused(
                "this advice is nothing the coach can listen for on the water; choose a focus: " + ", ".join(FOCI)
            )
        return advice.focus
    if focus not in FOCI:
        raise Refused(f"--focus {focus}: is none of take, {', '.join(FOCI)}")
    return focus


def keep_focus(path: Path, focus: str, own: Mapping[str, Any] | None = None) -> None:
    """The focus of this rider's next outing: kept in the data folder, and with this outing as what was taken from it.
    own: the table of the machine's own profile, whose rider an outing is where its file names none."""
    set_focus(focus, rider_of(load_outing(path).profile or own))
    set_tag(path, "next_focus", focus)


def take_focus(path: Path, own: Mapping[str, Any] | None = None) -> None:
    """The focus that the outing's own advice asks for. own: as `keep_focus` has it."""
    keep_focus(path, focus_named("take", one_thing(looked(load_outing(path)))), own)
