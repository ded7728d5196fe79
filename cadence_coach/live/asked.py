"""What may be asked of a running coach: the commands by name and the values each takes, checked before the engine
hears; and waiting for its answer."""

from __future__ import annotations

import time
from collections.abc import Callable
from concurrent.futures import Future
from typing import Any

from cadence_coach.core.settings import FOCI, LEADS, LEVELS, STARTS
from cadence_coach.errors import CouldNot, Refused

COMMANDS: dict[str, dict[str, tuple[Any, ...] | type]] = {
    "arm": {"start": STARTS},
    "start": {},
    "go_on": {"ridden_s": float, "home": list, "best": list, "last": list},
    "pause": {},
    "stop": {},
    "set_focus": {"focus": (None, *FOCI)},
    "set_lead": {"lead": LEADS},
    "set_level": {"level": LEVELS},
    "set_goal": {"seconds": float, "pumps": int},
    "mute": {"on": (True, False)},
    "mark": {},
    "route_changed": {},
    "repeat": {},
}
"""Command: value: what it may be (a choice), or its type; a list is one of numbers."""

OPTIONAL = ("seconds", "pumps", "home", "best", "last")
LARGEST = 1e12
"""JSON has whole numbers that no float can hold."""


def checked(name: Any, given: Any) -> dict[str, Any]:
    """The values of a command, as plain ones. Raises Refused for a command or a value that does not exist."""
    if not isinstance(name, str) or name not in COMMANDS:
        raise Refused(f"no such command: {name!r}; there are {', '.join(COMMANDS)}")
    if not isinstance(given, dict):
        raise Refused(f"{name}: its values must have names")
    wanted = COMMANDS[name]
    if extra := [k for k in given if k not in wanted]:
        raise Refused(f"{name}: no such value {extra[0]!r}; it takes {', '.join(wanted) or 'none'}")
    for key, allowed in wanted.items():
        value = given.get(key)
        if key not in given and key not in OPTIONAL:
            raise Refused(f"{name}: {key} is missing")
        if isinstance(allowed, tuple):
            if not any(value is a or (type(value) is type(a) and value == a) for a in allowed):
                raise Refused(f"{name}: {key} is {value!r}; choose one of {', '.join(map(str, allowed))}")
            continue
        if value is not None and isinstance(value, list) != (allowed is list):
            raise Refused(f"{name}: {key} must be {'a list of numbers' if allowed is list else 'a number'}")
        for one in value if isinstance(value, list) else [] if value is None else [value]:
            if isinstance(one, bool) or not isinstance(one, int | float):
                raise Refused(f"{name}: {key} must be a number")
            if not -LARGEST <= one <= LARGEST:
                raise Refused(f"{name}: {key} is beyond any number that could be meant")
    return dict(given)


def answered(name: str, done: Future[None], over: Callable[[], bool], timeout: float) -> None:
    """Returns once the engine has taken the command, raises what it said to it; CouldNot when it is over, or does not
    answer."""
    until = time.monotonic() + timeout
    while True:
        try:
            return done.result(0.1)
        except TimeoutError:
            if over() and not done.done():
                raise CouldNot(f"{name}: the outing is over; begin a new one") from None
            if time.monotonic() > until:
                raise CouldNot(
                    f"{name}: no answer from the coach in {timeout:g} s; the outing goes on, try again"
                ) from None
