"""The command `band` asked in the process, and what it is asked about."""

from __future__ import annotations

import json
from typing import Any

import pytest

from cadence_coach import cli

OTHER = """[rider]
name = "Ada Wave (invented)"
mass_kg = 72
[foil]
name = "Swift"
wing_area_m2 = 0.105
span_m = 1.25
"""


FLIGHTS = """speed_m_s,cadence_hz,duration_s,fade_per_min,note
4.5,1.25,60,-0.05,a
4.6,1.22,95,-0.01,b
4.4,1.55,30,-0.2,c
4.5,1.5,25,-0.1,d
4.4,1.3,170,0,e
4.1,1.25,340,,f
3.8,1.2,700,-0.02,g
,1.4,20,,h
"""


def asked(capsys: pytest.CaptureFixture[str], *arguments: str, code: int = 0) -> str:
    capsys.readouterr()
    assert cli.run(["band", *arguments]) == code
    out, err = capsys.readouterr()
    if code:
        assert out == "" and err.count("\n") == 1
        return err
    return out


def found(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, Any]:
    return json.loads(asked(capsys, *arguments, "--json"))
