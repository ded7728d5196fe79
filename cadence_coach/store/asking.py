"""Questions that only a person can answer, and what is done where nobody can be asked."""

from __future__ import annotations

from collections.abc import Callable

import attrs

from cadence_coach.errors import Refused


@attrs.frozen
class Question:
    """Something only a person knows. `option`: how the command line answers it."""

    key: str
    text: str
    choices: tuple[str, ...]
    option: str


Ask = Callable[[Question], str]


def refuse(question: Question) -> str:
    """For when nobody can be asked."""
    raise Refused(f"{question.text}; say it with {question.option}")


def answer(ask: Ask, question: Question) -> str:
    answer = ask(question)
    if answer not in question.choices:
        raise Refused(f"{question.key}: {answer!r} is no answer; choose one of {', '.join(question.choices)}")
    return answer
