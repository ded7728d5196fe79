"""Settings: plain, checked, back from JSON."""

from __future__ import annotations

import json
from dataclasses import FrozenInstanceError

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


@pytest.mark.parametrize(
    ("name", "lo", "hi"),
    [
        ("goal_seconds", 1.0, 36_000.0),
        ("goal_pumps", 3, 100_000),
        ("turn_back_m", 20.0, 20_000.0),
        ("time_limit_s", 60.0, 36_000.0),
        ("water_temperature_c", -2.0, 40.0),
        ("own_best_cadence", 0.5, 3.5),
        ("click_ahead_s", 0.05, 1.0),
    ],
)
def test_both_ends_of_a_range_are_allowed_and_nothing_beyond(name: str, lo: float, hi: float) -> None:
    """As DEVELOPERS and the commands' help promise them; sea water freezes at -1.9 C (published: TEOS-10)."""
    for good in (lo, hi):
        assert getattr(Settings(**{name: good}), name) == good  # type: ignore[arg-type]
    for bad in (lo - 1e-6 * max(1.0, abs(lo)), hi + 1e-6 * hi):
        with pytest.raises(ValueError, match=f"{name} is .* {lo:g} to {hi:g}"):
            Settings(**{name: bad})  # type: ignore[arg-type]


def test_nobody_changes_them_behind_the_coachs_back() -> None:
    with pytest.raises(FrozenInstanceError):
        Settings().muted = True  # type: ignore[misc]


def test_one_value_is_changed_and_checked_again() -> None:
    assert Settings().with_(goal_pumps=40) == Settings(goal_pumps=40)
    with pytest.raises(ValueError, match="level"):
        Settings().with_(level="loud")


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
