"""The rider's own cadence across outings: from the best flights, never the average."""

from __future__ import annotations

import json
import math

import pytest

from cadence_coach.core.targets import Band, BandTable
from cadence_coach.foil.own import (
    ENOUGH,
    FlightFigure,
    Own,
    cruising,
    from_plain,
    own_cadences,
    own_cruise_speed,
    own_ratio,
    to_plain,
    worth,
)

HABIT = [FlightFigure(4.5, 1.8, 15.0 + i, -0.10) for i in range(12)]
BEST = [FlightFigure(4.5, 1.40, 60.0, -0.01), FlightFigure(4.6, 1.42, 70.0, -0.01)]
GOOD = [FlightFigure(4.4, 1.38, 55.0, 0.0), FlightFigure(4.5, 1.44, 50.0, 0.0)]


def test_a_bad_habit_does_not_become_the_target() -> None:
    """Twelve quick short flights and four long ones: the long ones speak."""
    (own,) = own_cadences([*HABIT, *BEST, *GOOD])
    assert own.cadence == pytest.approx(1.41, abs=0.02)
    assert own.flights == 16 and own.best == 4
    assert own.duration > 50 and own.speed == pytest.approx(4.5)


def test_fading_takes_worth_away_and_speeding_up_does_not_add() -> None:
    """By hand: a fade of 5 % a minute is worth a factor e."""
    assert worth(FlightFigure(4.5, 1.4, 60, 0.0)) == 60
    assert worth(FlightFigure(4.5, 1.4, 60, -0.05)) == pytest.approx(60 / math.e)
    assert worth(FlightFigure(4.5, 1.4, 60, -0.02)) == pytest.approx(60 * math.exp(-0.4))
    assert worth(FlightFigure(4.5, 1.4, 60, 0.2)) == 60
    assert worth(FlightFigure(4.5, 1.4, 60, None)) == 60
    steady, fading = FlightFigure(4.5, 1.4, 50, 0.0), FlightFigure(4.5, 1.9, 60, -0.10)
    own = own_cadences([steady, steady, fading, fading, *HABIT[:2]])
    assert own[0].cadence == 1.4


def test_speeds_apart_and_unknown_speed_last() -> None:
    flights = [
        FlightFigure(v, f, 40.0 + i, 0.0) for v, f in ((4.0, 1.3), (5.5, 1.5), (None, 1.4)) for i in range(ENOUGH)
    ]
    owns = own_cadences(flights)
    assert [(o.speed, o.cadence) for o in owns] == [(4.0, 1.3), (5.5, 1.5), (None, 1.4)]


def test_the_middle_of_an_even_number_and_of_an_odd() -> None:
    """The best quarter, two at least: of five flights the median of the best two is their mean; of nine, the best
    three's middle one."""
    five = [FlightFigure(4.0 + 0.1 * i, 1.3 + 0.1 * i, 20.0 + i) for i in range(5)]
    (own,) = own_cadences([f._replace(speed=4.5) for f in five])
    assert (own.cadence, own.duration, own.best) == (pytest.approx(1.65), 23.5, 2)
    nine = [FlightFigure(4.5, 1.3 + 0.05 * i, 20.0 + i) for i in range(9)]
    (own,) = own_cadences(nine)
    assert (own.cadence, own.best, own.flights) == (pytest.approx(1.65), 3, 9)


def test_a_bin_with_too_few_hides_no_other() -> None:
    few, enough = [FlightFigure(3.0, 1.2, 30.0)] * (ENOUGH - 1), [FlightFigure(5.0, 1.5, 30.0)] * ENOUGH
    assert [o.cadence for o in own_cadences([*few, *enough])] == [1.5]
    unusable = [FlightFigure(5.0, 1.5, 7.9), FlightFigure(5.0, -1.0, 30.0)]
    assert [o.flights for o in own_cadences([*unusable, *enough])] == [ENOUGH]


def test_too_little_says_nothing() -> None:
    assert own_cadences(HABIT[: ENOUGH - 1]) == ()
    assert own_cadences([FlightFigure(4.5, 1.4, 5.0)] * 20) == ()  # too short each
    assert own_cadences([FlightFigure(4.5, math.nan, 50.0), FlightFigure(4.5, 0, 50.0)] * 9) == ()
    assert own_cadences([]) == ()


def test_ratio_to_the_model() -> None:
    bands = tuple(Band(v, 1.2, t, 1.8, 1.1, 2.9, 0.3, 0.5, 0.6, 0.6, 0.2) for v, t in ((4.0, 1.4), (5.0, 1.6)))
    table = BandTable(bands, 4.5)
    assert own_ratio(table, [Own(4.5, 1.35, 60, 0, 2, 9)]) == pytest.approx(0.9)
    assert own_ratio(table, [Own(None, 1.5, 60, 0, 2, 9)]) == pytest.approx(1.0)  # at cruise speed
    assert own_ratio(table, []) is None
    none = BandTable((Band(4.0, *(None,) * 10, reason="stall"),), 4.0)
    assert own_ratio(none, [Own(4.5, 1.35, 60, 0, 2, 9)]) is None


def test_through_json_and_back() -> None:
    owns = own_cadences([*HABIT, *BEST, *GOOD])
    assert from_plain(json.loads(json.dumps(to_plain(owns)))) == owns
    with pytest.raises((KeyError, ValueError)):
        from_plain([{"speed_m_s": 4.5}])
    with pytest.raises(ValueError, match="not an own cadence"):
        from_plain([{**to_plain(owns)[0], "cadence_hz": -1}])


def test_cruise_speed_is_the_median_of_earlier_flights() -> None:
    flights = [FlightFigure(v, 1.4, 20.0) for v in (4.0, 4.2, 4.4, 5.0, 6.0)]
    assert own_cruise_speed(flights) == 4.4
    assert own_cruise_speed(flights[1:]) is None  # too few
    assert own_cruise_speed([*flights, FlightFigure(None, 1.4, 20.0), FlightFigure(9.0, 1.4, 3.0)]) == 4.4


def test_the_models_cruise_speed_stays_where_the_riders_own_cannot_be() -> None:
    """At 1 m/s the wing stalls."""
    none = Band(1.0, *(None,) * 10, reason="stall")
    table = BandTable((none, Band(4.0, 1.2, 1.4, 1.6, 1.0, 2.0, 0.4, 0.5, 0.6, 0.6, 0.2)), 4.5)
    assert cruising(table, 5.0) == BandTable(table.bands, 5.0)
    assert cruising(table, None) is cruising(table, 1.0) is table
