"""Settings: plain, checked, back from JSON."""

from __future__ import annotations

import json

import pytest

from cadence_coach.core.settings import FOCI, LEADS, LEVELS, STARTS, Settings


def test_round_trip_through_json() -> None:
    for chosen in (Settings(), Settings("step", "target", "basic", "size", True, 30.0, 40, 120.0, 1800.0, 11.5, 1.42)):
        assert Settings.from_plain(json.loads(json.dumps(chosen.plain()))) == chosen


@pytest.mark.parametrize(
    ("wrong", "names"),
    [
        ({"start": "bridge"}, "start"),
        ({"lead": "coach"}, "lead"),
        ({"level": "loud"}, "level"),
        ({"focus": "style"}, "focus"),
        ({"turn_back_m": 0.0}, "turn_back_m .* 20 to 20000 m"),
        ({"own_best_cadence": 84.0}, "own_best_cadence .* Hz"),
        ({"time_limit_s": float("nan")}, "time_limit_s"),
        ({"click_ahead_s": 5.0}, "click_ahead_s"),
        ({"colour": "red"}, "no such setting: colour"),
    ],
)
def test_a_bad_value_is_named(wrong: dict[str, object], names: str) -> None:
    with pytest.raises(ValueError, match=names):
        Settings.from_plain(wrong)


def test_every_choice_is_allowed() -> None:
    for start in STARTS:
        for lead in LEADS:
            for level in LEVELS:
                for focus in (None, *FOCI):
                    Settings(start, lead, level, focus)


def test_cold_is_below_fifteen_degrees() -> None:
    assert Settings(water_temperature_c=14.9).cold
    assert not Settings(water_temperature_c=15.0).cold
    assert not Settings().cold
