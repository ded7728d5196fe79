"""The safety list in a terminal, ticked by hand."""

from __future__ import annotations

import sys

from cadence_coach.errors import CouldNot, Refused


def tick(start: str, lang: str, skip: str) -> None:
    """Each point of the list for that start. Raises CouldNot when one is not ticked, Refused where there is no hand to
    tick; `skip`: what that one is told of --yes."""
    from cadence_coach.safety import heading, points

    if not sys.stdin.isatty():
        raise Refused(f"the safety list is ticked by hand in a terminal; --yes {skip}")
    print(heading(lang))
    for _, text in points(start, lang):
        try:
            answer = input(f"[ ] {text}  Enter to tick, n to stop: ")
        except EOFError:
            answer = "n"
        if answer.strip():
            raise CouldNot("not everything is ticked: put it right first, then start again")
