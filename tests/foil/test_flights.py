"""A rider's own flights: read as they stand, refused in one line, and which of them carry a model."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from cadence_coach.errors import Refused
from cadence_coach.foil.endurance import Endurance
from cadence_coach.foil.flights import best_efforts, own_effort, read_flights
from cadence_coach.foil.own import FlightFigure
from cadence_coach.foil.pumping import Cycle
from tests.foil.riders import B


def written(path: Path, *lines: str) -> Path:
    path.write_text("\n".join(lines) + "\n", "utf-8")
    return path


def test_columns_in_any_order_and_unknown_is_left_empty(tmp_path: Path) -> None:
    path = written(
        tmp_path / "f.csv",
        "duration_s,wind,cadence_hz,fade_per_min,speed_m_s",
        "0.5,x,0.4,-2,1",
        "7200,,4,2,12",
        "31.5,, 1.4 ,, nan ",
    )
    assert read_flights(path) == [
        FlightFigure(1.0, 0.4, 0.5, -2.0),
        FlightFigure(12.0, 4.0, 7200.0, 2.0),
        FlightFigure(None, 1.4, 31.5, None),
    ]
    assert read_flights(written(tmp_path / "g.csv", "cadence_hz,duration_s", "1.4,20")) == [
        FlightFigure(None, 1.4, 20.0, None)
    ]


@pytest.mark.parametrize(
    "column, value, told",
    [
        ("speed_m_s", "0.99", "outside 1 to 12"),
        ("speed_m_s", "12.1", "outside 1 to 12"),
        ("cadence_hz", "0.39", "outside 0.4 to 4"),
        ("cadence_hz", "84", "outside 0.4 to 4"),
        ("cadence_hz", "", "must be a number"),
        ("cadence_hz", "nan", "outside"),
        ("duration_s", "0.4", "outside 0.5 to 7200"),
        ("duration_s", "7201", "outside 0.5 to 7200"),
        ("duration_s", "a while", "must be a number"),
        ("fade_per_min", "-2.1", "outside -2 to 2"),
        ("fade_per_min", "2.1", "outside -2 to 2"),
    ],
)
def test_a_value_that_cannot_be_is_refused_with_its_line(tmp_path: Path, column: str, value: str, told: str) -> None:
    good = {"speed_m_s": "4.5", "cadence_hz": "1.4", "duration_s": "30", "fade_per_min": "0"}
    rows = [",".join(good), ",".join(good.values()), ",".join((good | {column: value}).values())]
    with pytest.raises(Refused, match=told) as said:
        read_flights(written(tmp_path / "f.csv", *rows))
    assert "line 3" in str(said.value) and column in str(said.value) and "\n" not in str(said.value)


def test_what_cannot_be_read_says_why(tmp_path: Path) -> None:
    with pytest.raises(Refused, match="No such file"):
        read_flights(tmp_path / "none.csv")
    (tmp_path / "b.csv").write_bytes(b"cadence_hz,duration_s\n\xff\xfe,1\n")
    with pytest.raises(Refused, match="not a CSV in UTF-8"):
        read_flights(tmp_path / "b.csv")
    with pytest.raises(Refused, match="no column duration_s"):
        read_flights(written(tmp_path / "c.csv", "cadence_hz", "1.4"))
    with pytest.raises(Refused, match="no column cadence_hz"):
        read_flights(written(tmp_path / "d.csv"))


def power(speed: float, cadence: float) -> float:
    cycle = Cycle(B, speed, cadence)
    return float(cycle.pump(cycle.best()).power)


def test_best_efforts_are_beaten_by_none_in_both() -> None:
    """Powers rise with speed here; a flight counts unless another is as long and as hard or more. 20 s count, 19.9 do
    not; neither do flights without a speed or where nothing can be pumped."""
    hard, middle, easy = power(5.5, 1.5), power(5.0, 1.5), power(4.5, 1.4)
    assert hard > middle > easy
    flights = [
        FlightFigure(4.5, 1.4, 300.0),
        FlightFigure(5.0, 1.5, 60.0),
        FlightFigure(5.0, 1.5, 80.0),
        FlightFigure(5.5, 1.5, 20.0),
        FlightFigure(4.5, 1.4, 70.0),
        FlightFigure(5.8, 1.5, 19.9),
        FlightFigure(None, 1.5, 900.0),
        FlightFigure(1.0, 1.5, 900.0),
    ]
    durations, powers = best_efforts(B, flights)
    assert durations == [20.0, 80.0, 300.0]
    assert powers == pytest.approx([hard, middle, easy])
    assert best_efforts(B, []) == ([], [])


def flights_of(rider: Endurance, speeds: np.ndarray) -> list[FlightFigure]:
    """Flights that last exactly as long as this rider's power does."""
    return [FlightFigure(float(v), 1.5, rider.duration(power(float(v), 1.5))) for v in speeds]


def test_the_model_behind_the_flights_comes_back() -> None:
    """Durations made from a known two- or three-parameter model; three parameters from five flights on with one
    under 100 s, else two."""
    speeds = np.linspace(4.6, 5.6, 6)
    low, high = power(4.6, 1.5), power(5.6, 1.5)
    three = Endurance(0.85 * low, 12_000.0, 1.5 * high)
    flights = flights_of(three, speeds)
    assert flights[-1].duration < 100 <= flights[0].duration
    found = own_effort(B, flights).endurance
    assert found.p_max == pytest.approx(three.p_max, rel=1e-2) and found.cp == pytest.approx(three.cp, rel=1e-2)
    assert own_effort(B, flights[:2] + flights[4:]).endurance.p_max is None, "four are too few for three parameters"
    two = Endurance(0.85 * low, 40_000.0)
    flights = flights_of(two, speeds)
    assert min(f.duration for f in flights) > 100
    found = own_effort(B, flights).endurance
    assert found.p_max is None and (found.cp, found.w) == pytest.approx((two.cp, two.w))
