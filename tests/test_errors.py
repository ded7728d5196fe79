"""An error is one line that any terminal can show, whatever it quotes."""

from __future__ import annotations

import pickle

import pytest

from cadence_coach.errors import CouldNot, Refused


@pytest.mark.parametrize("kind", [Refused, CouldNot])
def test_what_is_quoted_makes_no_second_line_and_commands_no_terminal(kind: type[Exception]) -> None:
    """C0 and C1 controls (ECMA-48), line separators, direction overrides and half surrogates (Unicode)."""
    for bad in ("\n", "\r\n", "\x1b[2J", "\x9b31m", "\0", "\u2028", "\u202e", "\ud800"):
        text = str(kind(f"a{bad}b: choose another"))
        assert text.startswith("a") and text.endswith("b: choose another")
        assert text.isprintable() and len(text.splitlines()) == 1
        text.encode("utf-8")
    good = "Übungs-Flug 水上/a  b.csv: 8 °C, ±30 %"
    assert str(kind(good)) == good


def test_between_processes_it_stays_the_same() -> None:
    error = pickle.loads(pickle.dumps(CouldNot("the disk\nis full")))
    assert isinstance(error, CouldNot) and str(error) == "the disk is full" and error.exit_code == 1
