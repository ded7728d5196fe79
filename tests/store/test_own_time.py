"""Samples looked up by the time of events: where the clock was set back, or a stamp was astray."""

from __future__ import annotations

import attrs
import numpy as np
import pytest

from cadence_coach.core.engine import Engine
from cadence_coach.core.events import ACCEL, FIX, Row
from cadence_coach.review.again import from_rows
from cadence_coach.review.correcting import noted
from cadence_coach.review.looking import looked, open_looked
from cadence_coach.store.outing import Outing
from cadence_coach.store.outing_file import load_outing, save_outing
from cadence_coach.store.own_time import in_own_time
from tests.core.streams import outing, rows


def back(r: Row, by: float) -> Row:
    """To the nanosecond, as files keep it."""
    t = round(r[1] - by, 9)
    return (FIX, t, round(r[2] - by, 9), *r[3:]) if r[0] == FIX else (r[0], t, *r[2:])


def stream() -> list[Row]:
    """Two flights, with rotation and speed."""
    return next(rows(o, gyro=True) for s in range(5, 30) if (o := outing("calm", s)).gyro is not None)


def gone_through(given: list[Row]) -> Outing:
    return from_rows([given], Engine())


@pytest.mark.parametrize("jumps", [{50.0: 3600.0}, {50.0: 5.0}, {30.0: 100.0, 80.0: 20.0}, {0.2: 7200.0}])
def test_a_clock_that_was_set_back_changes_no_figure(jumps: dict[float, float], tmp_path) -> None:
    """Set back by so much at so many seconds: own time is within some samples of that of the ride without."""
    given = plain = stream()
    for at, by in sorted(jumps.items(), reverse=True):
        given = [back(r, by) if p[1] > at else r for r, p in zip(given, plain, strict=True)]
    path = save_outing(gone_through(given), tmp_path / "one.outing")
    right, found = looked(gone_through(plain)), open_looked(path)
    own = found.outing
    assert (np.diff(own.accel[:, 0]) > 0.0).all() and (np.diff(own.gyro[:, 0]) > 0.0).all()
    assert len(own.accel) >= len(right.outing.accel) - len(jumps)
    assert found.figures.duration_s == pytest.approx(right.figures.duration_s, abs=0.05)
    assert [f.ended_by for f in found.figures.flights] == [f.ended_by for f in right.figures.flights]
    for a, b in zip(found.figures.flights, right.figures.flights, strict=True):
        assert (a.pumps, a.travel_m) == (b.pumps, pytest.approx(b.travel_m, rel=0.02))
        assert a.speed_m_s == pytest.approx(b.speed_m_s, rel=0.02)
    assert len(found.track.t) == pytest.approx(len(right.track.t), abs=len(jumps))
    assert max(np.abs(right.track.t - t).min() for t in found.track.t) < 0.1
    again = save_outing(attrs.evolve(load_outing(path)), tmp_path / "again.outing")
    assert np.array_equal(open_looked(again).track.t, found.track.t), "written once more, the same fixes are believed"
    assert np.array_equal(load_outing(again).accel, load_outing(path).accel), "the file keeps what came"
    noted(load_outing(path), path.name, "late", "Ada", at=round(found.figures.duration_s - 1.0))


def test_stamps_astray_are_in_no_picture() -> None:
    """The first an old one, one far ahead, one late: the outing is no longer, and no flight is looked up beside it."""
    given = stream()
    at = [i for i, r in enumerate(given) if r[0] == ACCEL]
    plain = looked(gone_through(given))
    for i, by in ((at[0], 7200.0), (at[3000], -500.0), (at[5000], 30.0)):
        given[i] = back(given[i], by)
    found = looked(gone_through(given))
    assert found.figures.duration_s == pytest.approx(plain.figures.duration_s, abs=0.05)
    assert len(found.outing.accel) == len(plain.outing.accel) - 3
    assert [f.pumps for f in found.figures.flights] == [f.pumps for f in plain.figures.flights]


@pytest.mark.parametrize("behind", [0.5, 2.0, 30.0])
def test_a_second_writer_that_is_behind_hides_nothing(behind: float) -> None:
    """After each row comes one of a while ago: what the engine took is looked up, and nothing else."""
    given = stream()
    plain = looked(gone_through(given))
    mixed = [one for r in given for one in ([r] if r[0] == FIX else [r, back(r, behind)])]
    found = looked(gone_through(mixed))
    assert np.array_equal(found.outing.accel, plain.outing.accel)
    assert found.figures.duration_s == plain.figures.duration_s
    assert [f.travel_m for f in found.figures.flights] == [f.travel_m for f in plain.figures.flights]


def test_what_goes_on_evenly_is_left_alone() -> None:
    kept = gone_through(stream())
    assert in_own_time(kept) is kept
    ended = gone_through([])
    assert in_own_time(ended) is ended
