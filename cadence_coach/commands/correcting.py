"""Notes and corrections that a person gives to an outing; kept as tags and notes in its file."""

from __future__ import annotations

from pathlib import Path

from cadence_coach.errors import Refused


def correct(path: Path, ended: list[str], helped: list[str], confirm: str | None) -> None:
    """Checks all first, then keeps all."""
    from cadence_coach.core.events import ENDED_BY
    from cadence_coach.review.figures import ENDED_TAG, HELPED_TAG
    from cadence_coach.review.ladder import CONFIRMED_TAG
    from cadence_coach.store.outing_file import load_outing
    from cadence_coach.store.rescue import set_tag

    flights = len(load_outing(path).flights)
    tags = {}
    for texts, tag, allowed in ((ended, ENDED_TAG, ENDED_BY), (helped, HELPED_TAG, ("swell", "wake", "no"))):
        for text in texts:
            number, _, value = text.partition("=")
            if not number.isdigit() or not 1 <= int(number) <= flights:
                raise Refused(f"{text!r}: no flight {number!r} in {path.name}, which has {flights}; give N=VALUE")
            if value not in allowed:
                raise Refused(f"{text!r}: {value!r} is none of {', '.join(allowed)}")
            tags[f"{tag}{int(number) - 1}"] = value
    if confirm:
        tags[CONFIRMED_TAG] = confirm.strip()[:80]
    for name, value in tags.items():
        set_tag(path, name, value)


def keep_note(path: Path, text: str, who: str, at: float | None, flight: int | None) -> None:
    from cadence_coach.review.notes import new_note
    from cadence_coach.store.outing_file import load_outing
    from cadence_coach.store.rescue import add_note

    if flight is not None:
        flights = load_outing(path).flights
        if not 1 <= flight <= len(flights):
            raise Refused(f"--flight {flight}: {path.name} has {len(flights)} flights")
        at = flights[flight - 1].start
    add_note(path, new_note(who, text, at))


def keep_focus(path: Path, focus: str) -> None:
    """The focus of the next outing: kept in the data folder, and with this outing as what was taken from it."""
    from cadence_coach.commands.looking import looked
    from cadence_coach.core.settings import FOCI
    from cadence_coach.review.advice import one_thing
    from cadence_coach.review.focus import set_focus
    from cadence_coach.store.outing_file import load_outing
    from cadence_coach.store.rescue import set_tag

    if focus == "take":
        taken = one_thing(looked(load_outing(path))).focus
        if taken is None:
            raise Refused(
                "this advice is nothing the coach can listen for on the water; choose a focus: " + ", ".join(FOCI)
            )
        focus = taken
    if focus not in FOCI:
        raise Refused(f"--focus {focus}: is none of take, {', '.join(FOCI)}")
    set_focus(focus)
    set_tag(path, "next_focus", focus)
